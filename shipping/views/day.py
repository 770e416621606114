"""The list of the day for a phone, over the same token as its scans."""

from __future__ import annotations

import hashlib
import json
from datetime import datetime

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, HttpResponseNotModified, JsonResponse
from django.urls import path
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt

from inventory import passes
from inventory.access import CREW, device_of, role_of, witness_of
from inventory.models import Device
from shipping.daylist import Row, day_list, shows_at
from shipping.models import Show


@csrf_exempt
@login_not_required
@never_cache
def day(request: HttpRequest) -> HttpResponse:
    """A pass's show, or what an account's phone is useful for. 401 where nobody is known, or the pass is over.

    304 where the phone has this very list already; the server's clock comes along in a header all the same.
    """
    if request.method not in {"GET", "HEAD"}:
        return JsonResponse({"error": "Ask for the list by GET."}, status=405, headers={"Allow": "GET, HEAD"})
    at = timezone.now()
    told = _told(request, at)
    if isinstance(told, str):
        return JsonResponse({"error": told}, status=401)
    mark = f'"{_digest(told)}"'
    headers = {"ETag": mark, "X-Made-At": at.isoformat()}
    if mark in [each.strip() for each in request.headers.get("If-None-Match", "").split(",")]:
        return HttpResponseNotModified(headers=headers)
    return JsonResponse({**told, "digest": mark.strip('"')}, headers=headers)


def _digest(told: Row) -> str:
    """Of all that the list says, save when it was made."""
    body = json.dumps({**told, "made_at": ""}, sort_keys=True, default=str)
    return hashlib.sha256(body.encode()).hexdigest()[:32]


def _told(request: HttpRequest, at: datetime) -> Row | str:
    """The list, or a sentence why there is none for this phone."""
    device = device_of(request)
    if device is not None and device.day_pass is not None:
        return _of_pass(device, at)
    user = device.user if device is not None else request.user
    if role_of(user) not in CREW or not user.is_active:
        return "Join by the code of the day sheet, or sign in."
    name = device.name if device is not None else witness_of(request).name
    whose = {"name": name, "show": "", "show_name": "", "until": None, "verbs": None}
    return {**day_list(shows_at(at), at), "pass": whose, "person": name}


def _of_pass(device: Device, at: datetime) -> Row | str:
    row = device.day_pass
    if why := passes.why_not_in_force(row, at):
        return f"{why} Ask the road lead for today's code. Scans are safe."
    show = Show.objects.filter(code=row.reference).first()
    verbs = sorted(row.allowed_verbs | passes.ALWAYS)
    name = "" if show is None or show.discreet else show.name
    whose = {
        "name": row.reference, "show": row.reference, "show_name": name, "until": row.valid_until.isoformat(),
        "verbs": verbs,
    }  # fmt: skip
    return {**day_list([show] if show else [], at), "pass": whose, "person": device.name}


urlpatterns = [path("api/day/", day, name="day")]
