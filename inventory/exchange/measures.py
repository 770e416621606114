"""One column of masses, lengths, numbers, prices or dates: its unit, its decimal sign, then each cell."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from inventory.exchange.cells import (
    KILOGRAMS,
    MILLIMETRES,
    Amount,
    amount_of,
    decimal_sign,
    three_lengths,
)
from inventory.exchange.columns import BY_NAME, Reads
from inventory.exchange.days import day_of, day_order
from inventory.exchange.layout import Column, Table, mapping_key
from inventory.exchange.notices import Notices
from inventory.exchange.raw import Cell, Form, text_cell, words_of

_SCALES: dict[Reads, Mapping[str, Decimal]] = {
    Reads.MASS: KILOGRAMS,
    Reads.LENGTH: MILLIMETRES,
    Reads.SIZE: MILLIMETRES,
    Reads.UNITS: {"U": Decimal(1)},
}
_CAPACITY = {"GB": Decimal(1), "TB": Decimal(1000)}
_MOST_KG, _MOST_MM = Decimal(99_999), Decimal(2_000_000)


@dataclass(frozen=True, slots=True)
class Measured:
    """A value, and how far rounding may have moved it; `words` as a person would say it."""

    value: Decimal
    slack: Decimal = Decimal(0)
    words: str = ""

    def agrees(self, other: Measured) -> bool:
        return abs(self.value - other.value) <= self.slack + other.slack


class MeasureColumn:
    """Reads one column of measures. Asks once per column for what the cells leave open."""

    def __init__(self, table: Table, column: Column, notices: Notices) -> None:
        self.table, self.column, self.notices = table, column, notices
        self.reads = BY_NAME[str(column.field)].reads
        self.scale = _CAPACITY if column.field == "capacity_gb" else _SCALES.get(self.reads, {})
        cells = self._parts()
        self.sign = self._sign(cells)
        self.unit = self._unit(cells)

    def _parts(self) -> list[Cell]:
        cells = [self.table.cell(row, self.column) for row in self.table.rows]
        if self.reads is not Reads.SIZE:
            return cells
        return [text_cell(part) for cell in cells for part in (three_lengths(cell.text) or ([],))[0]]

    def _key(self) -> str:
        return mapping_key(self.table.tab.name, self.column.index)

    def _sign(self, cells: list[Cell]) -> str:
        found = decimal_sign(cells)
        if not found.is_needed:
            return found.sign
        spots = [self.table.spot(None, self.column)]
        if found.sign:
            word = {".": "point", ",": "comma"}[found.sign]
            self.notices.remark(spots[0], f"The decimal sign is read as a {word}, as other cells of the column show.")
            return found.sign
        example = next(cell.text for cell in cells if (a := amount_of(cell)) and a.is_ambiguous)
        return self.notices.ask(
            f"decimal:{self._key()}", f"{self._called()}: what does {example} mean?", spots,
            choices=[(".", "the point is the decimal sign"), (",", "the comma is the decimal sign")],
            holds_up=False,
        )  # fmt: skip

    def _called(self) -> str:
        return f"Column {self.column.letter} ({self.column.heading})"

    def _unit(self, cells: list[Cell]) -> str:
        if self.column.unit in self.scale or not self.scale or "U" in self.scale:
            return self.column.unit if self.column.unit in self.scale else "U" if "U" in self.scale else ""
        bare = [amount for cell in cells if (amount := amount_of(cell)) and not amount.unit]
        if not bare or self._all_have_units():
            return ""
        return self.notices.ask(
            f"unit:{self._key()}", f"{self._called()}: which unit are plain numbers in?",
            [self.table.spot(None, self.column)], choices=[(unit, unit) for unit in self.scale], holds_up=False,
        )  # fmt: skip

    def _all_have_units(self) -> bool:
        """Of a size column: does the last part carry a unit everywhere?"""
        if self.reads is not Reads.SIZE:
            return False
        found = [three_lengths(self.table.cell(row, self.column).text) for row in self.table.rows]
        return all(words_of(one[1]) in self.scale for one in found if one)

    def read(self, row: int) -> Measured | None:
        cell = self.table.cell(row, self.column)
        return self._read(cell, row, self.unit) if cell.form is not Form.EMPTY else None

    def _read(self, cell: Cell, row: int, unit: str) -> Measured | None:
        amount = amount_of(cell)
        if amount is None:
            return self._unknown(row, f"\u201c{cell.text}\u201d is not read as a {self.reads}.")
        value = amount.read(self.sign)
        if value is None:
            return None  # the column's question stands
        return self._scaled(value, amount, unit, row)

    def _scaled(self, value: Decimal, amount: Amount, unit: str, row: int) -> Measured | None:
        unit = amount.unit or unit
        if value <= 0 and self.reads is not Reads.NUMBER:
            return self._unknown(row, f"{value} is no {self.reads}.")
        if not self.scale:
            return Measured(value, words=f"{value} {unit}".strip())
        if not unit:
            return None  # the column's question stands
        if unit not in self.scale:
            return self._unknown(row, f"{unit} is no unit of {self.reads}.")
        factor = self.scale[unit]
        scaled = value * factor
        if scaled > (_MOST_KG if self.scale is KILOGRAMS else _MOST_MM):
            return self._unknown(row, f"{value} {unit} is more than any thing here can have.")
        return Measured(scaled, Decimal(1).scaleb(_exponent(value)) / 2 * factor, f"{value} {unit}")

    def _unknown(self, row: int, sentence: str) -> None:
        self.notices.unknown(self.table.spot(row, self.column), sentence)

    def read_size(self, row: int) -> dict[str, Measured]:
        """Length, width and height from one cell, in the order the heading gives."""
        cell = self.table.cell(row, self.column)
        if cell.form is Form.EMPTY:
            return {}
        found = three_lengths(cell.text)
        if found is None:
            self._unknown(row, f"\u201c{cell.text}\u201d is not read as length x width x height.")
            return {}
        parts, last = found
        unit = MILLIMETRES.get(last.lower()) is not None and last.lower() or self.unit
        read = [self._read(text_cell(part), row, unit) for part in parts]
        return {side: one for side, one in zip(size_order(self.column.heading), read, strict=True) if one}


def _exponent(value: Decimal) -> int:
    exponent = value.as_tuple().exponent
    return exponent if isinstance(exponent, int) else 0


def size_order(heading: str) -> tuple[str, str, str]:
    """The sides in the order a heading such as `W x D x H` names them; length, width, height if it names none."""
    sides = {"l": "length_mm", "d": "length_mm", "w": "width_mm", "h": "height_mm"}
    letters = [word for word in words_of(heading).replace("x", " ").split() if word in sides]
    named = [sides[letter] for letter in letters]
    return (
        (named[0], named[1], named[2]) if len(set(named)) == len(named) == 3 else ("length_mm", "width_mm", "height_mm")
    )


class DayColumn:
    """Reads one column of dates; the order of day and month is one for the column."""

    def __init__(self, table: Table, column: Column, notices: Notices) -> None:
        self.table, self.column, self.notices = table, column, notices
        cells = [table.cell(row, column) for row in table.rows]
        key = f"dates:{mapping_key(table.tab.name, column.index)}"
        self.order, needed = day_order(cells)
        if needed and not self.order:
            example = next(cell.text for cell in cells if (d := day_of(cell)) and d.is_ambiguous)
            self.order = notices.ask(
                key, f"Column {column.letter} ({column.heading}): how is {example} read?", [table.spot(None, column)],
                choices=[("day", "the day comes first"), ("month", "the month comes first")], holds_up=False,
            )  # fmt: skip
        elif needed:
            notices.remark(
                table.spot(None, column), f"Dates are read with the {self.order} first, as other cells show."
            )

    def read(self, row: int) -> date | None:
        cell = self.table.cell(row, self.column)
        if cell.form is Form.EMPTY:
            return None
        day = day_of(cell)
        if day is None:
            self.notices.unknown(self.table.spot(row, self.column), f"\u201c{cell.text}\u201d is not read as a date.")
            return None
        return day.read(self.order)


def whole(measured: Measured) -> int:
    """Rounded to a whole millimetre, unit or piece, halves up."""
    return int(measured.value.quantize(Decimal(1), rounding=ROUND_HALF_UP))
