"""The dock view: how much is still to go on, what it weighs, which phones still hold scans, which stories differ."""

from __future__ import annotations

from datetime import datetime

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db.models import Q
from django.http import HttpRequest, HttpResponse, HttpResponseNotModified
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from inventory import accepting, clocks
from inventory.models import Device, Item, Place, SetAside
from shipping import boards, loading, spots, watching
from shipping.conflicts import conflicts
from shipping.models import Leg
from shipping.turns import in_its_turn
from shipping.views.gate import Bearer, dock_page
from shipping.views.loads import the_leg


def phones_for(reference: str) -> list[Device]:
    """Phones on the show's passes, and accounts' phones that recorded for it."""
    mine = Q(day_pass__reference=reference) | Q(user__isnull=False, entries__reference=reference)
    return list(Device.objects.filter(mine).distinct().order_by("name", "joined_at"))


def _seen(leg: Leg, bearer: Bearer, phones: list[Device], at: datetime) -> dict[str, object]:
    """All that the live part of the page shows."""
    reference = leg.consignment.show.code
    board = in_its_turn(boards.board(leg, at, watching.remembered_masses), at)
    board = spots.with_spots(board, at)
    board = boards.with_photos(board, at)
    return {
        "leg": leg, "board": board, "bearer": bearer, "at": at, "acts": watching.newest(reference, at),
        "conflicts": conflicts([face.item.pk for face in board.faces], at),
        "phones": clocks.phones_of(phones),
        "asides": accepting.in_words(accepting.waiting(reference)) if bearer.is_lead else [],
    }  # fmt: skip


@dock_page
@require_GET
def dock(request: HttpRequest, pk: int) -> HttpResponse:
    """The whole page. ?still keeps it as it is, for reading."""
    leg, bearer = the_leg(request, pk)
    phones = phones_for(leg.consignment.show.code)
    at = timezone.now()
    context = {**_seen(leg, bearer, phones, at), "still": request.GET.get("still") is not None}
    context["drawn"] = spots.drawn_of(leg, at)
    return render(request, "shipping/dock.html", context)


@dock_page
@require_GET
def now(request: HttpRequest, pk: int) -> HttpResponse:
    """The live part alone, asked for every second by an open page; 304 while it would read the same."""
    leg, bearer = the_leg(request, pk)
    at, phones = timezone.now(), phones_for(leg.consignment.show.code)
    told = [(one.pk, one.unsent, one.last_heard_at, one.offset_ms) for one in phones]
    mark = f'"{watching.stamp(leg, f"{bearer.witness.name} {bearer.witness.role}", told, at)}"'
    if request.headers.get("If-None-Match") == mark:
        response: HttpResponse = HttpResponseNotModified()
    else:
        response = render(request, "shipping/dock_now.html", _seen(leg, bearer, phones, at))
    response["ETag"], response["Cache-Control"] = mark, "private, no-cache"
    return response


def _lead(request: HttpRequest, pk: int) -> tuple[Leg, object]:
    leg, bearer = the_leg(request, pk)
    if not bearer.is_lead:
        raise PermissionDenied("Only a road lead or kit manager settles this. Show them this page.")
    return leg, bearer


@dock_page
@require_POST
def settle(request: HttpRequest, pk: int) -> HttpResponse:
    """One tap on a conflict card: somebody has looked where the case is."""
    leg, bearer = _lead(request, pk)
    item = get_object_or_404(Item, pk=request.POST.get("item") or 0)
    at = timezone.now()
    told = {story.place.pk for one in conflicts([item.pk], at) for story in (one.older, one.newer)}
    place = get_object_or_404(Place, pk=request.POST.get("place") or 0)
    if place.pk not in told:
        messages.error(request, f"{item} has no two stories any more. Nothing was recorded.")
    else:
        loading.settle_dispute(item, place, reference=leg.consignment.show.code, by=bearer.witness, at=at)
        messages.success(request, f"Settled. Both stories of {item} stay in its history.")
    return redirect("dock", pk)


@dock_page
@require_POST
def answer_aside(request: HttpRequest, pk: int, aside: int) -> HttpResponse:
    """Accept what was held, or note it as seen."""
    _, bearer = _lead(request, pk)
    row = get_object_or_404(SetAside, pk=aside)
    try:
        if request.POST.get("answer") == "accept":
            accepting.accept(row, by=bearer.witness, at=timezone.now())
            messages.success(request, "Accepted. It counts from the moment it happened.")
        else:
            accepting.decline(row, by=bearer.witness, at=timezone.now())
            messages.success(request, "Noted as seen. It stays kept.")
    except accepting.AcceptRefused as why:
        messages.error(request, str(why))
    return redirect("dock", pk)


urlpatterns = [
    path("dock/<int:pk>/", dock, name="dock"),
    path("dock/<int:pk>/now/", now, name="dock-now"),
    path("dock/<int:pk>/settle/", settle, name="dock-settle"),
    path("dock/<int:pk>/aside/<int:aside>/", answer_aside, name="dock-aside"),
]
