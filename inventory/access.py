"""Who may see and do what: roles of signed-in people, and passes of phones without an account."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.models import AbstractBaseUser, AnonymousUser
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse

from inventory.ledger import Witness
from inventory.models import Device, Role

COOKIE = "device"
HEADER = "X-Device-Token"
KIT = (Role.KIT_MANAGER,)
LEADS = (Role.KIT_MANAGER, Role.ROAD_LEAD)
CREW = (Role.KIT_MANAGER, Role.ROAD_LEAD, Role.CREW)
HOUSE = (Role.KIT_MANAGER, Role.ROAD_LEAD, Role.CREW, Role.STAFF)
ANYONE = (*HOUSE, Role.CLIENT)

View = Callable[..., HttpResponse]


def role_of(user: AbstractBaseUser | AnonymousUser | None) -> str | None:
    """The role of a signed-in person, or None. A superuser is kit manager."""
    if user is None or not user.is_authenticated:
        return None
    person = getattr(user, "person", None)
    if person is not None:
        return str(person.role)
    return Role.KIT_MANAGER if getattr(user, "is_superuser", False) else None


def token_hash(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def device_of(request: HttpRequest) -> Device | None:
    """The device whose token stands in the header, else in the cookie. Its pass may be over: callers ask."""
    token = request.headers.get(HEADER) or request.COOKIES.get(COOKIE)
    if not token:
        return None
    return Device.objects.select_related("day_pass", "user").filter(token_hash=token_hash(token)).first()


def _has_pass(request: HttpRequest) -> bool:
    """An account's own phone opens no page by itself: it only sends scans."""
    device = device_of(request)
    return device is not None and device.day_pass_id is not None


def allow(*roles: str, passes: bool = False) -> Callable[[View], View]:
    """Let these roles in; with `passes`, also a device whose pass is in force (the view checks its show)."""

    def decorate(view: View) -> View:
        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            role = role_of(request.user)
            if role in roles:
                return view(request, *args, **kwargs)
            if passes and role is None and _has_pass(request):
                return view(request, *args, **kwargs)
            if not request.user.is_authenticated:
                return redirect_to_login(request.get_full_path())
            raise PermissionDenied("Your role does not open this page. Ask the kit manager.")

        return login_not_required(guarded)

    return decorate


def witness_of(request: HttpRequest) -> Witness:
    """Who stands behind what this request records."""
    role = role_of(request.user)
    if role is not None and request.user.is_authenticated:
        person = getattr(request.user, "person", None)
        name = person.name if person else request.user.get_username()
        device = device_of(request)
        own = device if device is not None and device.user_id == request.user.pk else None
        return Witness(name=name, role=role, user=request.user, device=own)
    device = device_of(request)
    if device is None:
        raise PermissionDenied("Sign in, or open the pass of the show, then try again.")
    return Witness(name=device.name, role=Role.CREW, day_pass=device.day_pass, device=device)


def context(request: HttpRequest) -> dict[str, object]:
    """For every template: the role, so that a page offers only what will work."""
    user = getattr(request, "user", AnonymousUser())
    role = role_of(user)
    return {
        "role": role,
        "is_kit": role in KIT,
        "is_lead": role in LEADS,
        "is_house": role in HOUSE,
    }
