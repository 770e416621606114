"""Answers given to an earlier state of a sheet, laid over the sheet that comes again: shown as given, and changeable.

An answer about a column follows its heading, one about a row follows its thing, one about a name stays with the name.
What was asked of a row counts again only while the same is asked: another text in the cell is another question.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from inventory.exchange.layout import Table, mapping_key
from inventory.exchange.plan import Plan
from inventory.models import ImportedSheet

_OF_NAMES = (
    "house", "rest", "place:", "owner:", "system:", "drive set:", "case:", "type:", "header:", "no-quantity:"
)  # fmt: skip
_OF_COLUMNS = ("column:", "unit:", "decimal:", "dates:")
_OF_ROWS = ("serial:", "quantity:", "one-serial:", "reserial:", "retype:")


@dataclass(frozen=True, slots=True)
class Remembered:
    """What an earlier state of the sheet was told. `since` is that sheet; None where there was none."""

    since: ImportedSheet | None = None
    answers: dict[str, str] = field(default_factory=dict)
    mapping: dict[str, str] = field(default_factory=dict)


def sheet_of(body: bytes, name: str, plan: Plan, *, by: str, at: datetime) -> ImportedSheet:
    """A file as a sheet with the answers that its earlier state was given: not saved yet, unless it waits already.

    The same file again while it waits is the same sheet. `plan`: the file read without any answer.
    """
    digest = hashlib.sha256(body).hexdigest()
    waiting = ImportedSheet.objects.filter(digest=digest, committed_at=None).first()
    if waiting is not None:
        return waiting
    before = remembered(plan, name[-200:])
    since = {"since": before.since.pk, "kept": before.answers} if before.since else {}
    return ImportedSheet(
        name=name[-200:], body=body, digest=digest, uploaded_at=at, uploaded_by=by, answers=before.answers,
        mapping=before.mapping, outcome=since,
    )  # fmt: skip


def noted(plan: Plan) -> dict[str, Any]:
    """What a later state of the sheet is recognised by: its headings, and what was asked of its rows."""
    return {
        "headings": {table.tab.name: [column.heading for column in table.columns] for table in plan.tables},
        "asked": {one.id: one.sentence for one in plan.questions if one.id.startswith(_OF_ROWS)},
    }


def remembered(plan: Plan, name: str) -> Remembered:
    """The answers of the newest sheet in the book that this one is a later state of.

    That is one that knows a thing of it, else one of the same name. `plan`: read without any answer.
    """
    committed = ImportedSheet.objects.exclude(committed_at=None).defer("body").order_by("-committed_at", "-pk")
    since = committed.filter(pk__in=plan.known.earlier_sheets).first() or committed.filter(name=name).first()
    if since is None:
        return Remembered()
    columns, rows = dict(_columns(since, plan.tables)), dict(_rows(since, plan))
    answers = dict(_moved(since, plan, columns, rows))
    mapping = {columns[key]: meaning for key, meaning in since.mapping.items() if key in columns}
    return Remembered(since, answers, mapping)


def _moved(
    since: ImportedSheet, plan: Plan, columns: Mapping[str, str], rows: Mapping[str, str]
) -> Iterator[tuple[str, str]]:  # fmt: skip
    asked = {one.id: one.sentence for one in plan.questions}
    for ident, answer in since.answers.items():
        kind, _, of = ident.partition(":")
        if ident.startswith(_OF_NAMES) or _is_cautious(ident, answer):
            yield ident, _now(answer, since)
        elif ident.startswith(_OF_COLUMNS) and of in columns:
            yield f"{kind}:{columns[of]}", answer
        elif ident.startswith(_OF_ROWS) and of in rows:
            now = f"{kind}:{rows[of]}"
            if asked.get(now) == since.outcome.get("asked", {}).get(ident, ""):
                yield now, answer


def _is_cautious(ident: str, answer: str) -> bool:
    """That drives are blank was said of those of that day: only that nobody knows is taken over."""
    return ident.startswith("content:") and answer == "unknown"


def _now(answer: str, since: ImportedSheet) -> str:
    """A row of the earlier sheet has become a thing of the book."""
    item = since.outcome.get("rows", {}).get(answer.removeprefix("row:")) if answer.startswith("row:") else None
    return f"item:{item}" if item else answer


def _columns(since: ImportedSheet, tables: list[Table]) -> Iterator[tuple[str, str]]:
    """Each column of the earlier sheet and the column of this one under the same heading."""
    before: dict[str, list[str]] = since.outcome.get("headings", {})
    for tab, headings in before.items():
        table = next((one for one in tables if one.tab.name == tab), tables[0] if len(tables) == 1 else None)
        for index, heading in enumerate(headings):
            if heading and table and (now := _under(heading, headings[:index].count(heading), table)) is not None:
                yield mapping_key(tab, index), mapping_key(table.tab.name, now)


def _under(heading: str, nth: int, table: Table) -> int | None:
    """The index of the nth column with this heading, from 0."""
    found = [column.index for column in table.columns if column.heading == heading]
    return found[nth] if nth < len(found) else None


def _rows(since: ImportedSheet, plan: Plan) -> Iterator[tuple[str, str]]:
    """Each row of the earlier sheet and the row of this one that is the same thing."""
    now = {item: ref for ref, item in plan.matches.items.items() if item}
    for ref, item in since.outcome.get("rows", {}).items():
        if item in now:
            yield ref, now[item]
