"""The scan page: a shell that a phone keeps, the worker that keeps it, and the token that its scans are sent under."""

from __future__ import annotations

import hashlib
import json
from datetime import datetime
from functools import lru_cache
from pathlib import Path

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.contrib.staticfiles import finders
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import render
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.urls import path, reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods

from inventory import passes
from inventory.access import COOKIE, CREW, device_of, role_of, witness_of
from inventory.models import Device, Entry
from shipping.views.gate import keep_token, phone_words

MODULES = Path(__file__).resolve().parent.parent / "static" / "shipping" / "scan"
FONTS = ("next-latin-400", "next-latin-700", "mono-latin-400", "mono-latin-700")
DECODER = ("zxing/glue/index.js", "zxing/reader/zxing_reader.wasm")


def kept_files() -> list[str]:
    """The static files that the page needs without a network, by their names in the sources."""
    files = [file for file in MODULES.rglob("*") if file.suffix in {".js", ".css"}]
    own = sorted(f"shipping/scan/{file.relative_to(MODULES).as_posix()}" for file in files)
    fonts = [f"fonts/{name.split('-')[0]}/atkinson-hyperlegible-{name}-normal.woff2" for name in FONTS]
    return [*own, "inventory/app.css", "inventory/icon.svg", *fonts, *DECODER]


@login_not_required
@require_GET
def scan(request: HttpRequest) -> HttpResponse:
    """The same shell for everybody: who scans, and for which show, is known to the phone alone."""
    return HttpResponse(_shell(), headers={"Cache-Control": "no-cache"})


def _shell() -> str:
    return render_to_string("shipping/scan.html", {"lan": settings.LAN})


def _version() -> str:
    digest = hashlib.sha256(_shell().encode())
    for name in kept_files():
        found = finders.find(name)
        digest.update(Path(found).read_bytes() if found else b"")
    return digest.hexdigest()[:16]


_version_once = lru_cache(maxsize=1)(_version)


@login_not_required
@require_GET
def worker(request: HttpRequest) -> HttpResponse:
    """Served from /scan/, so that by the browser's own rule it reaches no other page."""
    files = json.dumps([static(name) for name in kept_files()])
    context = {"version": _version() if settings.DEBUG else _version_once(), "shell": reverse("scan"), "files": files}
    response = render(request, "shipping/scan_worker.js", context, content_type="text/javascript")
    response["Cache-Control"] = "no-cache"
    return response


@login_not_required
@never_cache
@require_http_methods(["GET", "POST"])
def phone(request: HttpRequest) -> HttpResponse:
    """GET: the word that forms need, and the time. POST: the token for its scans, of a pass or a crew account."""
    at = timezone.now()
    if request.method == "GET":
        return JsonResponse({"csrf": get_token(request), "now": at.isoformat()})
    try:
        device, token = _phone_of(request, at)
    except passes.PassRefused as why:
        return JsonResponse({"error": str(why)}, status=403)
    response = JsonResponse(phone_words(device, token))
    keep_token(response, token)
    return response


def _phone_of(request: HttpRequest, at: datetime) -> tuple[Device, str]:
    """The browser's own phone while it has taken no step; after that a new one, whose steps begin at 1 again."""
    known = device_of(request)
    if role_of(request.user) in CREW:
        if known is not None and known.user_id == request.user.pk and not _has_steps(known):
            return known, request.COOKIES[COOKIE]
        return passes.join_as(request.user, witness_of(request).name, at=at)
    if known is None or known.day_pass is None:
        raise passes.PassRefused("Type the code of the day sheet.")
    if why := passes.why_not_in_force(known.day_pass, at):
        raise passes.PassRefused(f"{why} Ask the road lead for today's code.")
    if _has_steps(known) or COOKIE not in request.COOKIES:
        return passes.join(known.day_pass, known.name, at=at)
    return known, request.COOKIES[COOKIE]


def _has_steps(device: Device) -> bool:
    return Entry.objects.filter(device=device, device_seq__isnull=False).exists()


urlpatterns = [
    path("scan/", scan, name="scan"),
    path("scan/sw.js", worker, name="scan-worker"),
    path("scan/phone/", phone, name="scan-phone"),
]
