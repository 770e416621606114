"""A sheet as it was read: tabs of rows of cells, each cell with the form it had in the file."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum

from openpyxl.utils import get_column_letter


class Form(StrEnum):
    EMPTY = "empty"
    TEXT = "text"
    NUMBER = "number"
    DATE = "date"
    FORMULA = "formula"
    FLAG = "yes or no"
    ERROR = "error"


@dataclass(frozen=True, slots=True)
class Cell:
    """`text` is what a person would read; `value` keeps a number or a date; `unit` comes from a number format."""

    text: str = ""
    form: Form = Form.EMPTY
    value: float | int | date | datetime | bool | None = None
    unit: str = ""


NOTHING = Cell()


@dataclass(slots=True)
class Tab:
    """One sheet of a workbook. rows[0] is row 1."""

    name: str
    rows: list[list[Cell]]
    hidden: bool = False
    hidden_columns: frozenset[int] = frozenset()
    merged: tuple[tuple[int, int, int, int], ...] = ()  # first row, first column, last row, last column; from 0

    def cell(self, row: int, column: int) -> Cell:
        cells = self.rows[row]
        return cells[column] if column < len(cells) else NOTHING

    @property
    def width(self) -> int:
        return max((len(row) for row in self.rows), default=0)


@dataclass(slots=True)
class Book:
    """A whole file."""

    kind: str  # "csv" or "xlsx"
    tabs: list[Tab]
    separator: str = ","
    encoding: str = "utf-8"
    remarks: list[str] = field(default_factory=list)


def column_letter(column: int) -> str:
    """0 -> A, as people see columns."""
    return get_column_letter(column + 1)


def cell_name(row: int, column: int) -> str:
    """(6, 3) -> D7."""
    return f"{column_letter(column)}{row + 1}"


def clean(text: str) -> str:
    """Drop what nobody can see: control and zero-width characters, spaces around."""
    kept = "".join(c for c in text if c in "\t\n\r" or unicodedata.category(c) not in {"Cc", "Cf", "Cs", "Cn"})
    return kept.replace("\u00a0", " ").strip()


def text_cell(text: str) -> Cell:
    plain = clean(text)
    return Cell(plain, Form.TEXT, None) if plain else NOTHING


def trimmed(cells: Sequence[Cell]) -> list[Cell]:
    """A row without the empty cells at its end."""
    last = len(cells)
    while last and cells[last - 1].form is Form.EMPTY:
        last -= 1
    return list(cells[:last])


def words_of(text: str) -> str:
    """A heading for comparison: small letters, digits, single spaces."""
    plain = unicodedata.normalize("NFKC", text).casefold().replace("&", " and ")
    return " ".join(re.findall(r"[^\W_]+", plain.replace("'", "").replace("\u2019", "")))
