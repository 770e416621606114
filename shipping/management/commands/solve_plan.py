"""manage.py solve_plan RUN: the worker of one search. The packing desk starts it; it may be killed at any time."""

from __future__ import annotations

import os
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from shipping.models import PlanRun
from shipping.solving import Search


class Command(BaseCommand):
    help = "Search for a better plan: the worker that the packing desk starts. RUN is the id of its record."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("run")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            run = PlanRun.objects.select_related("show").filter(pk=options["run"], ended_at=None).first()
        except ValidationError:
            run = None
        if run is None:
            raise CommandError("No search with that id is waiting. Start one on the packing desk of a show.")
        os.nice(10)  # pages and scans go first
        Search(run, timezone.now).solve()
        self.stdout.write(f"{run} has ended.")
