"""manage.py floorplan FILE.json [--seconds N] [--json]"""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from shipping.management import searching
from shipping.packing.floor import telling
from shipping.packing.floor.planner import FloorPlanner
from shipping.packing.floor.reading import freight_of
from shipping.packing.planner.engines import Stop


class Command(BaseCommand):
    help = "Plan cases onto a deck, row by row from the headboard, from a floor file (docs/load-files.md)."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file")
        searching.add_options(parser)

    def handle(self, *args: Any, **options: Any) -> None:
        searching.check(options)
        freight = searching.read(options["file"], freight_of)
        plan = FloorPlanner(freight, searching.remaining(options["seconds"]), Stop(), seed=options["seed"]).run()
        searching.refuse_breaches(plan.breaches)
        as_data, as_lines = telling.as_data(freight, plan), telling.as_lines(freight, plan)
        self.stdout.write(searching.printed(as_data, as_lines, options))
