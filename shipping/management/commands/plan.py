"""manage.py plan FILE.json [--seconds N] [--json]"""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from shipping.packing import telling
from shipping.packing.planner.engines import Stop
from shipping.packing.planner.solver import Planner
from shipping.packing.reading import Unreadable, job_of


class Command(BaseCommand):
    help = "Plan gear into cases and cases onto vehicles from a load file (docs/load-files.md)."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file")
        parser.add_argument("--seconds", type=float, default=10.0, help="How long to look for a better plan.")
        parser.add_argument("--seed", type=int, default=0)
        parser.add_argument("--json", action="store_true", help="Print the plan and its record as data.")

    def handle(self, *args: Any, **options: Any) -> None:
        if not 0 < options["seconds"] <= 3600:
            raise CommandError("--seconds must be above 0 and at most 3600.")
        job = read(options["file"], job_of)
        end = time.monotonic() + options["seconds"]
        plan = Planner(job, lambda: max(0.0, end - time.monotonic()), Stop(), seed=options["seed"]).run()
        if plan.breaches:
            raise CommandError("No plan passed the check: " + " ".join(plan.breaches))
        as_data, as_lines = telling.as_data(job, plan), telling.as_lines(job, plan)
        self.stdout.write(json.dumps(as_data, indent=1, ensure_ascii=False) if options["json"] else "\n".join(as_lines))


def read(name: str, reader: Any) -> Any:
    """The file through its reader; every reason against it is one sentence."""
    try:
        return reader(Path(name).read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as wrong:
        raise CommandError(f"{name} cannot be read as text: {wrong}.") from wrong
    except Unreadable as wrong:
        raise CommandError(str(wrong)) from wrong
