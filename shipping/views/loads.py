"""The load of one leg, for hands in gloves: scan, undo, depart, arrive, and what goes wrong on the way."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from inventory.models import ScanReceipt, Verb
from shipping import boards, loading, spots
from shipping.boards import Phase
from shipping.forms.loads import BrokenForm, FoundForm, LeaveForm, SealForm
from shipping.models import Leg
from shipping.turns import When, in_its_turn, turns
from shipping.views.gate import Bearer, bearer_of, dock_page

FORMS = {"found": FoundForm, "broken": BrokenForm, "leave": LeaveForm, "seal": SealForm}


def the_leg(request: HttpRequest, pk: int) -> tuple[Leg, Bearer]:
    leg = get_object_or_404(boards.legs(), pk=pk)
    return leg, bearer_of(request, leg.consignment.show.code)


def _result(request: HttpRequest) -> ScanReceipt | None:
    """What the scan named in the address said; nothing for an id that never was."""
    try:
        return ScanReceipt.objects.filter(pk=UUID(request.GET.get("last", ""))).first()
    except ValueError:
        return None


def _page(request: HttpRequest, leg: Leg, bearer: Bearer, status: int = 200, **more: Any) -> HttpResponse:
    at = timezone.now()
    board = spots.with_spots(in_its_turn(boards.board(leg, at), at), at)
    reference = leg.consignment.show.code
    doing = loading.LOAD if board.phase == Phase.LOADING else loading.UNLOAD
    context = {
        "leg": leg, "board": board, "bearer": bearer, "doing": doing, "result": _result(request),
        "mine": loading.last_acts(bearer.witness, reference, at), "phase": board.phase,
        "may": {verb.name.lower(): bearer.may(verb) for verb in Verb}, **_forms(leg, request), **more,
    }  # fmt: skip
    return render(request, "shipping/load.html", context, status=status)


def _forms(leg: Leg, request: HttpRequest) -> dict[str, Any]:
    return {f"{name}_form": form(leg=leg, prefix=name) for name, form in FORMS.items()}


@dock_page
@require_GET
def load(request: HttpRequest, pk: int) -> HttpResponse:
    leg, bearer = the_leg(request, pk)
    return _page(request, leg, bearer)


@dock_page
@require_POST
def scan(request: HttpRequest, pk: int) -> HttpResponse:
    leg, bearer = the_leg(request, pk)
    doing = loading.UNLOAD if request.POST.get("doing") == loading.UNLOAD else loading.LOAD
    bearer.must(loading.step_of(leg, doing).verb)
    try:
        last = loading.scan(leg, request.POST.get("code", ""), doing, by=bearer.witness, at=timezone.now())
    except loading.LoadingRefused as why:
        return _page(request, leg, bearer, 422, scan_error=str(why))
    if request.POST.get("from") == "code-page":
        return redirect(f"{_code_page(last)}?last={last}")
    return redirect(f"{_address(leg)}?last={last}")


def _address(leg: Leg) -> str:
    return path_of("load", leg)


def path_of(name: str, leg: Leg) -> str:
    from django.urls import reverse

    return reverse(name, args=[leg.pk])


def _code_page(entry_id: UUID) -> str:
    from django.urls import reverse

    from inventory.models import Entry

    return reverse("code-page", args=[Entry.objects.select_related("label").get(pk=entry_id).label.code])


@dock_page
@require_POST
def undo(request: HttpRequest, pk: int) -> HttpResponse:
    leg, bearer = the_leg(request, pk)
    try:
        act = UUID(request.POST.get("act", ""))
        loading.undo(act, by=bearer.witness, reference=leg.consignment.show.code, at=timezone.now())
    except ValueError as why:  # also LoadingRefused
        messages.error(request, str(why) if isinstance(why, loading.LoadingRefused) else "There is no such act.")
    else:
        messages.success(request, "Taken back. Both the act and the undoing stay in the history.")
    return redirect("load", pk)


@dock_page
@require_POST
def depart(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask the rules and, while nothing stands in the way, let it leave."""
    leg, bearer = the_leg(request, pk)
    bearer.must(Verb.DEPARTED)
    reason = request.POST.get("without", "")
    try:
        loading.depart(leg, by=bearer.witness, at=timezone.now(), without=reason)
    except loading.Blocked as why:
        return _page(request, leg, bearer, 422, blocks=why.findings, why=reason)
    except loading.StillToGo as why:
        return _page(request, leg, bearer, 422, without=why)
    except loading.LoadingRefused as why:
        return _page(request, leg, bearer, 422, scan_error=str(why), why=reason)
    messages.success(request, "Departed. It is on the road now.")
    return redirect("load", pk)


