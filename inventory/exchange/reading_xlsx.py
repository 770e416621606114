"""XLSX in: look through the package first, then let openpyxl read it row by row."""

from __future__ import annotations

import io
import re
import warnings
import zipfile
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import Any
from xml.etree.ElementTree import ParseError
from xml.parsers import expat

from defusedxml import DefusedXmlException
from openpyxl import load_workbook
from openpyxl.utils.exceptions import InvalidFileException

from inventory.exchange.limits import (
    LAST_ROW,
    MAX_CELL,
    MAX_COLUMNS,
    MAX_PARTS,
    MAX_ROWS,
    MAX_TABS,
    MAX_UNPACKED,
    MIB,
    SheetRefused,
)
from inventory.exchange.raw import NOTHING, Book, Cell, Form, Tab, cell_name, text_cell, trimmed

_BROKEN = (
    zipfile.BadZipFile, ParseError, DefusedXmlException, InvalidFileException, expat.ExpatError, KeyError, ValueError,
    TypeError, AttributeError, IndexError, OSError, OverflowError, EOFError, NotImplementedError, RuntimeError,
)  # fmt: skip
_CHUNK = 256 * 1024
_REF = re.compile(r"([A-Z]{1,3})([1-9]\d{0,7})$")


@dataclass(slots=True)
class Seen:
    """What one worksheet part really holds, counted rather than believed."""

    last_row: int = 0
    last_column: int = 0
    filled_rows: int = 0
    formulas: bool = False
    hidden_columns: set[int] = field(default_factory=set)
    merged: list[tuple[int, int, int, int]] = field(default_factory=list)


def read_xlsx(body: bytes) -> Book:
    try:
        seen = look_through(body)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # openpyxl speaks of features it will not keep; nothing is kept here
            return _book(body, seen)
    except SheetRefused:
        raise
    except _BROKEN as problem:
        raise SheetRefused(
            f"The file cannot be read as a workbook ({type(problem).__name__}). Save it again as .xlsx, try again."
        ) from None


def look_through(body: bytes) -> dict[str, Seen]:
    """Count parts, bytes, rows and columns of the package, and refuse any DTD, before anything is built from it."""
    with zipfile.ZipFile(io.BytesIO(body)) as package:
        parts = package.infolist()
        if len(parts) > MAX_PARTS:
            raise SheetRefused(f"The file has {len(parts):,} parts inside; {MAX_PARTS:,} is the most.")
        if len({part.filename for part in parts}) < len(parts):
            raise SheetRefused("The file holds two parts of one name. Open it, save it again as .xlsx, try again.")
        if sum(part.file_size for part in parts) > MAX_UNPACKED:
            raise SheetRefused(f"Unpacked, the file is over {MAX_UNPACKED // MIB} MB. Take pictures out, or split it.")
        _is_a_workbook({part.filename for part in parts})
        xml = [part for part in parts if part.filename.endswith((".xml", ".rels", ".vml"))]
        return {part.filename: _Scan(part.filename).run(package, part) for part in xml}


def _is_a_workbook(names: set[str]) -> None:
    if "content.xml" in names and "mimetype" in names:
        raise SheetRefused("This is an OpenDocument file. Save it as .xlsx or .csv and try again.")
    if "[Content_Types].xml" not in names:
        raise SheetRefused("This is a zip file, not a workbook. Unpack it and choose the .xlsx or .csv inside.")


