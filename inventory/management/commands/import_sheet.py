"""manage.py import_sheet FILE [--answer ID=VALUE]... [--column TAB!X=FIELD]... [--leave-out TAB!ROW]... [--commit]"""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import transaction
from django.utils import timezone

from inventory.exchange.commit import CommitRefused, commit
from inventory.exchange.limits import SheetRefused
from inventory.exchange.notices import Notice, Question
from inventory.exchange.plan import Plan, plan_book
from inventory.exchange.reading import read
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
        body = self._body(options["file"])
        given = {
            "answers": pairs(options["answer"]), "mapping": pairs(options["column"]), "left_out": options["leave_out"],
        }  # fmt: skip
        try:
            plan = plan_book(read(body, options["file"].name), **given)
            outcome = self._commit(options, body, given, plan) if options["commit"] else None
        except (SheetRefused, CommitRefused) as refusal:
            raise CommandError(str(refusal)) from None
        self._print(plan, outcome, as_json=options["json"])
        if not plan.can_commit:
            raise CommandError("It cannot go in like this. Settle the lines above.")

    def _body(self, file: Path) -> bytes:
        try:
            return file.read_bytes()
        except OSError as problem:
            raise CommandError(f"{file} cannot be read: {problem.strerror}.") from None

    def _commit(
        self, options: dict[str, Any], body: bytes, given: dict[str, Any], plan: Plan
    ) -> dict[str, Any] | None:  # fmt: skip
        if not plan.can_commit:
            return None
        at = timezone.now()
        with transaction.atomic():
            sheet = ImportedSheet.objects.create(
                name=options["file"].name, body=body, digest=hashlib.sha256(body).hexdigest(), uploaded_at=at,
                uploaded_by=options["by"], **given,
            )  # fmt: skip
            return {"sheet": sheet.pk, **commit(sheet.pk, by=Witness(options["by"]), at=at)}

    def _print(self, plan: Plan, outcome: dict[str, Any] | None, *, as_json: bool) -> None:
        if as_json:
            self.stdout.write(json.dumps(as_data(plan, outcome), indent=2, ensure_ascii=False))
            return
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


def as_data(plan: Plan, outcome: dict[str, Any] | None) -> dict[str, Any]:
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
    }


def _notice(one: Notice) -> dict[str, str]:
    return {"tab": one.spot.tab, "cell": one.spot.where, "row": one.spot.ref, "sentence": one.sentence}


def _question(one: Question) -> dict[str, Any]:
    return {
        "id": one.id, "sentence": one.sentence, "cells": [spot.where for spot in one.spots],
        "choices": {choice.value: choice.label for choice in one.choices}, "free": one.free,
        "holds_up": one.holds_up, "answer": one.answer,
    }  # fmt: skip