@dock_page
@require_POST
def arrive(request: HttpRequest, pk: int) -> HttpResponse:
    leg, bearer = the_leg(request, pk)
    bearer.must(Verb.ARRIVED)
    try:
        loading.arrive(leg, by=bearer.witness, at=timezone.now())
    except loading.LoadingRefused as why:
        return _page(request, leg, bearer, 422, scan_error=str(why))
    messages.success(request, "Arrived. Count every case off before anybody signs.")
    return redirect("load", pk)


def _told(request: HttpRequest, pk: int, name: str, verb: str, done: str) -> HttpResponse:
    """One of the small forms: check it, record it, say it."""
    leg, bearer = the_leg(request, pk)
    bearer.must(verb)
    form = FORMS[name](request.POST, request.FILES, leg=leg, prefix=name)
    if not form.is_valid():
        return _page(request, leg, bearer, 422, **{f"{name}_form": form, "open": name})
    try:
        form.record(reference=leg.consignment.show.code, by=bearer.witness, at=timezone.now())
    except ValueError as why:  # a refusal with a sentence: a photo that is none, a code that is empty
        form.add_error(None, str(why))
        return _page(request, leg, bearer, 422, **{f"{name}_form": form, "open": name})
    messages.success(request, done)
    return redirect("load", pk)


@dock_page
@require_POST
def found(request: HttpRequest, pk: int) -> HttpResponse:
    return _told(request, pk, "found", Verb.FOUND, "Found here: kept. The kit manager sees it.")


@dock_page
@require_POST
def broken(request: HttpRequest, pk: int) -> HttpResponse:
    return _told(request, pk, "broken", Verb.FAULTED, "Fault kept. Tag it FAULTY and carry on.")


@dock_page
@require_POST
def leave(request: HttpRequest, pk: int) -> HttpResponse:
    return _told(request, pk, "leave", Verb.LEFT, "Left in place: kept, with whose promise it is.")


@dock_page
@require_POST
def seal(request: HttpRequest, pk: int) -> HttpResponse:
    return _told(request, pk, "seal", Verb.SEEN, "Seal number kept as read.")


@dock_page
@require_GET
def crew(request: HttpRequest) -> HttpResponse:
    """The legs to load or count: of the pass's show, or of every show that is out or about to be."""
    from inventory.access import device_of, role_of

    at = timezone.now()
    legs = boards.legs().filter(consignment__show__cancelled_at=None)
    if role_of(request.user) is None:
        device = device_of(request)
        bearer_of(request, device.day_pass.reference)
        legs = legs.filter(consignment__show__code=device.day_pass.reference)
    else:
        legs = legs.filter(consignment__show__back_at__gte=at)
    found = turns(legs, at)
    if not found and role_of(request.user) is None:
        raise PermissionDenied("No load is planned for this show yet. Ask the road lead.")
    return render(
        request, "shipping/crew.html", {when.value: [one for one in found if one.when == when] for when in When}
    )


urlpatterns = [
    path("crew/", crew, name="crew"),
    path("load/<int:pk>/", load, name="load"),
    path("load/<int:pk>/scan/", scan, name="load-scan"),
    path("load/<int:pk>/undo/", undo, name="load-undo"),
    path("load/<int:pk>/depart/", depart, name="load-depart"),
    path("load/<int:pk>/arrive/", arrive, name="load-arrive"),
    path("load/<int:pk>/found/", found, name="load-found"),
    path("load/<int:pk>/broken/", broken, name="load-broken"),
    path("load/<int:pk>/leave/", leave, name="load-leave"),
    path("load/<int:pk>/seal/", seal, name="load-seal"),
]
