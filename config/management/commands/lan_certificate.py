"""manage.py lan_certificate"""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand
from django.utils import timezone

from config.lan.addresses import hosts
from config.lan.authority import ensure, files_in
from config.lan.telling import told


class Command(BaseCommand):
    help = "Make, or renew where needed, the authority and the certificate for phones on this machine's own network."
    requires_system_checks: list[str] = []

    def handle(self, *args: Any, **options: Any) -> None:
        kept = ensure(files_in(settings.VAR_DIR), hosts(settings.ALLOWED_HOSTS), timezone.now())
        self.stdout.write(told(kept, settings.LAN_PLAIN_PORT, settings.LAN_TLS_PORT))
