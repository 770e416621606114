"""The trust page: the authority's certificate over plain http, and how each kind of phone takes it."""

from __future__ import annotations

from cryptography.hazmat.primitives.serialization import Encoding
from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from config.lan.addresses import plain_address, secure_address
from config.lan.authority import files_in, fingerprint, name_of, read
from config.lan.telling import in_lines
from inventory.labels import SIZES, qr_svg


def _host(request: HttpRequest) -> str:
    """The name by which this phone reached us: it will reach the other port by the same."""
    return request.get_host().rsplit(":", 1)[0]


@login_not_required
@never_cache
@require_GET
def trust(request: HttpRequest) -> HttpResponse:
    """Once per phone; open to strangers, since whoever reads it has no way in yet."""
    authority = read(files_in(settings.VAR_DIR).authority) if settings.LAN else None
    if authority is None:
        return render(request, "lan/trust.html", {"authority": None})
    host = _host(request)
    here = f"{plain_address(host, settings.LAN_PLAIN_PORT)}{request.path}"
    context = {
        "authority": authority, "name": name_of(authority),
        "fingerprint": in_lines(fingerprint(authority)), "until": authority.not_valid_after_utc,
        "here": here, "qr": qr_svg(here, SIZES["pass"]), "secure": secure_address(host, settings.LAN_TLS_PORT),
    }  # fmt: skip
    return render(request, "lan/trust.html", context)


@login_not_required
@never_cache
@require_GET
def certificate(request: HttpRequest) -> HttpResponse:
    """The authority's certificate in the form that phones offer to install; its key never leaves the machine."""
    authority = read(files_in(settings.VAR_DIR).authority) if settings.LAN else None
    if authority is None:
        raise Http404("This book is not served with an authority of its own. There is nothing to trust.")
    headers = {"Content-Disposition": 'attachment; filename="stowbook-authority.crt"'}
    return HttpResponse(authority.public_bytes(Encoding.DER), "application/x-x509-ca-cert", headers=headers)


urlpatterns = [
    path("trust/", trust, name="trust"),
    path("trust/stowbook-authority.crt", certificate, name="trust-certificate"),
]
