"""CSV in: which encoding, which separator, and the rows."""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Iterator

from inventory.exchange.columns import field_of
from inventory.exchange.limits import MAX_CELL, MAX_ROWS, SheetRefused
from inventory.exchange.raw import Book, Cell, Form, Tab, text_cell, trimmed

SEPARATORS = (",", ";", "\t")
_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


def read_csv(body: bytes) -> Book:
    encoding = guess_encoding(body)
    text = _decoded(body, encoding)
    separator, text = _stated_separator(text)
    separator = separator or guess_separator(text)
    rows = [_cells(row, number) for number, row in enumerate(_records(text, separator), 1)]
    while rows and not rows[-1]:
        rows.pop()
    return Book("csv", [Tab("sheet", rows)], separator=separator, encoding=encoding)


def guess_encoding(body: bytes) -> str:
    """By its mark; else UTF-16 if every second byte is zero; else UTF-8 if it is that; else Windows-1252."""
    for mark, encoding in _MARKS:
        if body.startswith(mark):
            return encoding
    head = body[:2000]
    if head[1::2].count(0) > len(head) // 4:
        return "utf-16-le"
    if head[0::2].count(0) > len(head) // 4:
        return "utf-16-be"
    try:
        body.decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def _decoded(body: bytes, encoding: str) -> str:
    try:
        return body.decode(encoding)
    except UnicodeDecodeError:
        raise SheetRefused(
            "The letters of this file are in no encoding known here. Save it as CSV UTF-8, or as .xlsx, and try again."
        ) from None


def _stated_separator(text: str) -> tuple[str, str]:
    """Some programs write a first line `sep=;`. It is an instruction, not a row."""
    first, _, rest = text.partition("\n")
    stated = first.strip().strip('"')
    if stated.lower().startswith("sep=") and stated[4:] in {*SEPARATORS, ""}:
        return stated[4:] or "\t", rest
    return "", text


def guess_separator(text: str) -> str:
    """The one under which most headings are known; then the one that splits most rows alike."""
    return max(SEPARATORS, key=lambda separator: _score(text, separator))


def _score(text: str, separator: str) -> tuple[int, int]:
    rows = []
    try:
        for row in csv.reader(io.StringIO(text, newline=""), delimiter=separator):
            rows.append(row)
            if len(rows) == 40:
                break
    except csv.Error:
        return (-1, 0)
    known = max((sum(field_of(cell) is not None for cell in row) for row in rows), default=0)
    widths = sorted(len(row) for row in rows)
    return known, widths[len(widths) // 2] if widths else 0


def _records(text: str, separator: str) -> Iterator[list[str]]:
    filled = 0
    try:
        for row in csv.reader(io.StringIO(text, newline=""), delimiter=separator):
            filled += any(row)
            if filled > MAX_ROWS:
                raise SheetRefused(f"The file has more than {MAX_ROWS:,} filled rows, which is the most. Split it.")
            yield row
    except csv.Error as problem:
        raise SheetRefused(f"The file cannot be read as CSV ({problem}). Save it again as CSV or .xlsx.") from None


def _cells(row: list[str], number: int) -> list[Cell]:
    for text in row:
        if len(text) > MAX_CELL:
            raise SheetRefused(
                f"A cell in row {number} has {len(text):,} characters; {MAX_CELL:,} is the most. "
                "Perhaps a quotation mark before it was never closed."
            )
    cells = [text_cell(text) for text in row]
    return trimmed(cells) if any(cell.form is not Form.EMPTY for cell in cells) else []
