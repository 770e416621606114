"""The sheet comes back: the person's own rows, columns and order, plus our code."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from inventory.exchange.layout import NOTE, Table, looks_like_a_thing, tables_in
from inventory.exchange.notices import Notices, row_ref
from inventory.exchange.out import CSV, csv_bytes, xlsx_bytes
from inventory.exchange.raw import Cell, Form, Tab, words_of
from inventory.exchange.reading import read
from inventory.models import ImportedSheet, Label


def sheet_back(sheet: ImportedSheet, form: str) -> bytes:
    """The committed sheet with a code beside every thing it holds, as CSV or XLSX."""
    book = read(bytes(sheet.body), sheet.name)
    tables = {one.tab.name: one for one in tables_in(book, sheet.mapping, set(), Notices(sheet.answers))}
    codes = _codes(sheet)
    tabs = [(tab.name, _rows(tab, tables.get(tab.name), codes)) for tab in book.tabs if tab.rows]
    if form == CSV:
        return csv_bytes((row for _, rows in tabs for row in rows), book.separator)
    return xlsx_bytes(tabs)


def _codes(sheet: ImportedSheet) -> dict[str, str]:
    """Row name to code: the newest in use of the item the row became."""
    items: dict[str, int] = sheet.outcome.get("rows", {})
    labels = Label.objects.filter(item_id__in=set(items.values())).order_by("-retired_at", "id")
    newest = {label.item_id: label.code for label in labels if label.retired_at is None}
    return {ref: newest[item] for ref, item in items.items() if item in newest}


def _rows(tab: Tab, table: Table | None, codes: dict[str, str]) -> Iterator[list[Any]]:
    if table is None:
        yield from ([_value(cell) for cell in row] for row in tab.rows)
        return
    column = table.column_of("code")
    index = column.index if column else tab.width
    heading = "book code" if any(words_of(c.text) == "code" for c in tab.rows[table.header]) else "code"
    for number, cells in enumerate(tab.rows):
        row = [_value(cell) for cell in cells]
        code = codes.get(row_ref(tab.name, number))
        if table.skipped.get(number) == "a note" and looks_like_a_thing(table, number):
            code = NOTE
        if code or number == table.header:
            row += [None] * (index + 1 - len(row))
            row[index] = code or (row[index] if column else heading)
        yield row


def _value(cell: Cell) -> Any:
    """A cell as it was: numbers and dates stay what they are, a formula becomes what it last showed."""
    if cell.form in {Form.NUMBER, Form.DATE, Form.FLAG} and cell.value is not None:
        return cell.value
    return cell.text or None
