"""The list a consignment crosses a border under, line by line, and what goes across at each crossing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from inventory.papers import Draft, Form, moment
from shipping.documents.around import Around
from shipping.documents.carried import carried, total_words
from shipping.documents.case_list import money, totals
from shipping.models import BorderLine, BorderList, Leg

if TYPE_CHECKING:
    from shipping.border import Crossing

FORM = Form("border-list", "border list", "border list", ("a4", "letter"), values=True)
NO_SERIAL = "NSN"  # "no serial number", as such lists have it; common practice


@dataclass(frozen=True, slots=True)
class Line:
    key: str
    line: int
    words: str
    serial: str
    pieces: int
    kg: str
    value: str
    origin: str
    case: str


@dataclass(frozen=True, slots=True)
class CrossingRow:
    """One border: which lines go, which stay. Office and voucher are written in by hand there."""

    key: str
    where: str
    when: str
    out: str
    stay: str
    unlisted: tuple[str, ...]
    carried: str


@dataclass(frozen=True, slots=True)
class PrintedList:
    number: str
    show: str
    valid_until: str
    issued: str
    lines: tuple[Line, ...]
    pieces: int
    kg: str
    not_weighed: int
    total: str
    not_valued: int
    crossings: tuple[CrossingRow, ...]


def spans(numbers: Iterable[int]) -> str:
    """Line numbers as customs lists have them: 1-4, 7, 9-12."""
    found: list[list[int]] = []
    for number in sorted(set(numbers)):
        if found and number == found[-1][1] + 1:
            found[-1][1] = number
        else:
            found.append([number, number])
    return ", ".join(str(first) if first == last else f"{first}-{last}" for first, last in found)


def _line(line: BorderLine) -> Line:
    return Line(
        key=str(line.pk), line=line.line, words=line.description, serial=line.serial or NO_SERIAL, pieces=line.pieces,
        kg="" if line.mass_kg is None else f"{line.mass_kg}", value=money(line.value, line.currency),
        origin=line.origin, case=str(line.case or ""),
    )  # fmt: skip


def _row(leg: Leg, told: Crossing, around: Around) -> CrossingRow:
    return CrossingRow(
        key=str(leg.pk), where=f"{leg.from_place} to {leg.to_place}", when=moment(leg.departs_at),
        out=spans(line.line for line in told.out) or "none", stay=spans(line.line for line in told.not_out) or "none",
        unlisted=tuple(f"{item.name or item.type} {item.serial}" for item in told.not_listed),
        carried=total_words(carried(leg, around)),
    )  # fmt: skip


def _legs(listed: BorderList) -> Iterable[Leg]:
    found = Leg.objects.filter(consignment__show=listed.show_id, crosses_border=True)
    related = found.select_related("consignment__show", "vehicle", "from_place", "to_place")
    return related.order_by("departs_at", "pk")


def build(listed: BorderList, medium: str, around: Around) -> Draft:
    # Here, since the rules behind a border list ask the papers whether the list in a lid is current.
    from shipping.border import crossing

    lines = list(listed.lines.select_related("case").order_by("line"))
    total, not_valued = totals([(line.value, line.currency) for line in lines])
    issued = f"{listed.issued_by}, {moment(listed.issued_at)}" if listed.issued_at else ""
    body = PrintedList(
        number=listed.number, show=str(listed.show), issued=issued,
        valid_until=f"{listed.valid_until:%d %b %Y}" if listed.valid_until else "",
        lines=tuple(_line(line) for line in lines), pieces=sum(line.pieces for line in lines),
        kg=f"{sum((line.mass_kg or Decimal(0) for line in lines), Decimal(0)):,.1f} kg",
        not_weighed=sum(line.mass_kg is None for line in lines), total=total, not_valued=not_valued,
        crossings=tuple(_row(leg, crossing(listed, leg), around) for leg in _legs(listed)),
    )  # fmt: skip
    title = f"Border list {listed.number}"
    return Draft(FORM, medium, f"list {listed.pk}", title, body, listed.show.code)