class _Scan:
    """One streaming pass over a part with expat; holds no tree."""

    def __init__(self, name: str) -> None:
        self.name, self.seen = name, Seen()
        self.row = self.column = 0
        self.row_is_filled = False
        self.parser = expat.ParserCreate()
        self.parser.StartDoctypeDeclHandler = self.refuse
        self.parser.EntityDeclHandler = self.refuse
        if re.search(r"worksheets/[^/]+\.xml$", name):
            self.parser.StartElementHandler = self.start

    def run(self, package: zipfile.ZipFile, part: zipfile.ZipInfo) -> Seen:
        with package.open(part) as stream:
            while chunk := stream.read(_CHUNK):
                self.parser.Parse(chunk, False)
        self.parser.Parse(b"", True)
        return self.seen

    def refuse(self, *_: Any) -> None:
        raise SheetRefused("The file declares its own XML entities, which a sheet never needs. Save it again as .xlsx.")

    def start(self, tag: str, given: dict[str, str]) -> None:
        tag = tag.rpartition(":")[2]
        if tag in {"v", "is", "f"}:
            self._filled(tag)
        elif tag == "c":
            self._cell(given.get("r"))
        elif tag == "row":
            self._row(given.get("r"))
        elif tag == "col" and given.get("hidden") in {"1", "true"}:
            self._hidden(int(given["min"]), int(given["max"]))
        elif tag == "mergeCell":
            self._merge(given["ref"])

    def _row(self, stated: str | None) -> None:
        row = int(stated) if stated else self.row + 1
        if row <= self.row or row > LAST_ROW:
            raise SheetRefused("The rows of this file are out of order. Open it, save it again as .xlsx, try again.")
        self.row, self.column, self.row_is_filled = row, 0, False

    def _cell(self, ref: str | None) -> None:
        found = _REF.match(ref) if ref else None
        self.column = _column(found[1]) if found else self.column + 1

    def _filled(self, tag: str) -> None:
        seen = self.seen
        seen.formulas |= tag == "f"
        seen.filled_rows += not self.row_is_filled
        self.row_is_filled = True
        seen.last_row, seen.last_column = self.row, max(seen.last_column, self.column)
        if self.column > MAX_COLUMNS:
            raise SheetRefused(
                f"There is something in {cell_name(self.row - 1, self.column - 1)}; {MAX_COLUMNS} columns is the most. "
                "Clear what lies to the right of your table."
            )
        if seen.filled_rows > MAX_ROWS:
            raise SheetRefused(f"A tab has more than {MAX_ROWS:,} filled rows, which is the most. Split it.")

    def _hidden(self, first: int, last: int) -> None:
        self.seen.hidden_columns.update(range(first - 1, min(last, MAX_COLUMNS)))

    def _merge(self, ref: str) -> None:
        first, _, last = ref.partition(":")
        start, end = _REF.match(first), _REF.match(last or first)
        if start and end and len(self.seen.merged) < MAX_ROWS:
            box = (int(start[2]) - 1, _column(start[1]) - 1, int(end[2]) - 1, _column(end[1]) - 1)
            self.seen.merged.append(box)


def _column(letters: str) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - 64
    return number


def _book(body: bytes, seen: dict[str, Seen]) -> Book:
    source = load_workbook(io.BytesIO(body), read_only=True, keep_links=False)
    sheets = source.worksheets
    if len(sheets) > MAX_TABS:
        raise SheetRefused(f"The file has {len(sheets)} tabs; {MAX_TABS} is the most. Split it.")
    counts = [seen.get(sheet._worksheet_path.lstrip("/"), Seen()) for sheet in sheets]
    shown = None
    if any(count.formulas for count in counts):
        # What a formula last showed is in the file; nothing is worked out here.
        shown = load_workbook(io.BytesIO(body), read_only=True, keep_links=False, data_only=True).worksheets
    tabs = [
        _tab(sheet, count, shown[i] if shown else None)
        for i, (sheet, count) in enumerate(zip(sheets, counts, strict=True))
    ]
    return Book("xlsx", tabs)


def _tab(sheet: Any, seen: Seen, shown: Any) -> Tab:
    rows = _rows(sheet, seen)
    results = list(_rows(shown, seen)) if shown is not None and seen.formulas else None
    cells = [
        trimmed([_cell(cell, _result(results, r, c), cell_name(r, c)) for c, cell in enumerate(row)])
        for r, row in enumerate(rows)
    ]
    return Tab(
        sheet.title, cells, hidden=sheet.sheet_state != "visible",
        hidden_columns=frozenset(seen.hidden_columns), merged=tuple(seen.merged),
    )  # fmt: skip


def _rows(sheet: Any, seen: Seen) -> Any:
    if not seen.last_row:
        return []
    return sheet.iter_rows(max_row=seen.last_row, max_col=seen.last_column)


def _result(results: list[Any] | None, row: int, column: int) -> Any:
    if results is None or row >= len(results) or column >= len(results[row]):
        return None
    return results[row][column].value


def _cell(cell: Any, result: Any, name: str) -> Cell:
    value = cell.value
    if value is None:
        return NOTHING
    if cell.data_type == "f":
        return Cell(_words(result, name), Form.FORMULA, result if isinstance(result, int | float | date) else None)
    if cell.data_type == "e":
        return Cell(_words(value, name), Form.ERROR)
    if isinstance(value, str):
        _words(value, name)
        return text_cell(value)
    return Cell(_words(value, name), _form(value), _plain(value), _unit(cell.number_format))


def _form(value: Any) -> Form:
    if isinstance(value, bool):
        return Form.FLAG
    return Form.DATE if isinstance(value, date | datetime | time | timedelta) else Form.NUMBER


def _plain(value: Any) -> Any:
    return value if isinstance(value, bool | int | float | date) else None


def _words(value: Any, name: str) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else format(value, ".15g")
    if isinstance(value, datetime) and value.time() == time():
        return value.date().isoformat()
    text = str(value)
    if len(text) > MAX_CELL:
        raise SheetRefused(f"Cell {name} has {len(text):,} characters; {MAX_CELL:,} is the most.")
    return text


def _unit(number_format: str | None) -> str:
    """A format such as 0.0" kg" shows a unit that the value itself does not hold."""
    quoted = re.findall(r'"([^"]*)"', number_format or "")
    return quoted[-1].strip().lower() if quoted else ""
