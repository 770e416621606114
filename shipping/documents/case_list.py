"""What is in a case: the list inside its lid with serials and values, and the copy outside without them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from inventory.models import Item
from inventory.papers import Draft, Form
from shipping.documents.around import Around
from shipping.documents.carried import one_case, volume_words
from shipping.documents.case_drawing import Rack, SlotWords, rack_of, slots_of
from shipping.documents.stowage import Stowed, hired_from, size_words, tail_of
from shipping.packing.freight import volume_cm3
from shipping.packing.money import by_currency

INSIDE = Form("case-list", "case list (inside the lid)", "case", ("a4", "letter"), values=True)
OUTSIDE = Form("case-list-outside", "case list (outside copy)", "case", ("a4", "letter"))
NICE_TO_HAVE = {"cover", "consumable", "tool", "other"}


@dataclass(frozen=True, slots=True)
class ListLine:
    key: str
    bay: str
    words: str
    code: str
    serial_tail: str
    quantity: int
    sure: str
    value: str
    owner: str
    depth: int
    remark: str
    shaded: bool


@dataclass(frozen=True, slots=True)
class CaseList:
    number: str
    name: str
    system: str
    colour: str
    code: str
    slots: tuple[SlotWords, ...]
    rack: Rack | None
    photo: str
    lines: tuple[ListLine, ...]
    pieces: int
    missing: int
    total: str
    unpriced: int
    gross: str
    size: str
    billed: str
    seal: str
    outside: bool


def _remark(row: Stowed) -> str:
    if not row.here:
        return "belongs here, not in it"
    return "" if row.expected else "does not belong here"


def money(value: Decimal | None, currency: str) -> str:
    return "" if value is None else f"{value:,.2f} {currency}".strip()


def list_line(row: Stowed, around: Around, *, outside: bool) -> ListLine:
    item = row.item
    value = item.type.replacement_value
    return ListLine(
        key=str(item.id), bay=row.bay, words=item.name or str(item.type), code=item.code,
        serial_tail="" if outside else tail_of(item), quantity=item.quantity,
        sure="" if outside else around.evidence.sure(item),
        value="" if outside or value is None else money(value * item.quantity, item.type.currency),
        owner=hired_from(item), depth=row.depth, remark=_remark(row), shaded=item.type.kind in NICE_TO_HAVE,
    )  # fmt: skip


def totals(worth: Sequence[tuple[Decimal | None, str]]) -> tuple[str, int]:
    """What the lines are worth together, by currency, and how many of them have no value entered."""
    words = " + ".join(money(value, currency) for currency, value in sorted(by_currency(worth).items()))
    return words, sum(value is None for value, _ in worth)


def _worth(row: Stowed) -> tuple[Decimal | None, str]:
    kind = row.item.type
    return None if kind.replacement_value is None else kind.replacement_value * row.item.quantity, kind.currency


def _size(case: Item) -> str:
    """Outer sides and volume; empty while a side is not measured."""
    sides = (case.type.length_mm, case.type.width_mm, case.type.height_mm)
    if None in sides:
        return ""
    long, wide, high = (side or 0 for side in sides)
    return f"{size_words(case)} cm, {volume_words(volume_cm3((long, wide, high)) / 1_000_000)}"


def _build(case: Item, medium: str, form: Form, around: Around) -> Draft:
    outside = form is OUTSIDE
    rows = around.rows(case, around.next_show(case))
    total, unpriced = ("", 0) if outside else totals([_worth(row) for row in rows])
    system, code = case.home_system, case.code
    number = case.number or code
    body = CaseList(
        number=number, name=case.name, system=system.name if system else "", colour=system.colour if system else "",
        code=code, slots=() if outside else slots_of(case, rows),
        rack=None if outside else rack_of(case, rows, around.balance_limit_pct),
        photo="" if outside else around.photo(case), seal=around.seal(case) if outside else "",
        lines=tuple(list_line(row, around, outside=outside) for row in rows),
        pieces=sum(row.item.quantity for row in rows),
        missing=sum(row.item.quantity for row in rows if not row.here), total=total, unpriced=unpriced,
        gross=around.gross(case, rows).words, size=_size(case), billed=one_case(case, around), outside=outside,
    )  # fmt: skip
    return Draft(form, medium, number, f"{form.words.capitalize()} {number}", body, item=case)


def build_inside(case: Item, medium: str, around: Around) -> Draft:
    return _build(case, medium, INSIDE, around)


def build_outside(case: Item, medium: str, around: Around) -> Draft:
    return _build(case, medium, OUTSIDE, around)
