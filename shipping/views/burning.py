"""If this vehicle burns: only copies, what it costs new and what is insured of it, by vehicle and night."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.access import HOUSE, allow
from inventory.answers.burning import burning
from inventory.models import Item, Kind
from shipping.forms.burning import BurningForm
from shipping.insuring import in_force, insured
from shipping.nights import Night, night_at, planned_on


@require_safe
@allow(*HOUSE)
def if_it_burns(request: HttpRequest) -> HttpResponse:
    """Asked by address. A night that is over is told by the book; another as it stands now, with what is planned."""
    now = timezone.now()
    vehicles = Item.objects.in_stock().filter(type__kind=Kind.VEHICLE).select_related("type")
    form = BurningForm(request.GET or None, vehicles=vehicles, tonight=night_at(now).day)
    valid = form.is_valid()
    night = Night((valid and form.cleaned_data["night"]) or night_at(now).day)
    one = form.cleaned_data["vehicle"] if valid else None
    asked = [one] if one else list(vehicles.order_by("number", "name"))
    over = night.is_over(now)
    found = burning(asked, night.deepest if over else now, None if over else planned_on(asked, night, now))
    policies = in_force(night.day)
    vehicles_and_cover = [(told, insured(told.values, night.day, policies)) for told in found]
    context = {"form": form, "vehicles": vehicles_and_cover, "night": night, "over": over, "one": one, "at": now}
    context["tonight"] = night == night_at(now)
    return render(request, "shipping/burning.html", context, status=422 if form.errors else 200)


urlpatterns = [path("if-it-burns/", if_it_burns, name="if-it-burns")]
