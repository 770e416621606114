"""manage.py plan FILE.json | --show CODE [--seconds N] [--json] [--load]"""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from shipping.models import Show
from shipping.packing import telling
from shipping.packing.kept import as_load
from shipping.packing.planner.engines import Stop
from shipping.packing.planner.solver import Planner
from shipping.packing.reading import Unreadable, job_of
from shipping.packing.wanted import Job
from shipping.planning.desk import wanted
from shipping.planning.going import Question


class Command(BaseCommand):
    help = "Plan gear into cases and cases onto vehicles: of a load file (docs/load-files.md), or of a show."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", nargs="?")
        parser.add_argument("--show", metavar="CODE", help="Plan what is booked on this show instead of a file.")
        parser.add_argument("--load", action="store_true", help="Print the show as a load file, and plan nothing.")
        parser.add_argument("--seconds", type=float, default=10.0, help="How long to look for a better plan.")
        parser.add_argument("--seed", type=int, default=0)
        parser.add_argument("--json", action="store_true", help="Print the plan and its record as data.")

    def handle(self, *args: Any, **options: Any) -> None:
        if not 0 < options["seconds"] <= 3600:
            raise CommandError("--seconds must be above 0 and at most 3600.")
        if bool(options["file"]) == bool(options["show"]) or (options["load"] and not options["show"]):
            raise CommandError("Name one load file, or one show with --show CODE; --load goes with a show.")
        job = self.of_show(options["show"]) if options["show"] else read(options["file"], job_of)
        if options["load"]:
            self.stdout.write(json.dumps(as_load(job), indent=1, ensure_ascii=False))
            return
        end = time.monotonic() + options["seconds"]
        plan = Planner(job, lambda: max(0.0, end - time.monotonic()), Stop(), seed=options["seed"]).run()
        if plan.breaches:
            raise CommandError("No plan passed the check: " + " ".join(plan.breaches))
        as_data, as_lines = telling.as_data(job, plan), telling.as_lines(job, plan)
        self.stdout.write(json.dumps(as_data, indent=1, ensure_ascii=False) if options["json"] else "\n".join(as_lines))

    def of_show(self, code: str) -> Job:
        """The load of a show. What nobody has entered is named beside the plan, not in it."""
        show = Show.objects.filter(code__iexact=code).first()
        if show is None:
            raise CommandError(f"No show has the code {code}.")
        load = wanted(show, Question(), timezone.now())
        for line in (*(one.sentence for one in load.missing), *load.notes):
            self.stderr.write(line)
        if not load.job.gear or not load.job.shells:
            raise CommandError(f"Nothing is booked on {show} that could be packed. Book a system first.")
        return load.job


def read(name: str, reader: Any) -> Any:
    """The file through its reader; every reason against it is one sentence."""
    try:
        return reader(Path(name).read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as wrong:
        raise CommandError(f"{name} cannot be read as text: {wrong}.") from wrong
    except Unreadable as wrong:
        raise CommandError(str(wrong)) from wrong
