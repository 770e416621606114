"""What should come back: the things people leave behind first, then case by case, twins by serial."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.models import Item
from inventory.papers import Draft, Form, moment
from shipping.documents.around import Around, of_each
from shipping.documents.stowage import Stowed, code_of, hired_from, tail_of
from shipping.models import ConsignmentCase, Show

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


def runs_away(row: Stowed, around: Around) -> bool:
    """Is this a thing that some system marks as easily left behind?"""
    part = around.part(row.item)
    return bool(part and part.left_behind_prone)


def _line(row: Stowed, case: Item, around: Around) -> ReturnLine:
    item, twin = row.item, around.has_twin(row.item)
    serial = item.serial if twin else tail_of(item)
    name = item.name or str(item.type)
    return ReturnLine(str(item.id), name, code_of(item), serial, item.quantity, str(case), hired_from(item), twin)


def _by_hire(rows: Sequence[ReturnLine]) -> tuple[ReturnLine, ...]:
    """Hired things first: they cost by the day."""
    return tuple(sorted(rows, key=lambda line: not line.owner))


def _case(trip: ConsignmentCase, lines: Sequence[ReturnLine]) -> ReturnCase:
    system = trip.case.home_system
    return ReturnCase(str(trip.id), str(trip.case), system.colour if system else "", _by_hire(lines))


def build(show: Show, medium: str, around: Around) -> Draft:
    trips = around.trips(show)
    rows = [around.rows(trip.case, show) for trip in trips]
    lines = [[_line(row, trip.case, around) for row in held] for trip, held in zip(trips, rows, strict=True)]
    runaways = [
        line
        for held, written in zip(rows, lines, strict=True)
        for row, line in zip(held, written, strict=True)
        if runs_away(row, around)
    ]
    cases = tuple(_case(trip, written) for trip, written in zip(trips, lines, strict=True))
    body = ReturnChecklist(show.name, show.code, moment(show.back_at), _by_hire(runaways), cases, of_each(rows), CODES)
    return Draft(FORM, medium, show.code, f"Return checklist {show.name}", body, show.code)
