"""manage.py audit_ledger [--mend] [--json]"""

from __future__ import annotations

from typing import Any

from django.core.management.base import CommandParser

from inventory.answers.audit import audit
from inventory.management.answering import AnswerCommand


class Command(AnswerCommand):
    help = (
        "Compare the stored places with the entries they follow from, and list what does not fit. Exit 1 if any differ."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--mend", action="store_true", help="Also compute every stored place anew.")
        parser.add_argument("--json", action="store_true", help="Print the whole answer with stable field names.")

    def handle(self, *args: Any, **options: Any) -> None:
        found = audit(mend=options["mend"])
        self.say(found, options["json"])
        if found.answer == "differs":
            raise SystemExit(1)
