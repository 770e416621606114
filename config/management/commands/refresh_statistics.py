"""manage.py refresh_statistics: bin/serve runs it at each start."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand
from django.db import connection

from config.sqlite.statistics import refresh


class Command(BaseCommand):
    help = "Have SQLite count how full its tables are, if they have doubled since it did. PostgreSQL does so by itself."
    requires_system_checks: list[str] = []

    def handle(self, *args: Any, **options: Any) -> None:
        done = refresh(connection)
        self.stdout.write("The tables were counted." if done else "There was nothing to count anew.")
