"""Numbers, units and yes or no, as people write them."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from inventory.exchange.columns import UNITS
from inventory.exchange.raw import Cell, Form, words_of

# Exact by definition: the international pound and inch (1959 agreement; from memory).
KILOGRAMS = {"kg": Decimal(1), "g": Decimal("0.001"), "lb": Decimal("0.45359237")}
MILLIMETRES = {"mm": Decimal(1), "cm": Decimal(10), "m": Decimal(1000), "in": Decimal("25.4")}

_NUMERAL = r"[+\-\u2212]?\d[\d.,'\u2019\u202f\u2009 ]*\d|[+\-\u2212]?\d|[+\-\u2212]?[.,]\d+"
_AMOUNT = re.compile(rf"^(?P<before>[^\d+\-\u2212.,]{{0,4}}?)\s*(?P<number>{_NUMERAL})\s*(?P<after>[^\d]*)$")
_DOT = re.compile(r"^\d+(\.\d+)?$|^[1-9]\d{0,2}(,\d{3})+(\.\d+)?$|^\.\d+$")
_COMMA = re.compile(r"^\d+(,\d+)?$|^[1-9]\d{0,2}(\.\d{3})+(,\d+)?$|^,\d+$")
_SPACED = re.compile(r"(?<=\d)[ '\u2019\u202f\u2009](?=\d{3}(?!\d))")
_YES = {"yes", "y", "true", "1", "x", "ok", "needed", "required"}
_NO = {"no", "n", "false", "0", "none", "not needed"}


@dataclass(frozen=True, slots=True)
class Amount:
    """A numeral with its possible readings and the unit written beside it."""

    dot: Decimal | None  # read with a decimal point
    comma: Decimal | None  # read with a decimal comma
    unit: str = ""

    @property
    def is_ambiguous(self) -> bool:
        return self.dot is not None and self.comma is not None and self.dot != self.comma

    @property
    def evidence(self) -> str:
        """'.' or ',' where only one reading is possible."""
        if self.dot is not None and self.comma is not None:
            return ""
        return "." if self.dot is not None else ","

    def read(self, sign: str) -> Decimal | None:
        """The value; an ambiguous numeral needs the column's sign."""
        if self.is_ambiguous:
            return {".": self.dot, ",": self.comma}.get(sign)
        return self.dot if self.dot is not None else self.comma


def amount_of(cell: Cell) -> Amount | None:
    """The amount in a cell, or None if it is not one numeral with at most a unit."""
    if cell.form is Form.NUMBER or (cell.form is Form.FORMULA and isinstance(cell.value, int | float)):
        exact = Decimal(str(cell.value))
        return Amount(exact, exact, UNITS.get(cell.unit, "")) if exact.is_finite() else None
    found = _AMOUNT.match(cell.text)
    if not found:
        return None
    unit = _unit(found["before"], found["after"])
    if unit is None:
        return None
    dot, comma = readings(found["number"])
    return Amount(dot, comma, unit) if dot is not None or comma is not None else None


def _unit(before: str, after: str) -> str | None:
    """The unit around a numeral; None for words that are no unit."""
    stated = [text.strip().lower().rstrip(".") for text in (before, after) if text.strip(" .")]
    if not stated:
        return ""
    return UNITS.get(stated[0]) if len(stated) == 1 else None


def readings(numeral: str) -> tuple[Decimal | None, Decimal | None]:
    """(with a decimal point, with a decimal comma); None where that reading is impossible."""
    plain = _SPACED.sub("", numeral.strip()).replace("\u2212", "-")
    sign, digits = ("-", plain[1:]) if plain.startswith("-") else ("", plain.lstrip("+"))
    dot = Decimal(sign + digits.replace(",", "")) if _DOT.match(digits) else None
    comma = Decimal(sign + digits.replace(".", "").replace(",", ".")) if _COMMA.match(digits) else None
    return dot, comma


@dataclass(frozen=True, slots=True)
class Sign:
    """Which decimal sign a column uses. `sign` is '' where nothing in it tells."""

    sign: str
    is_needed: bool


def decimal_sign(cells: Iterable[Cell]) -> Sign:
    """Decide from the unambiguous cells; where they disagree or say nothing, the sign stays open."""
    amounts = [amount for cell in cells if (amount := amount_of(cell))]
    seen = {amount.evidence for amount in amounts} - {""}
    needed = any(amount.is_ambiguous for amount in amounts)
    return Sign(seen.pop() if len(seen) == 1 else "", needed)


def yes_or_no(cell: Cell) -> bool | None:
    if cell.form is Form.FLAG:
        return bool(cell.value)
    word = words_of(cell.text)
    return True if word in _YES else False if word in _NO else None


def three_lengths(text: str) -> tuple[list[str], str] | None:
    """Split `480 x 500 x 220 mm` into its numerals and the unit at the end; each part may carry its own."""
    parts = re.split(r"\s*[x\u00d7*]\s*", text.strip(), flags=re.IGNORECASE)
    if len(parts) != 3:
        return None
    last = _AMOUNT.match(parts[2])
    return parts, last["after"].strip() if last else ""


def labels_in_order(text: str) -> list[str]:
    """`A-F`, `A B C`, `A,B,C` or `1-4` to labels in order. Raises ValueError for anything else."""
    spread = re.fullmatch(r"([A-Z]|\d{1,2})\s*(?:-|\u2013|TO|\.\.)\s*([A-Z]|\d{1,2})", text.strip().upper())
    if spread:
        return _spread(spread[1], spread[2])
    labels = [label_form(label) for label in re.split(r"[\s,;/]+", text.strip())]
    if any(len(label) > 20 for label in labels) or len(set(labels)) < len(labels):
        raise ValueError(text)
    return labels


def label_form(label: str) -> str:
    """A bay's letter is a capital; a word such as `pocket` stays as it is written."""
    return label.upper() if len(label) <= 2 else label


def _spread(first: str, last: str) -> list[str]:
    if first.isdigit() and last.isdigit() and int(first) <= int(last):
        return [str(number) for number in range(int(first), int(last) + 1)]
    if first.isalpha() and last.isalpha() and first <= last:
        return [chr(letter) for letter in range(ord(first), ord(last) + 1)]
    raise ValueError(f"{first}-{last}")
