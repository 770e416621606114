"""manage.py write_sheet SHEET: puts a long gear sheet into the book; its page starts it, and it may be killed."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection
from django.utils import timezone

from config.sqlite.statistics import refresh
from inventory.exchange import writing
from inventory.exchange.commit import CommitRefused


class Command(BaseCommand):
    help = "Put a long gear sheet into the book: the process that its page starts. SHEET is its number."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("sheet", type=int)

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            ending = writing.write(options["sheet"], timezone.now)
        except CommitRefused as refusal:
            raise CommandError(str(refusal)) from None
        if not ending:
            refresh(connection)
        self.stdout.write(f"Sheet {options['sheet']}: {ending or 'in the book'}.")
