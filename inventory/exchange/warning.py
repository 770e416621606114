"""Things in a sheet that are not wrong but worth a look: never rejected, never rewritten."""

from __future__ import annotations

import unicodedata
from collections import Counter
from typing import TYPE_CHECKING

from inventory.exchange.known import Known
from inventory.exchange.notices import Notices
from inventory.folding import fold, fold_confusable
from inventory.models import Kind

if TYPE_CHECKING:
    from inventory.exchange.plan import RowPlan


def warn(rows: list[RowPlan], known: Known, notices: Notices) -> None:
    _short_serials(rows, notices)
    _alike_serials(rows, known, notices)
    _other_alphabets(rows, notices)
    _bays(rows, notices)
    _membership(rows, known, notices)
    _new_numbers(rows, known, notices)
    _retired(rows, notices)


def _short_serials(rows: list[RowPlan], notices: Notices) -> None:
    """A serial of digits that is shorter than its siblings, which begin with zeros: did it lose its own?"""
    groups: dict[str, list[RowPlan]] = {}
    for row in rows:
        if row.line.serial.isdigit():
            groups.setdefault(row.type.key, []).append(row)
    for group in groups.values():
        usual = Counter(len(row.line.serial) for row in group if row.line.serial.startswith("0")).most_common(1)
        for row in group if usual else []:
            if len(row.line.serial) < usual[0][0]:
                notices.remark(
                    row.line.spot("serial"),
                    f"{row.line.serial} is shorter than its siblings, which begin with 0. Was a zero in front lost?",
                )


def _alike_serials(rows: list[RowPlan], known: Known, notices: Notices) -> None:
    """Two serials that a tired eye would take for one (Unicode UTS #39's idea; pairs from memory)."""
    seen: dict[tuple[str, str], str] = {
        (fold(item.type.maker), item.serial_skeleton): item.serial for item in known.items.values() if item.serial
    }
    for row in rows:
        serial = row.line.serial
        if not serial:
            continue
        key = (fold(row.line.text("maker")), fold_confusable(serial))
        other = seen.setdefault(key, serial)
        if fold(other) != fold(serial):
            notices.remark(
                row.line.spot("serial"),
                f"{serial} is easily misread as {other}, which exists too. Look at both plates.",
            )


def _other_alphabets(rows: list[RowPlan], notices: Notices) -> None:
    for row in rows:
        odd = [c for c in row.line.serial if c.isalpha() and not unicodedata.name(c, "").startswith("LATIN")]
        if odd:
            notices.remark(
                row.line.spot("serial"), f"\u201c{odd[0]}\u201d is a letter of another alphabet. It is kept as written."
            )


def _bays(rows: list[RowPlan], notices: Notices) -> None:
    """One bay of a set takes one drive."""
    first: dict[tuple[str, str], RowPlan] = {}
    for row in rows:
        bay = row.line.text("bay")
        if not row.drive_set or not bay or row.type.kind != Kind.DRIVE:
            continue
        key = (fold(row.drive_set), bay)
        if key in first:
            notices.refuse(
                row.line.spot("bay"),
                f"{row.drive_set} has bay {bay} in row {first[key].line.row + 1} already. Clear the bay of the spare.",
            )
        first.setdefault(key, row)


def _membership(rows: list[RowPlan], known: Known, notices: Notices) -> None:
    """The ledger knows better than a sheet who is in a set: say where they differ, change nothing."""
    for row in rows:
        if row.item is None or not row.drive_set or row.item.pk not in known.joined:
            continue
        member = known.joined[row.item.pk]
        one_set = known.sets.get(fold(row.drive_set))
        stands = (one_set.pk if one_set else None, row.line.text("bay"))
        if member is None or member[0] != stands[0] or (stands[1] and member[1] != stands[1]):
            notices.remark(
                row.line.spot("bay"),
                f"The ledger knows another set or bay for {row.item}; it stands. Change it on the page of the set.",
            )


def _new_numbers(rows: list[RowPlan], known: Known, notices: Notices) -> None:
    for row in rows:
        if "number" in row.changes and fold(row.line.text("number")) in known.aliases:
            row.changes.pop("number")
            row.fields.pop("number")
            notices.remark(
                row.line.spot("number"), f"{row.line.text('number')} is now called {row.item}. The new number stays."
            )


def _retired(rows: list[RowPlan], notices: Notices) -> None:
    """A sheet does not bring back what was written off."""
    for row in rows:
        if row.item is not None and row.item.retired_at is not None:
            notices.remark(
                row.line.spot("model"),
                f"The book has {row.item} as gone since {row.item.retired_at:%Y-%m-%d}. It stays gone.",
            )
