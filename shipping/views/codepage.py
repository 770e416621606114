"""What a label opens on any phone: a stranger sees whom to call; crew see the thing and one next action."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path, re_path, reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST

from inventory import codes, ledger
from inventory.access import CREW, HOUSE, role_of
from inventory.answers.whereabouts import whereabouts
from inventory.codebook import find_labels, keep_unknown
from inventory.ledger import Fact, LedgerRefusal
from inventory.models import Grade, Item, Label, Place, PlaceKind, Role, ScanReceipt, Verb
from inventory.naming import code_in, item_named
from shipping import loading
from shipping.models import Leg
from shipping.nextsteps import next_step, on_show
from shipping.views.gate import Bearer, bearer_of, dock_page, pass_device


@login_not_required
@never_cache
@require_GET
def code_page(request: HttpRequest, code: str) -> HttpResponse:
    role, device = role_of(request.user), pass_device(request)
    text = code_in(code)[:40]
    if role not in HOUSE and device is None:
        return _if_found(request)
    label = find_labels([text]).get(text) if text.isprintable() else None
    item = label.item if label else None
    if item is not None and role == Role.STAFF:
        return redirect("item", label.code)
    reference = device.day_pass.reference if device else None
    if item is None:
        return _unknown(request, text, role, reference)
    if reference is not None and not on_show(item, reference):
        context = {"code": label.code, "places": _places(reference), "not_ours": False}
        return render(request, "shipping/code_unknown.html", context)
    return _known(request, label, item, reference, role)


def _if_found(request: HttpRequest) -> HttpResponse:
    """The same page for every code, issued or not: a stranger learns whom to call and nothing else."""
    owner = {"owner_name": settings.OWNER_NAME, "owner_phone": settings.OWNER_PHONE}
    return render(request, "shipping/if_found.html", owner)


def _known(request: HttpRequest, label: Label, item: Item, reference: str | None, role: str | None) -> HttpResponse:
    at = timezone.now()
    context = {
        "label": label, "item": item, "where": whereabouts(item, at), "step": next_step(item, at, reference),
        "result": _result(request), "is_account": role in CREW, "stores": _stores(role),
        "old_number": _old_number(request, item),
    }  # fmt: skip
    return render(request, "shipping/code.html", context)


def _stores(role: str | None) -> list[Place]:
    """Where an account may receive it; a pass counts off at the end of its leg instead."""
    return list(Place.objects.filter(kind=PlaceKind.STORE, is_ours=True)) if role in CREW else []


def _old_number(request: HttpRequest, item: Item) -> str:
    text = code_in(request.path.rstrip("/").rsplit("/", 1)[-1])
    return text if item.aliases.filter(number=text).exists() else ""


def _result(request: HttpRequest) -> ScanReceipt | None:
    try:
        return ScanReceipt.objects.filter(pk=UUID(request.GET.get("last", ""))).first()
    except ValueError:
        return None


def _unknown(request: HttpRequest, text: str, role: str | None, reference: str | None) -> HttpResponse:
    misread = len(text) == codes.LENGTH and not codes.is_whole(text)
    context = {
        "code": text, "misread": misread, "can_adopt": role == Role.KIT_MANAGER, "places": _places(reference),
        "not_ours": True, "can_find": role in CREW or reference is not None,
    }  # fmt: skip
    return render(request, "shipping/code_unknown.html", context, status=404)


def _places(reference: str | None) -> list[Place]:
    """Where a found thing may be: the show's own places for a pass, stores and venues for an account."""
    if reference is None:
        return list(Place.objects.filter(kind__in=[PlaceKind.STORE, PlaceKind.VENUE, PlaceKind.ROOM])[:200])
    ends = Leg.objects.filter(consignment__show__code=reference).values_list("from_place", "to_place")
    return list(Place.objects.filter(pk__in={pk for pair in ends for pk in pair}))


def _bearer(request: HttpRequest) -> tuple[Bearer, str]:
    """Who acts on this code, and under which show's code: a pass's, or none."""
    device = pass_device(request)
    reference = device.day_pass.reference if device else ""
    return bearer_of(request, reference), reference


def _label(code: str, bearer: Bearer, reference: str) -> Label:
    """The label, kept as unknown if nobody knows it. A pass reaches what is on its show, and what nobody knows."""
    text = code_in(code)[:40]
    label = find_labels([text]).get(text) or keep_unknown([text], timezone.now())[text]
    return label


