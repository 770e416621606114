"""manage.py plan FILE.json | --show CODE [--seconds N] [--json] [--load]"""

from __future__ import annotations

import json
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from shipping.management import searching
from shipping.models import Show
from shipping.packing import telling
from shipping.packing.geometry import judge_plan
from shipping.packing.kept import as_load
from shipping.packing.planner.engines import Stop
from shipping.packing.planner.solver import Planner
from shipping.packing.reading import job_of
from shipping.planning.desk import Wanted, wanted
from shipping.planning.foretold import breaches
from shipping.planning.going import Question


class Command(BaseCommand):
    help = "Plan gear into cases and cases onto vehicles: of a load file (docs/load-files.md), or of a show."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", nargs="?")
        parser.add_argument("--show", metavar="CODE", help="Plan what is booked on this show instead of a file.")
        parser.add_argument("--load", action="store_true", help="Print the show as a load file, and plan nothing.")
        searching.add_options(parser)

    def handle(self, *args: Any, **options: Any) -> None:
        searching.check(options)
        if bool(options["file"]) == bool(options["show"]) or (options["load"] and not options["show"]):
            raise CommandError("Name one load file, or one show with --show CODE; --load goes with a show.")
        load = self.of_show(options["show"]) if options["show"] else None
        job = load.job if load is not None else searching.read(options["file"], job_of)
        if options["load"]:
            self.stdout.write(json.dumps(as_load(job), indent=1, ensure_ascii=False))
            return
        check = (lambda _, plan: breaches(load, plan)) if load is not None else judge_plan
        plan = Planner(job, searching.remaining(options["seconds"]), Stop(), seed=options["seed"], check=check).run()
        searching.refuse_breaches(plan.breaches)
        as_data, as_lines = telling.as_data(job, plan), telling.as_lines(job, plan)
        self.stdout.write(searching.printed(as_data, as_lines, options))

    def of_show(self, code: str) -> Wanted:
        """The load of a show. What nobody has entered is named beside the plan, not in it."""
        show = Show.objects.filter(code__iexact=code).first()
        if show is None:
            raise CommandError(f"No show has the code {code}.")
        load = wanted(show, Question(), timezone.now())
        for line in (*(one.sentence for one in load.missing), *load.notes):
            self.stderr.write(line)
        if not load.job.gear or not load.job.shells:
            raise CommandError(f"Nothing is booked on {show} that could be packed. Book a system first.")
        return load
