"""manage.py solve_plan RUN: the worker of one search, started by a page; it may be killed at any time."""

from __future__ import annotations

import os
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from shipping.deck_solving import DeckSearch
from shipping.models import PlanRun
from shipping.solving import Search


class Command(BaseCommand):
    help = "Search for a better plan: the worker that pages start. RUN is the id of its record."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("run")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            run = PlanRun.objects.select_related("show", "leg").filter(pk=options["run"], ended_at=None).first()
        except ValidationError:
            run = None
        if run is None:
            raise CommandError("No search with that id is waiting. Start one on a packing desk or a floor page.")
        os.nice(10)  # pages and scans go first
        (DeckSearch if run.leg_id else Search)(run, timezone.now).solve()
        self.stdout.write(f"{run} has ended.")
