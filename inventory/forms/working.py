"""One answer to one unknown of the work list, written as people write it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from decimal import Decimal
from typing import Any

from inventory import ledger
from inventory.answers.unknown import Gap
from inventory.exchange.cells import KILOGRAMS, MILLIMETRES, amount_of, three_lengths, yes_or_no
from inventory.exchange.days import day_of
from inventory.exchange.kinds import kind_of
from inventory.exchange.raw import text_cell
from inventory.folding import fold
from inventory.ledger import Witness
from inventory.models import ContainerType, Item, ItemType, Kind, WorkListNote


class NotRead(ValueError):
    """The answer could not be read. Carries a sentence that says how to write it."""


def settle(gap: Gap, pk: int, text: str, *, by: Witness, at: datetime) -> str:
    """Write one answer down; return a sentence about what is known now."""
    if gap.asks == "done":
        WorkListNote.objects.filter(pk=pk).delete()
        return "Dealt with."
    values = _READ[gap.asks](gap.field, text)
    if gap.of_type:
        return _settle_type(gap, ItemType.objects.get(pk=pk), values)
    item = Item.objects.select_related("type").get(pk=pk)
    ledger.amend(item, "from the work list", by=by, at=at, **values)
    return f"{item}: {gap.label.lower()} {text}."


def _settle_type(gap: Gap, item_type: ItemType, values: dict[str, Any]) -> str:
    row: Any = item_type
    if gap.field == "max_gross_kg":
        row = ContainerType.objects.get(item_type=item_type)
    for name, value in values.items():
        setattr(row, name, value)
    row.save()
    if gap.field == "mass_kg" and item_type.kind == Kind.CASE:
        ContainerType.objects.filter(item_type=item_type, tare_kg=None).update(tare_kg=values["mass_kg"])
    return f"{item_type}: {gap.label.lower()} is known now."


def _mass(field: str, text: str) -> dict[str, Any]:
    amount = amount_of(text_cell(text))
    value = amount.read(".") if amount else None
    if amount is None or value is None or value <= 0 or (amount.unit or "kg") not in KILOGRAMS:
        raise NotRead("Write a mass such as 4.2 kg or 9 lb.")
    return {field: (value * KILOGRAMS[amount.unit or "kg"]).quantize(Decimal("0.001"))}


def _size(field: str, text: str) -> dict[str, Any]:
    found = three_lengths(text)
    amounts = [amount_of(text_cell(part)) for part in found[0]] if found else []
    if not found or any(one is None for one in amounts):
        raise NotRead("Write length x width x height, such as 800 x 600 x 560 mm.")
    last = found[1].lower() or "mm"
    values = [(one.read("."), one.unit or last) for one in amounts if one]
    if any(value is None or value <= 0 or unit not in MILLIMETRES for value, unit in values):
        raise NotRead("Write length x width x height, such as 800 x 600 x 560 mm.")
    sides = [round((value or Decimal(0)) * MILLIMETRES[unit]) for value, unit in values]
    return dict(zip(("length_mm", "width_mm", "height_mm"), sides, strict=True))


def _flag(field: str, text: str) -> dict[str, Any]:
    said = yes_or_no(text_cell(text))
    if said is None:
        raise NotRead("Say yes or no.")
    return {field: said}


def _day(field: str, text: str) -> dict[str, Any]:
    day = day_of(text_cell(text))
    value = day.read("") if day else None
    if value is None:
        raise NotRead("Write the date as year, month, day: 2026-05-14.")
    return {field: value}


def _kind(field: str, text: str) -> dict[str, Any]:
    kind = kind_of(text)
    if kind is None:
        raise NotRead("Choose a kind from the list.")
    return {field: kind}


def _money(field: str, text: str) -> dict[str, Any]:
    amount = amount_of(text_cell(text))
    value = amount.read(".") if amount else None
    if amount is None or value is None or value <= 0 or len(amount.unit) != 3:
        raise NotRead("Write a value with its currency, such as 1200 EUR.")
    return {field: round(value, 2), "currency": amount.unit}


def _case(field: str, text: str) -> dict[str, Any]:
    cases = Item.objects.containers().exclude(number=None).only("pk", "number")
    found = next((case for case in cases if fold(case.number or "") == fold(text)), None)
    if found is None:
        raise NotRead(f"There is no case {text}. Write its number, such as HER-07.")
    return {field: Item.objects.get(pk=found.pk)}


_READ: dict[str, Callable[[str, str], dict[str, Any]]] = {
    "mass": _mass, "size": _size, "yes or no": _flag, "date": _day, "kind": _kind, "money": _money, "number": _case,
}  # fmt: skip
