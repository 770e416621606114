"""The base of every command that answers: CODE, --at, --json, and the sentence when nothing is found.

    class Command(AnswerCommand):
        help = "Say where a thing is, how sure, and on what evidence."
        name = "whereabouts"

`--json` prints the same fields as the API (documented in DEVELOPERS.md): `answer`, `sentence`, `reasons`, and more.
"""

from __future__ import annotations

import json
from datetime import datetime
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone
from django.utils.dateparse import parse_date, parse_datetime

from inventory.answers import registry
from inventory.answers.nearest import nearest
from inventory.answers.values import plain


def moment(text: str | None) -> datetime:
    """Read an ISO time, or the end of an ISO day; without an offset it is local. Raises ValueError with a sentence."""
    if not text:
        return timezone.now()
    try:
        day = None if "T" in text or ":" in text else parse_date(text)
        found = (
            datetime(day.year, day.month, day.day, 23, 59, 59)
            if day
            else parse_datetime(text.replace(" ", "+") if "T" in text else text)
        )
    except ValueError:
        found = None
    if found is None:
        raise ValueError(f"“{text}” is no time. Write it like 2026-03-14T23:40 or 2026-03-14T23:40+01:00.")
    return timezone.make_aware(found) if timezone.is_naive(found) else found


def not_found(text: str, one: str) -> str:
    """The sentence for what is not there, with what may have been meant."""
    near = nearest(text)
    meant = f" Did you mean {' or '.join(near)}?" if near else " Check it against the label."
    return f"No {one} “{text}” is known.{meant}"


class AnswerCommand(BaseCommand):
    """Ask one answer of the registry by name. Exit 1 with a sentence when the subject is unknown."""

    name = ""
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("code", help="A code, number, serial or name.")
        parser.add_argument("--at", metavar="ISO-TIME", help="As it was then; without it, now.")
        parser.add_argument("--json", action="store_true", help="Print the whole answer with stable field names.")

    def handle(self, *args: Any, **options: Any) -> None:
        asked = registry.named(self.name)
        if asked is None:
            raise CommandError(f"The answer {self.name} is not registered.")
        try:
            at = moment(options["at"])
        except ValueError as wrong:
            raise CommandError(str(wrong)) from wrong
        subject = asked.find(options["code"])
        if subject is None:
            raise CommandError(not_found(options["code"], asked.one))
        self.say(asked.ask(subject, at), options["json"])

    def say(self, answer: Any, as_json: bool) -> None:
        if as_json:
            self.stdout.write(json.dumps(plain(answer), indent=2, ensure_ascii=False))
            return
        for line in self.lines(answer):
            self.stdout.write(line)

    def lines(self, answer: Any) -> list[str]:
        """The sentence, then each reason with its way out. Override to add a list."""
        return [answer.sentence, *(self.reason(one) for one in answer.reasons)]

    @staticmethod
    def reason(one: Any) -> str:
        return f"  - {one.sentence}" + (f" {one.way_out}" if one.way_out else "")


def local(at: datetime) -> str:
    """A time as the command line shows it: local, to the minute."""
    return f"{timezone.localtime(at):%Y-%m-%d %H:%M}"
