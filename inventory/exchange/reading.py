"""An uploaded file to a Book. Nothing in a file is run, and nothing it names is fetched."""

from __future__ import annotations

from inventory.exchange.limits import MAX_BYTES, MAX_COLUMNS, MAX_ROWS, MAX_TABS, MIB, SheetRefused
from inventory.exchange.raw import Book, Form, cell_name
from inventory.exchange.reading_csv import read_csv
from inventory.exchange.reading_xlsx import read_xlsx

_OLD_OR_LOCKED = b"\xd0\xcf\x11\xe0"  # the container of .xls files, and of XLSX files with a password


def read(body: bytes, name: str) -> Book:
    """Read a sheet by what it is, not by its name. Raises SheetRefused with a sentence that says what to do."""
    if len(body) > MAX_BYTES:
        raise SheetRefused(
            f"The file has {len(body) / MIB:.1f} MB; {MAX_BYTES // MIB} MB is the most. "
            "Take pictures out of it, or split it by case."
        )
    if not body.strip(b"\0 \t\r\n\xef\xbb\xbf\xff\xfe"):
        raise SheetRefused("The file is empty. Save the sheet again and check that it holds rows.")
    if body.startswith(_OLD_OR_LOCKED):
        raise SheetRefused(
            "This is an old .xls file, or it is locked with a password. Save it as .xlsx without one, try again."
        )
    if body.startswith(b"%PDF"):
        raise SheetRefused("This is a PDF, not a sheet. Save the sheet itself as .xlsx or .csv.")
    book = read_xlsx(body) if body.startswith(b"PK") else read_csv(body)
    _within_limits(book)
    return book


def _within_limits(book: Book) -> None:
    if len(book.tabs) > MAX_TABS:
        raise SheetRefused(f"The file has {len(book.tabs)} tabs; {MAX_TABS} is the most. Split it.")
    filled = sum(any(cell.form is not Form.EMPTY for cell in row) for tab in book.tabs for row in tab.rows)
    if filled > MAX_ROWS:
        raise SheetRefused(f"The file has {filled:,} filled rows; {MAX_ROWS:,} is the most. Split it.")
    for tab in book.tabs:
        for number, row in enumerate(tab.rows):
            if len(row) > MAX_COLUMNS:
                raise SheetRefused(
                    f"{tab.name}: {cell_name(number, len(row) - 1)} is filled; {MAX_COLUMNS} columns is the most. "
                    "Clear what lies to the right of your table."
                )