@dock_page
@require_POST
def seen(request: HttpRequest, code: str) -> HttpResponse:
    """It is here, in front of me."""
    bearer, reference = _bearer(request)
    bearer.must(Verb.SEEN)
    label = _label(code, bearer, reference)
    fact = Fact(Verb.SEEN, label, grade=Grade.SCAN, reference=reference)
    ledger.record([fact], by=bearer.witness, at=timezone.now())
    messages.success(request, "Seen: kept with your name and the time.")
    return _back(label)


def _back(label: Label) -> HttpResponse:
    return redirect(reverse("code-page", args=[label.code]))


@dock_page
@require_POST
def found(request: HttpRequest, code: str) -> HttpResponse:
    """Found here: one tap, a place, and whatever one wants to add."""
    bearer, reference = _bearer(request)
    bearer.must(Verb.FOUND)
    allowed = {place.pk: place for place in _places(reference or None)}
    place = allowed.get(_number(request.POST.get("place")))
    label = _label(code, bearer, reference)
    if place is None:
        messages.error(request, "Say where it is: pick a place, then press again.")
        return _back(label)
    note, at = request.POST.get("note", "")[:400], timezone.now()
    loading.found_here(label.code, place, reference=reference, by=bearer.witness, at=at, note=note)
    messages.success(request, f"Found at {place}: kept. The kit manager sees it.")
    return _back(label)


@dock_page
@require_POST
def received(request: HttpRequest, code: str) -> HttpResponse:
    """It is back in a store of ours."""
    bearer, reference = _bearer(request)
    bearer.must(Verb.RECEIVED)
    label = _label(code, bearer, reference)
    place = Place.objects.filter(pk=_number(request.POST.get("place")), kind=PlaceKind.STORE).first()
    if place is None:
        messages.error(request, "Say which store it came to, then press again.")
        return _back(label)
    fact = Fact(Verb.RECEIVED, label, place=place, grade=Grade.SCAN, reference=reference)
    ledger.record([fact], by=bearer.witness, at=timezone.now())
    messages.success(request, f"Received at {place}.")
    return _back(label)


@dock_page
@require_POST
def count(request: HttpRequest, code: str) -> HttpResponse:
    """How many of a lot are here, counted."""
    bearer, reference = _bearer(request)
    bearer.must(Verb.COUNTED)
    label, number = _label(code, bearer, reference), request.POST.get("quantity", "")
    if not number.isdecimal() or int(number) > 1_000_000:
        messages.error(request, "Write how many you counted, as a whole number.")
        return _back(label)
    fact = Fact(Verb.COUNTED, label, quantity=int(number), reference=reference)
    ledger.record([fact], by=bearer.witness, at=timezone.now())
    messages.success(request, f"Counted: {number}.")
    return _back(label)


@dock_page
@require_POST
def adopt(request: HttpRequest, code: str) -> HttpResponse:
    """Bind a blank or unknown code to a thing; what was recorded of the code counts for the thing from then on."""
    bearer, reference = _bearer(request)
    if not bearer.is_kit:
        raise PermissionDenied("Only a kit manager adopts a code. Use found here.")
    label, item = _label(code, bearer, reference), item_named(request.POST.get("thing", ""))
    if item is None:
        messages.error(request, "No thing has this code, number or serial. Add it first, then adopt.")
        return _back(label)
    try:
        ledger.adopt(label, item, at=timezone.now())
        messages.success(request, f"{label.code} is on {item} from now on.")
    except LedgerRefusal as why:
        messages.error(request, str(why))
    return _back(label)


def _number(text: Any) -> int:
    return int(text) if isinstance(text, str) and text.isdecimal() and len(text) < 19 else 0


urlpatterns = [
    path("T/<str:code>/seen/", seen, name="code-seen"),
    path("T/<str:code>/found/", found, name="code-found"),
    path("T/<str:code>/received/", received, name="code-received"),
    path("T/<str:code>/count/", count, name="code-count"),
    path("T/<str:code>/adopt/", adopt, name="code-adopt"),
    re_path(r"^[Tt]/(?P<code>[^/]{1,80})/?$", code_page, name="code-page"),
]
