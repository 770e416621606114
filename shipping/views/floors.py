"""The floor plan of a leg's vehicle: drawn, with its record, and searched again when a lead asks for it."""

from __future__ import annotations

import time

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from inventory.access import KIT, allow
from inventory.models import ContainerType, Item, Kind
from shipping import decks
from shipping.forms.decks import DeckForm
from shipping.views.gate import dock_page
from shipping.views.loads import the_leg

SECONDS = 6.0


@dock_page
@require_safe
def floor(request: HttpRequest, pk: int) -> HttpResponse:
    leg, bearer = the_leg(request, pk)
    context = {"leg": leg, "bearer": bearer, "seconds": round(SECONDS)}
    try:
        page = decks.page_of(leg, timezone.now())
    except (decks.NoDeck, decks.NoPlan) as why:
        return render(request, "shipping/floor.html", {**context, "why_not": str(why)})
    return render(request, "shipping/floor.html", {**context, "page": page})


@dock_page
@require_POST
def floor_search(request: HttpRequest, pk: int) -> HttpResponse:
    leg, bearer = the_leg(request, pk)
    if not bearer.is_lead:
        raise PermissionDenied("Only a road lead or kit manager plans the floor. Show them this page.")
    end = time.monotonic() + SECONDS
    try:
        kept = decks.search(leg, lambda: max(0.0, end - time.monotonic()), by=bearer.witness.name, at=timezone.now())
        left = f" {kept.left} stay behind: see below." if kept.left else ""
        messages.success(request, f"Planned and kept; the truck load sheet prints it.{left}")
    except (decks.NoDeck, decks.NoPlan) as why:
        messages.error(request, str(why))
    return redirect("floor", pk)


@allow(*KIT)
def deck_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """The deck and axles of a vehicle's type. Back to the leg that asked, if one did."""
    vehicle = get_object_or_404(Item.objects.select_related("type__container"), pk=pk, type__kind=Kind.VEHICLE)
    held = getattr(vehicle.type, "container", None) or ContainerType(item_type=vehicle.type)
    form = DeckForm(request.POST or None, instance=held)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"Kept. Floor plans of {vehicle} reckon with it from now on.")
        leg = request.GET.get("leg", "")
        return redirect("floor", int(leg)) if leg.isdecimal() and len(leg) < 18 else redirect("deck-edit", pk)
    return render(
        request, "shipping/deck_form.html", {"vehicle": vehicle, "form": form}, status=422 if form.errors else 200
    )


urlpatterns = [
    path("vehicle/<int:pk>/deck/", deck_edit, name="deck-edit"),
    path("leg/<int:pk>/floor/", floor, name="floor"),
    path("leg/<int:pk>/floor/search/", floor_search, name="floor-search"),
]
