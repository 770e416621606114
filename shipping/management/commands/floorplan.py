"""manage.py floorplan FILE.json [--seconds N] [--json]"""

from __future__ import annotations

import json
import time
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from shipping.management.commands.plan import read
from shipping.packing.floor import telling
from shipping.packing.floor.planner import FloorPlanner
from shipping.packing.floor.reading import freight_of
from shipping.packing.planner.engines import Stop


class Command(BaseCommand):
    help = "Plan cases onto a deck, row by row from the headboard, from a floor file (docs/load-files.md)."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file")
        parser.add_argument("--seconds", type=float, default=10.0, help="How long to look for a better plan.")
        parser.add_argument("--seed", type=int, default=0)
        parser.add_argument("--json", action="store_true", help="Print the plan and its record as data.")

    def handle(self, *args: Any, **options: Any) -> None:
        if not 0 < options["seconds"] <= 3600:
            raise CommandError("--seconds must be above 0 and at most 3600.")
        freight = read(options["file"], freight_of)
        end = time.monotonic() + options["seconds"]
        plan = FloorPlanner(freight, lambda: max(0.0, end - time.monotonic()), Stop(), seed=options["seed"]).run()
        if plan.breaches:
            raise CommandError("No plan passed the check: " + " ".join(plan.breaches))
        as_data, as_lines = telling.as_data(freight, plan), telling.as_lines(freight, plan)
        self.stdout.write(json.dumps(as_data, indent=1, ensure_ascii=False) if options["json"] else "\n".join(as_lines))
