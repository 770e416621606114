"""Lists as tables for a spreadsheet: a border list line by line, what is in a case, what goes to a show."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from inventory.exchange.out import CSV, csv_bytes, xlsx_bytes
from inventory.models import Item
from shipping.documents.around import Around
from shipping.documents.border_list import NO_SERIAL
from shipping.documents.stowage import Stowed, hired_from
from shipping.models import BorderList, Show

Row = Sequence[Any]
BORDER_HEADING = (
    "line", "description", "serial", "pieces", "mass kg", "value", "currency", "origin", "case", "owner", "list",
    "issued", "valid until",
)  # fmt: skip
CASE_HEADING = (
    "case", "system", "slot", "code", "name", "maker", "model", "serial", "pieces", "mass kg", "value", "currency",
    "owner", "here", "expected", "how sure",
)  # fmt: skip


def table(name: str, rows: Iterable[Row], form: str) -> bytes:
    """The rows as CSV or XLSX; text that a spreadsheet would run is guarded."""
    return csv_bytes(rows) if form == CSV else xlsx_bytes([(name, rows)])


def border_rows(listed: BorderList) -> list[Row]:
    """One row for each line, numbered as on the list; mass in kg, value in the line's own currency."""
    lines = listed.lines.select_related("item__owner", "case").order_by("line")
    said = (listed.number, listed.issued_at, listed.valid_until)
    return [BORDER_HEADING] + [
        (
            line.line, line.description, line.serial or NO_SERIAL, line.pieces, line.mass_kg, line.value, line.currency,
            line.origin, str(line.case or ""), str(line.item.owner) if line.item else "", *said,
        )
        for line in lines
    ]  # fmt: skip


def _case_row(case: Item, row: Stowed, around: Around) -> Row:
    item, kind = row.item, row.item.type
    mass = None if kind.mass_kg is None else kind.mass_kg * item.quantity
    worth = None if kind.replacement_value is None else kind.replacement_value * item.quantity
    return (
        str(case), str(case.home_system or ""), row.bay, item.code, item.name, kind.maker, kind.name, item.serial,
        item.quantity, mass, worth, kind.currency, hired_from(item) or "ours", row.here, row.expected,
        around.evidence.sure(item),
    )  # fmt: skip


def case_rows(case: Item, at: datetime) -> list[Row]:
    """What is in a case and what should be, as its list in the lid says it."""
    around = Around([case], at)
    return [CASE_HEADING] + [_case_row(case, row, around) for row in around.rows(case, around.next_show(case))]


def show_rows(show: Show, at: datetime) -> list[Row]:
    """What goes to a show, case by case in the order of its consignments."""
    around = Around([show], at)
    cases = dict.fromkeys(trip.case for trip in around.trips(show))
    return [CASE_HEADING] + [_case_row(case, row, around) for case in cases for row in around.rows(case, show)]
