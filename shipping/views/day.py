"""The list of the day for a phone, over the same token as its scans."""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.urls import path
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from inventory import passes
from inventory.access import CREW, device_of, role_of, witness_of
from inventory.models import Device
from shipping.daylist import day_list, shows_at
from shipping.models import Show


@login_not_required
@never_cache
@require_GET
def day(request: HttpRequest) -> HttpResponse:
    """A pass's show, or what an account's phone is useful for. 401 where nobody is known, or the pass is over."""
    at = timezone.now()
    device = device_of(request)
    if device is not None and device.day_pass is not None:
        return _of_pass(device, at)
    user = device.user if device is not None else request.user
    if role_of(user) not in CREW or not user.is_active:
        return JsonResponse({"error": "Join by the code of the day sheet, or sign in."}, status=401)
    name = device.name if device is not None else witness_of(request).name
    whose = {"name": name, "show": "", "show_name": "", "until": None, "verbs": None}
    return JsonResponse({**day_list(shows_at(at), at), "pass": whose, "person": name})


def _of_pass(device: Device, at: datetime) -> HttpResponse:
    row = device.day_pass
    if why := passes.why_not_in_force(row, at):
        return JsonResponse({"error": f"{why} Ask the road lead for today's code. Scans are safe."}, status=401)
    show = Show.objects.filter(code=row.reference).first()
    verbs = sorted(row.allowed_verbs | passes.ALWAYS)
    name = "" if show is None or show.discreet else show.name
    whose = {
        "name": row.reference, "show": row.reference, "show_name": name, "until": row.valid_until.isoformat(),
        "verbs": verbs,
    }  # fmt: skip
    return JsonResponse({**day_list([show] if show else [], at), "pass": whose, "person": device.name})


urlpatterns = [path("api/day/", day, name="day")]
