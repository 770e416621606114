"""Print labels: labels CODE... --medium M --output F."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from inventory import papers
from inventory.models import IssuedPaper
from inventory.registering import label_kind
from shipping.documents.forms import LABEL_KINDS, NoSuchPaper, drafts, find_item, form_of


class Command(BaseCommand):
    help = "Print the labels of cases, items, drives and cords, by code or number, into one PDF."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("codes", nargs="+", metavar="CODE", help="a code, or a number like HER-07")
        parser.add_argument("--medium", default="", help="100x150, 100x150-black, 62x29, 62x22, 90x24, a4, letter")
        parser.add_argument("--output", required=True, help="the PDF to write")
        parser.add_argument(
            "--kind", default="", choices=["", *LABEL_KINDS.values()], help="instead of the thing's own"
        )
        parser.add_argument("--copies", type=int, default=0, help="of each label (cases 2, else 1)")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            issued = self._issue(options)
        except NoSuchPaper as problem:
            raise CommandError(str(problem)) from problem
        copies = options["copies"] or form_of(issued[0].kind).copies
        Path(options["output"]).write_bytes(papers.sheet(issued, copies=copies))
        words = form_of(issued[0].kind).words
        self.stdout.write(f"{len(issued)} × {words}, {copies} of each, {issued[0].medium}: {options['output']}")

    def _issue(self, options: dict[str, Any]) -> list[IssuedPaper]:
        """Issue the label of each thing; all must be of one kind, since they share a roll or a sheet."""
        items = [find_item(code) for code in options["codes"]]
        kinds = {options["kind"] or LABEL_KINDS[label_kind(item.type)] for item in items}
        if len(kinds) > 1:
            raise NoSuchPaper(f"These need different labels ({', '.join(sorted(kinds))}). Print one kind at a time.")
        kind, at = kinds.pop(), timezone.now()
        made = drafts(kind, items, options["medium"], at)
        return [papers.issue(one, by="labels command", at=at) for one in made]
