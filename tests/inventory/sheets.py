"""Makers of sheets for tests: rows in, an ImportedSheet or its dry run out."""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Sequence
from typing import Any

from openpyxl import Workbook

from inventory.exchange.commit import commit
from inventory.exchange.plan import Plan, plan_sheet
from inventory.models import ImportedSheet
from tests.factories import IDA, T0

Rows = Sequence[Sequence[Any]]
HEAD = ["item", "maker", "serial", "case no", "home case", "qty"]
CASE = ["Rack case", "Fettlewick", "", "HER-01", "", "1"]


def csv_bytes(rows: Rows, separator: str = ",") -> bytes:
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=separator).writerows(rows)
    return out.getvalue().encode()


def xlsx_bytes(*tabs: Rows) -> bytes:
    book = Workbook()
    book.remove(book.active)
    for number, rows in enumerate(tabs, 1):
        sheet = book.create_sheet(f"Tab {number}")
        for row in rows:
            sheet.append(list(row))
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def make_sheet(rows: Rows | bytes, name: str = "gear.csv", **over: Any) -> ImportedSheet:
    body = rows if isinstance(rows, bytes) else csv_bytes(rows)
    fields = {"answers": {"house": "Lanternfold Field Pictures"}, **over}
    return ImportedSheet.objects.create(
        name=name,
        body=body,
        digest=hashlib.sha256(body).hexdigest(),
        uploaded_at=T0,
        uploaded_by="Ida Penrake",
        **fields,
    )


def dry_run(rows: Rows | bytes, name: str = "gear.csv", **over: Any) -> Plan:
    return plan_sheet(make_sheet(rows, name, **over))


def bring_in(rows: Rows | bytes, name: str = "gear.csv", **over: Any) -> ImportedSheet:
    """Import a sheet that nothing stands in the way of."""
    sheet = make_sheet(rows, name, **over)
    commit(sheet.pk, by=IDA, at=T0)
    sheet.refresh_from_db()
    return sheet


def refused(plan: Plan) -> dict[str, str]:
    return {notice.spot.where: notice.sentence for notice in plan.refused}


def asked(plan: Plan) -> dict[str, Any]:
    return {question.id: question for question in plan.open_questions}


def remarks(plan: Plan) -> dict[str, str]:
    return {notice.spot.where: notice.sentence for notice in [*plan.remarks, *plan.unread]}
