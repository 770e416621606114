"""The floor plan of a leg's vehicle: drawn, with its record, and searched again when a lead asks for it."""

from __future__ import annotations

import time

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from shipping import decks
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


urlpatterns = [
    path("leg/<int:pk>/floor/", floor, name="floor"),
    path("leg/<int:pk>/floor/search/", floor_search, name="floor-search"),
]
