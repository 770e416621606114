"""Settings that would bite later, said at start with an id each."""

from __future__ import annotations

from collections.abc import Iterable
from urllib.parse import urlsplit

from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, Warning, register


@register(Tags.compatibility)
def public_url_is_whole(**kwargs: object) -> Iterable[CheckMessage]:
    parts = urlsplit(settings.PUBLIC_URL)
    if parts.scheme not in {"http", "https"} or not parts.netloc:
        yield Error(
            f"PUBLIC_URL={settings.PUBLIC_URL!r} is not a whole address.",
            hint="Labels carry it. Write it like https://gear.example.org, without a path.",
            id="config.E001",
        )
    elif parts.path:
        yield Error(
            f"PUBLIC_URL={settings.PUBLIC_URL!r} has a path.",
            hint="Label codes stay small only without one. Give the host alone.",
            id="config.E002",
        )


@register(Tags.compatibility)
def a_crew_network_keeps_its_plain_door(**kwargs: object) -> Iterable[CheckMessage]:
    if settings.LAN and (settings.SECURE_SSL_REDIRECT or settings.SECURE_HSTS_SECONDS):
        yield Error(
            "LAN and BEHIND_TLS are both on: phones that do not trust the certificate yet would find no page at all.",
            hint="Leave BEHIND_TLS out with bin/serve --lan, or serve behind a TLS proxy without --lan.",
            id="config.E003",
        )


@register(Tags.security, deploy=True)
def labels_do_not_point_at_localhost(**kwargs: object) -> Iterable[CheckMessage]:
    if urlsplit(settings.PUBLIC_URL).hostname in {"localhost", "127.0.0.1"}:
        yield Warning(
            "PUBLIC_URL points at this machine, so labels printed now open on no phone.",
            hint="Set PUBLIC_URL to the address that phones reach.",
            id="config.W001",
        )


@register(Tags.security, deploy=True)
def owner_can_be_called(**kwargs: object) -> Iterable[CheckMessage]:
    if not settings.OWNER_PHONE:
        yield Warning(
            "OWNER_PHONE is empty, so a stranger who finds a case has nobody to call.",
            hint="Set OWNER_NAME and OWNER_PHONE; they stand on labels and on the found page.",
            id="config.W002",
        )
