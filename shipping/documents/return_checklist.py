"""What should come back: the things people leave behind first, then case by case, twins by serial."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from inventory.models import Item, SystemPart
from inventory.papers import Draft, Form, moment
from shipping.documents.packing_list import travelling
from shipping.documents.stowage import Stowed, code_of, hired_from, stowed, tail_of
from shipping.models import Show

FORM = Form("return-checklist", "return checklist", "show", ("a4", "letter"), values=True)
CODES = "L left in place · H hired, back to its owner · C with client · D damaged · X lost · N not checked"


@dataclass(frozen=True, slots=True)
class ReturnLine:
    key: str
    words: str
    code: str
    serial: str
    quantity: int
    case: str
    owner: str
    twin: bool


@dataclass(frozen=True, slots=True)
class ReturnCase:
    key: str
    label: str
    colour: str
    lines: tuple[ReturnLine, ...]


@dataclass(frozen=True, slots=True)
class ReturnChecklist:
    show: str
    code: str
    due: str
    runaways: tuple[ReturnLine, ...]
    cases: tuple[ReturnCase, ...]
    pieces: int
    codes: str


def runaway_parts() -> tuple[set[int], set[int]]:
    """Types and exact items that some system marks as easily left behind."""
    parts = SystemPart.objects.filter(left_behind_prone=True)
    rows = list(parts.values_list("type_id", "item_id"))
    return {row[0] for row in rows if row[0]}, {row[1] for row in rows if row[1]}


def twin_types() -> set[int]:
    """Types that things of more than one system share, told apart by serial only."""
    rows = Item.objects.in_stock().filter(home_system__isnull=False).exclude(serial="")
    systems: dict[int, set[int]] = {}
    for type_id, system_id in rows.values_list("type_id", "home_system_id").distinct():
        systems.setdefault(type_id, set()).add(system_id)
    return {type_id for type_id, owners in systems.items() if len(owners) > 1}


def _line(row: Stowed, case: Item, twins: set[int]) -> ReturnLine:
    item = row.item
    twin = item.type_id in twins and item.type.kind != "drive"
    return ReturnLine(
        str(item.id), item.name or str(item.type), code_of(item), item.serial if twin else tail_of(item), item.quantity,
        str(case), hired_from(item), twin,
    )  # fmt: skip


def _by_hire(rows: Sequence[ReturnLine]) -> tuple[ReturnLine, ...]:
    """Hired things first: they cost by the day."""
    return tuple(sorted(rows, key=lambda line: not line.owner))


def build(show: Show, medium: str, at: datetime) -> Draft:
    trips, twins, (types, items) = travelling(show), twin_types(), runaway_parts()
    rows = stowed([trip.case for trip in trips], show)
    cases, runaways, pieces = [], [], 0
    for trip in trips:
        expected = [row for row in rows[trip.case_id] if row.expected or row.here]
        lines = [_line(row, trip.case, twins) for row in expected]
        runaways += [
            line for line, row in zip(lines, expected, strict=True) if row.item.type_id in types or row.item.id in items
        ]
        system = trip.case.home_system
        cases.append(ReturnCase(str(trip.case_id), str(trip.case), system.colour if system else "", _by_hire(lines)))
        pieces += sum(line.quantity for line in lines)
    body = ReturnChecklist(show.name, show.code, moment(show.back_at), _by_hire(runaways), tuple(cases), pieces, CODES)
    return Draft(FORM, medium, show.code, f"Return checklist {show.name}", body, show.code)
