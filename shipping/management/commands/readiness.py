"""manage.py readiness SYSTEM [--on DATE] [--at ISO-TIME] [--json]"""

from __future__ import annotations

from typing import Any

from django.core.management.base import CommandError, CommandParser

from inventory.answers.readiness import readiness
from inventory.answers.readiness_rows import Readiness
from inventory.management.answering import AnswerCommand, moment, not_found
from shipping.preparing import system_named


class Command(AnswerCommand):
    help = "Say whether a system is ready, why not, and the shortest path; without --on, for its next show."
    name = "readiness"

    def add_arguments(self, parser: CommandParser) -> None:
        super().add_arguments(parser)
        parser.add_argument("--on", metavar="DATE", help="The day it must hold out to, like 2026-03-20.")

    def handle(self, *args: Any, **options: Any) -> None:
        if not options["on"]:
            return super().handle(*args, **options)
        system = system_named(options["code"])
        if system is None:
            raise CommandError(not_found(options["code"], "system"))
        try:
            on, at = moment(options["on"]).date(), moment(options["at"])
        except ValueError as wrong:
            raise CommandError(str(wrong)) from wrong
        return self.say(readiness(system, on, at), options["json"])

    def lines(self, answer: Readiness) -> list[str]:
        path = [f"  {act.how_long:>10}  {act.sentence} ({act.who})" for act in answer.path]
        return [*super().lines(answer), *(["", answer.path_sentence, *path] if path else [])]
