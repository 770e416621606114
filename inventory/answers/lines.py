"""Entries of any things as lines of the ledger: in words, and whether they still count."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from inventory.answers.history import sentence_of
from inventory.answers.loading import live
from inventory.models import Entry, Verb


@dataclass(frozen=True, slots=True)
class LedgerLine:
    """`thing` is what people call it, `code` the label that the entry names; both empty where it names none."""

    act: UUID
    at: datetime
    verb: str
    sentence: str
    thing: str
    code: str
    stated: bool
    voided_by: bool
    photo: str

    @property
    def may_be_taken_back(self) -> bool:
        return not self.voided_by and self.verb not in {Verb.CORRECTED, Verb.AMENDED}


def lines_of(rows: Sequence[Entry]) -> list[LedgerLine]:
    """In the order given. Two queries, whatever their number."""
    counting = set(live().filter(pk__in=[row.pk for row in rows]).values_list("pk", flat=True))
    undone = _undone({row.corrects for row in rows if row.corrects})
    return [
        LedgerLine(
            act=row.act,
            at=row.happened_at,
            verb=row.verb,
            sentence=_words(row, undone),
            thing=_thing(row),
            code=row.label.code if row.label else "",
            stated=row.stated,
            voided_by=row.pk not in counting and row.verb != Verb.CORRECTED,
            photo=row.photo_id or "",
        )
        for row in rows
    ]


def _thing(row: Entry) -> str:
    return str(row.label.item) if row.label and row.label.item else ""


def _undone(acts: set[UUID]) -> dict[UUID, Entry]:
    """One entry of each act that was taken back."""
    found = Entry.objects.filter(act__in=acts).select_related("place__item__type", "drive_set", "person", "label__item")
    return {row.act: row for row in found.order_by("-happened_at", "-id")} if acts else {}


def _words(row: Entry, undone: dict[UUID, Entry]) -> str:
    if row.verb != Verb.CORRECTED:
        return sentence_of(row)
    target = undone.get(row.corrects) if row.corrects else None
    what = f"“{_thing(target)} {sentence_of(target)}”" if target else "something that has not arrived yet"
    return f"{row.by} took back {what}" + (f": {row.note}" if row.note else "")
