"""If this vehicle burns: value and only copies, vehicle by vehicle."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.access import HOUSE, allow
from inventory.answers.burning import burning
from inventory.models import Item, Kind


@require_safe
@allow(*HOUSE)
def if_it_burns(request: HttpRequest) -> HttpResponse:
    """Every vehicle with something in it, as it stands now."""
    at = timezone.now()
    vehicles = Item.objects.in_stock().filter(type__kind=Kind.VEHICLE).select_related("type", "holding__place")
    found = burning(list(vehicles.order_by("number", "name")), at)
    return render(request, "inventory/burning.html", {"vehicles": found, "at": at})


urlpatterns = [path("if-it-burns/", if_it_burns, name="if-it-burns")]
