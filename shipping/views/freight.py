"""A leg as freight: what it is billed as, what may refuse a case, what to ask about batteries; and the figures used."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path
from django.utils import timezone

from inventory.access import HOUSE, KIT, allow, witness_of
from shipping import carriers
from shipping.boards import departure_day
from shipping.forms.freight import FigureForm
from shipping.freighting import freight_of
from shipping.models import Leg
from shipping.packing.battery_questions import CAUTION as BATTERY_CAUTION
from shipping.packing.battery_questions import SOURCE as BATTERY_SOURCE
from shipping.packing.freight import CAUTION
from shipping.planning import LEG_WORDS
from shipping.planning.wholes import limits_on


def leg_at(pk: int) -> Leg:
    return get_object_or_404(Leg.objects.select_related(*LEG_WORDS), pk=pk)


@allow(*HOUSE)
def freight(request: HttpRequest, pk: int) -> HttpResponse:
    sheet = freight_of(leg_at(pk), timezone.now())
    cautions = {"caution": CAUTION, "battery_caution": BATTERY_CAUTION, "battery_source": BATTERY_SOURCE}
    return render(request, "shipping/freight.html", {"sheet": sheet, "leg": sheet.leg, "bill": sheet.bill, **cautions})


@allow(*KIT)
def freight_figure(request: HttpRequest, pk: int, name: str) -> HttpResponse:
    """Enter one figure of the leg's carrier from a day on; the page also lists the earlier ones."""
    leg, today = leg_at(pk), timezone.localdate()
    day = departure_day(leg, None, timezone.now())
    found = carriers.standing(leg, day, limits_on(day)).get(name)
    if found is None:
        raise Http404("A leg of this kind has no such figure.")
    form = FigureForm(request.POST or None, name=name, initial={"valid_from": today, "every_carrier": not leg.carrier})
    if request.method == "POST" and form.is_valid():
        given = {"currency": "", **form.cleaned_data}
        try:
            row = carriers.enter(leg, name, by=witness_of(request), at=timezone.now(), **given)
        except carriers.FigureRefusal as no:
            form.add_error(None, str(no))
        else:
            messages.success(request, f"From {row.valid_from:%-d %B %Y}: {row.value.normalize():f}.")
            return redirect("freight", pk)
    context = {"leg": leg, "standing": found, "form": form, "rows": carriers.history(leg, name), "day": day}
    return render(request, "shipping/freight_figure.html", context, status=422 if form.errors else 200)


urlpatterns = [
    path("freight/<int:pk>/", freight, name="freight"),
    path("freight/<int:pk>/<slug:name>/", freight_figure, name="freight-figure"),
]
