"""A dry run with nothing in its way becomes the book, in one transaction or not at all."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Any

from django.db import IntegrityError, connection, transaction

from inventory import codes
from inventory.exchange.plan import Plan, plan_sheet
from inventory.exchange.writer import CommitRefused, Heard, Writer, nobody
from inventory.ledger import Witness
from inventory.models import ImportedSheet
from inventory.unchanged import is_still, mark

__all__ = ["CommitRefused", "commit", "insist"]


def commit(pk: int, *, by: Witness, at: datetime, heard: Heard = nobody) -> dict[str, Any]:
    """Write the sheet into the book. Raises CommitRefused, and then nothing has changed.

    `heard` is told how far it is; what it raises stops the writing, and nothing has changed either. A sheet is looked
    at, and its codes are drawn, before others have to wait for its writing, and again only if somebody wrote in
    between.
    """
    before = mark()
    looked_at = _looked_at(pk) if before is not None and connection.vendor == "sqlite" else None
    try:
        with transaction.atomic():
            sheet = ImportedSheet.objects.select_for_update().get(pk=pk)
            if sheet.committed_at:
                raise CommitRefused("This sheet is in the book already.")
            plan, drawn = looked_at if looked_at is not None and is_still(before) else (plan_sheet(sheet), None)
            insist(plan)
            outcome = Writer(plan, sheet, by, at, heard, drawn).write()
            sheet.committed_at, sheet.committed_by, sheet.outcome = at, by.name, outcome
            sheet.save(update_fields=["committed_at", "committed_by", "outcome"])
            return outcome
    except IntegrityError:
        raise CommitRefused("The book changed while this was being written. Look at the sheet again.") from None


def _looked_at(pk: int) -> tuple[Plan, Iterator[str] | None] | None:
    """A sheet that is not in yet, and codes for what it would bring."""
    sheet = ImportedSheet.objects.filter(pk=pk, committed_at=None).first()
    if sheet is None:
        return None
    plan = plan_sheet(sheet)
    return plan, codes.drawn_ahead(plan.count("add")) if plan.can_commit else None


def insist(plan: Plan) -> None:
    """Raise CommitRefused, with why, where something stands in the way of a plan."""
    if not plan.rows:
        raise CommitRefused("There is no row to import.")
    if not plan.can_commit:
        ways = [(len(plan.refused), "cell must change"), (len(plan.open_questions), "question is open")]
        said = " and ".join(_counted(number, words) for number, words in ways if number)
        raise CommitRefused(f"{said}. Settle this, or leave the rows out.")


def _counted(number: int, words: str) -> str:
    """`1 question is open`, `3 questions are open`."""
    noun, _, rest = words.partition(" ")
    return f"{number} {words}" if number == 1 else f"{number} {noun}s {rest.replace('is ', 'are ', 1)}"
