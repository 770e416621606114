"""Who stands at the dock: an account, or a phone on the pass of one show, and what it may do here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import wraps
from typing import Any

from django.conf import settings
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone

from inventory import passes
from inventory.access import COOKIE, CREW, allow, device_of, role_of, witness_of
from inventory.ledger import Witness
from inventory.models import Device, Role

View = Callable[..., HttpResponse]
COOKIE_AGE = 60 * 60 * 24 * 33  # a pass's longest, and the 30 days in which its scans are still taken


@dataclass(frozen=True, slots=True)
class Bearer:
    """`verbs` is what the pass covers; None for an account."""

    witness: Witness
    verbs: frozenset[str] | None = None

    @property
    def is_lead(self) -> bool:
        return self.witness.role in (Role.KIT_MANAGER, Role.ROAD_LEAD)

    @property
    def is_kit(self) -> bool:
        return self.witness.role == Role.KIT_MANAGER

    def may(self, *verbs: str) -> bool:
        return self.verbs is None or self.verbs.issuperset(verbs)

    def must(self, verb: str) -> None:
        if not self.may(verb):
            raise PermissionDenied(f"This pass does not cover: {verb}. Nothing was recorded; ask the road lead.")


def dock_page(view: View) -> View:
    """For crew accounts and passes. An account's browser becomes a phone of its own, so that it can undo its acts."""

    @wraps(view)
    def page(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        response = view(request, *args, **kwargs)
        token = getattr(request, "fresh_token", "")
        if token:
            keep_token(response, token)
        return response

    return allow(*CREW, passes=True)(page)


def phone_words(device: Device, token: str) -> dict[str, object]:
    """For a page that sends scans by itself: the token for its header, and what its pass covers, if it has one."""
    row = device.day_pass
    return {
        "device": str(device.pk), "token": token, "name": device.name, "reference": row.reference if row else "",
        "verbs": sorted(row.allowed_verbs) if row else None,
        "valid_until": row.valid_until.isoformat() if row else None,
    }  # fmt: skip


def keep_token(response: HttpResponse, token: str) -> None:
    response.set_cookie(
        COOKIE, token, max_age=COOKIE_AGE, httponly=True, samesite="Lax", secure=settings.SESSION_COOKIE_SECURE
    )


def bearer_of(request: HttpRequest, reference: str) -> Bearer:
    """Who asks, for a page of this show. A pass of another show finds nothing here; one that is over is told so."""
    at = timezone.now()
    if role_of(request.user) is not None:
        return Bearer(_with_own_phone(request, at))
    device = device_of(request)
    day_pass = device.day_pass if device else None
    if day_pass is None:
        raise PermissionDenied("Sign in, or open the pass of the show, then try again.")
    if why := passes.why_not_in_force(day_pass, at):
        raise PermissionDenied(f"{why} What was scanned is safe. Ask the road lead for today's code.")
    if day_pass.reference != reference:
        raise Http404("This is not on the show of your pass.")
    witness = Witness(name=device.name, role=Role.CREW, day_pass=day_pass, device=device)
    return Bearer(witness, frozenset(day_pass.allowed_verbs | passes.ALWAYS))


def _with_own_phone(request: HttpRequest, at: datetime) -> Witness:
    witness = witness_of(request)
    if witness.device is not None or request.method != "POST":
        return witness
    device, token = passes.join_as(request.user, witness.name, at=at)
    request.fresh_token = token
    return Witness(witness.name, witness.role, user=witness.user, device=device)


def pass_device(request: HttpRequest) -> Device | None:
    """The phone of a pass in force, for pages that a stranger opens too."""
    device = device_of(request) if role_of(request.user) is None else None
    day_pass = device.day_pass if device else None
    if day_pass is None or passes.why_not_in_force(day_pass, timezone.now()):
        return None
    return device
