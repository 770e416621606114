"""Serials and quantities: the cells that say which thing this is, and how many."""

from __future__ import annotations

import re
from dataclasses import dataclass

from inventory.exchange.raw import Cell, Form, words_of

_NONE = {"n a", "na", "none", "no", "nil", "no serial", "not applicable", "without", "keine"}
_WORN = {
    "worn",
    "unreadable",
    "illegible",
    "worn off",
    "worn away",
    "not readable",
    "plate worn",
    "cannot read",
    "cant read",
}
_LATER = {"tbc", "tba", "tbd", "unknown", "to check", "to be confirmed", "later", "check", "todo", "to do", "not known"}
_SCIENTIFIC = re.compile(r"^\d(?:[.,]\d+)?E[+\-]\d{1,3}$", re.IGNORECASE)
_PIECES = re.compile(
    r"^(?:x\s*)?(\d{1,7})\s*(?:x|pcs?|pieces?|off|nos?|ea|each|units?|st|stk)?\.?$|^(\d{1,5})\s*(?:doz|dozen)\.?$",
    re.IGNORECASE,
)
_DOZEN = 12


@dataclass(frozen=True, slots=True)
class Serial:
    """`state`: known, none, worn, asked or refused; `sentence` says why where it stands in the way."""

    state: str
    text: str = ""
    sentence: str = ""


def serial_of(cell: Cell) -> Serial:
    """Read a serial as written, and refuse what a spreadsheet has already changed."""
    if cell.form in {Form.NUMBER, Form.FORMULA, Form.DATE, Form.FLAG, Form.ERROR}:
        return Serial("refused", cell.text, _refusal(cell))
    word = words_of(cell.text)
    if not word:
        return Serial("asked", cell.text, _QUERY.format(cell.text)) if "?" in cell.text else Serial("none")
    if word in _NONE:
        return Serial("none")
    if word in _WORN:
        return Serial("worn")
    if word in _LATER or cell.text.strip().endswith("?"):
        return Serial("asked", cell.text, _QUERY.format(cell.text))
    if _SCIENTIFIC.match(cell.text.replace(" ", "")):
        return Serial("refused", cell.text, _MANGLED.format(cell.text))
    if len(cell.text) > 80:
        return Serial("refused", cell.text, "A serial has at most 80 characters. Put the rest into the notes.")
    return Serial("known", " ".join(cell.text.split()))


_QUERY = "The serial says \u201c{}\u201d. What stands on the plate?"
_MANGLED = (
    "The spreadsheet has turned this serial into \u201c{}\u201d and lost its digits. "
    "Make the column text, type the serial again from the plate, and upload the sheet again."
)
_CHANGED = {
    Form.NUMBER: "The spreadsheet holds this serial as a number ({}): zeros in front or last digits may be lost.",
    Form.FORMULA: "This serial is worked out by a formula (it shows \u201c{}\u201d), so nobody read it from a plate.",
    Form.DATE: "The spreadsheet has turned this serial into a date ({}).",
    Form.FLAG: "The spreadsheet has turned this serial into {}.",
    Form.ERROR: "This serial cell holds an error ({}).",
}


def _refusal(cell: Cell) -> str:
    way = " Make the column text, type the serial again from the plate, and upload the sheet again."
    return _CHANGED[cell.form].format(cell.text) + way


@dataclass(frozen=True, slots=True)
class Count:
    """How many: `number`, or None where it must be asked. `remark` shows how words were read."""

    number: int | None
    remark: str = ""


def count_of(cell: Cell) -> Count:
    """A whole number of 1 or more. Everything else is asked."""
    if cell.form is Form.NUMBER or (cell.form is Form.FORMULA and isinstance(cell.value, int | float)):
        whole = float(cell.value).is_integer() and 1 <= cell.value < 10_000_000  # type: ignore[arg-type, operator]
        return Count(int(cell.value)) if whole else Count(None)  # type: ignore[arg-type]
    found = _PIECES.match(cell.text.strip())
    if not found:
        return Count(None)
    number = int(found[1]) if found[1] else int(found[2]) * _DOZEN
    plain = cell.text.strip().isdigit()
    return Count(number or None, "" if plain else f"\u201c{cell.text}\u201d is read as {number} pieces.")
