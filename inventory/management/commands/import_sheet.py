"""manage.py import_sheet FILE [--answer ID=VALUE]... [--column TAB!X=FIELD]... [--leave-out TAB!ROW]... [--commit]"""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection, transaction
from django.utils import timezone

from config.sqlite.statistics import refresh
from inventory.exchange.commit import CommitRefused, commit
from inventory.exchange.limits import SheetRefused
from inventory.exchange.notices import Notice, Question
from inventory.exchange.plan import Plan, plan_book, plan_sheet
from inventory.exchange.reading import read
from inventory.exchange.remembering import sheet_of
from inventory.ledger import Witness
from inventory.models import ImportedSheet


class Command(BaseCommand):
    help = "Look at a gear sheet without changing anything; with --commit, put it into the book."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, help="A CSV or XLSX file.")
        parser.add_argument("--answer", action="append", default=[], metavar="ID=VALUE", help="Answer a question.")
        parser.add_argument("--column", action="append", default=[], metavar="TAB!X=FIELD", help="What a column means.")
        parser.add_argument("--leave-out", action="append", default=[], metavar="TAB!ROW", help="Leave a row out.")
        parser.add_argument("--commit", action="store_true", help="Write it, if nothing stands in the way.")
        parser.add_argument("--by", default="the command line", help="Whose name the record carries.")
        parser.add_argument("--json", action="store_true", help="Print everything with stable field names.")

    def handle(self, *args: Any, **options: Any) -> None:
        at = timezone.now()
        try:
            sheet = self._sheet(options, at)
            plan = plan_sheet(sheet)
            outcome = self._commit(sheet, options["by"], at) if options["commit"] and plan.can_commit else None
        except (SheetRefused, CommitRefused) as refusal:
            raise CommandError(str(refusal)) from None
        self._print(plan, outcome, sheet, as_json=options["json"])
        if not plan.can_commit:
            raise CommandError("It cannot go in like this. Settle the lines above.")

    def _sheet(self, options: dict[str, Any], at: datetime) -> ImportedSheet:
        """The file with what it was told before, here or on its page, and then what is said now. Nothing is saved."""
        body, name = self._body(options["file"]), options["file"].name
        sheet = sheet_of(body, name, plan_book(read(body, name)), by=options["by"], at=at)
        sheet.answers = {**sheet.answers, **pairs(options["answer"])}
        sheet.mapping = {**sheet.mapping, **pairs(options["column"])}
        sheet.left_out = sorted({*sheet.left_out, *options["leave_out"]})
        return sheet

    def _body(self, file: Path) -> bytes:
        try:
            return file.read_bytes()
        except OSError as problem:
            raise CommandError(f"{file} cannot be read: {problem.strerror}.") from None

    def _commit(self, sheet: ImportedSheet, by: str, at: datetime) -> dict[str, Any]:
        with transaction.atomic():
            sheet.save(update_fields=None if sheet.pk is None else ["answers", "mapping", "left_out"])
            outcome = {"sheet": sheet.pk, **commit(sheet.pk, by=Witness(by), at=at)}
        refresh(connection)
        return outcome

    def _print(self, plan: Plan, outcome: dict[str, Any] | None, sheet: ImportedSheet, *, as_json: bool) -> None:
        kept = kept_of(plan, sheet)
        if as_json:
            self.stdout.write(json.dumps(as_data(plan, outcome, kept), indent=2, ensure_ascii=False))
            return
        if kept:
            stand = "1 answer stands" if len(kept) == 1 else f"{len(kept)} answers stand"
            self.stdout.write(f"{stand} as before. Change one with --answer ID=VALUE.")
        for notice in plan.refused:
            self.stdout.write(f"REFUSED {notice.spot.where}: {notice.sentence}")
        for question in plan.questions:
            self.stdout.write(asked(question))
        for notice in [*plan.unread, *plan.remarks]:
            self.stdout.write(f"REMARK {notice.spot.where}: {notice.sentence}")
        self.stdout.write(
            f"{plan.count('add')} to add, {plan.count('change')} to change, {plan.count('same')} as they are."
        )
        if outcome is not None:
            self.stdout.write(
                f"In the book: {outcome['added']} added, {outcome['changed']} changed (sheet {outcome['sheet']})."
            )


def pairs(texts: list[str]) -> dict[str, str]:
    """`ID=VALUE` texts as a dict. The first equals sign parts them."""
    return dict(text.partition("=")[::2] for text in texts)


def asked(question: Question) -> str:
    if not question.is_open:
        return f"ANSWERED {question.id}: {question.sentence} {question.answer_words}"
    ways = [f"{choice.value} ({choice.label})" for choice in question.choices]
    ways += {"number": ["a number"], "text": ["words"], "who and how": ["WHO|HOW"]}.get(question.free, [])
    word = "QUESTION" if question.holds_up else "MAY STAY OPEN"
    return f"{word} {question.id}: {question.sentence} Answer: {', '.join(ways)}."


def kept_of(plan: Plan, sheet: ImportedSheet) -> dict[str, str]:
    """The answers to what is asked now that an earlier state of the sheet was given."""
    kept = sheet.outcome.get("kept", {})
    return {one.id: one.answer for one in plan.questions if one.answer and kept.get(one.id) == one.answer}


def as_data(plan: Plan, outcome: dict[str, Any] | None, kept: dict[str, str]) -> dict[str, Any]:
    """Documented, stable fields; `answer` leads, as in every answer."""
    return {
        "answer": "can go in" if plan.can_commit else "not yet",
        "refused": [_notice(one) for one in plan.refused],
        "questions": [_question(one) for one in plan.questions],
        "unknown": [_notice(one) for one in plan.unread],
        "remarks": [_notice(one) for one in plan.remarks],
        "rows": [
            {"row": row.line.ref, "thing": row.line.called, "action": row.action, "sentence": row.sentence}
            for row in plan.rows
        ],
        "missing": [item.called for item in plan.missing],
        "left_out": plan.left_out,
        "outcome": outcome,
        "kept": kept,
    }


def _notice(one: Notice) -> dict[str, str]:
    return {"tab": one.spot.tab, "cell": one.spot.where, "row": one.spot.ref, "sentence": one.sentence}


def _question(one: Question) -> dict[str, Any]:
    return {
        "id": one.id, "sentence": one.sentence, "cells": [spot.where for spot in one.spots],
        "choices": {choice.value: choice.label for choice in one.choices}, "free": one.free,
        "holds_up": one.holds_up, "answer": one.answer,
    }  # fmt: skip
