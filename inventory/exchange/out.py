"""Tables out as CSV and XLSX. Text that a spreadsheet would run is guarded: quoted in CSV, a string cell in XLSX."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.http import HttpResponse
from django.utils import timezone
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

CSV, XLSX = "csv", "xlsx"
TYPES = {CSV: "text/csv; charset=utf-8", XLSX: "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"}
# What a spreadsheet takes for a formula, after any guards it wears already.
_DANGEROUS = re.compile(r"^'*[=+\-@\t\r\n]")
_GUARDED = re.compile(r"^'+[=+\-@\t\r\n]")
_TAB_NAME = re.compile(r"[\[\]:*?/\\]")
Rows = Iterable[Sequence[Any]]


def guarded(text: str) -> str:
    """Put one apostrophe before text that a spreadsheet would run. `unguarded` takes exactly that one away."""
    return f"'{text}" if _DANGEROUS.match(text) else text


def unguarded(text: str) -> str:
    return text[1:] if _GUARDED.match(text) else text


def csv_bytes(rows: Rows, separator: str = ",") -> bytes:
    """UTF-8 with its mark, so that spreadsheets read the letters right; lines end as RFC 4180 says."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=separator, lineterminator="\r\n")
    writer.writerows([guarded(value) if isinstance(value, str) else _csv_words(value) for value in row] for row in rows)
    return out.getvalue().encode("utf-8-sig")


def _csv_words(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return (timezone.localtime(value) if timezone.is_aware(value) else value).isoformat(" ", "minutes")
    return str(value) if isinstance(value, int | float | Decimal | date) else guarded(str(value))


def xlsx_bytes(tabs: Iterable[tuple[str, Rows]]) -> bytes:
    """A workbook with these tabs. Text is always a string cell, whatever it begins with."""
    book = Workbook(write_only=True)
    for name, rows in tabs:
        sheet = book.create_sheet(_TAB_NAME.sub(" ", name)[:31] or "sheet")
        for row in rows:
            sheet.append([_cell(sheet, value) for value in row])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _cell(sheet: Any, value: Any) -> Any:
    if value is None or isinstance(value, bool | int | float | Decimal):
        return value
    if isinstance(value, datetime):
        return timezone.make_naive(value) if timezone.is_aware(value) else value
    if isinstance(value, date):
        return value
    cell = WriteOnlyCell(sheet, value=ILLEGAL_CHARACTERS_RE.sub("", str(value)))
    cell.data_type = "s"
    cell.quotePrefix = True
    return cell


def attachment(body: bytes, name: str, form: str) -> HttpResponse:
    """A download that a browser saves and never shows."""
    response = HttpResponse(body, content_type=TYPES[form])
    response["Content-Disposition"] = f'attachment; filename="{_file_name(name)}.{form}"'
    response["X-Content-Type-Options"] = "nosniff"
    return response


def _file_name(name: str) -> str:
    return re.sub(r"[^A-Za-z0-9._-]+", "-", name).strip("-.") or "sheet"


def table_response(table: Any, form: str, name: str) -> HttpResponse:
    """A django-tables2 table as a file: its own columns, every row of it."""
    rows = list(table.as_values())
    body = csv_bytes(rows) if form == CSV else xlsx_bytes([(name, rows)])
    return attachment(body, name, form)
