"""manage.py import_sheet: a dry run unless told otherwise."""

from __future__ import annotations

import io
import json

import pytest
from django.core.management import CommandError, call_command

from inventory.management.commands.import_sheet import pairs
from inventory.models import ImportedSheet, Item
from tests.inventory.sheets import csv_bytes

ROWS = [["item", "serial", "qty", "weight"], ["Pane 24", "K1", "1", "heavy"], ["Ties", "", "some", ""]]


@pytest.fixture
def file(tmp_path, ours):
    path = tmp_path / "gear.csv"
    path.write_bytes(csv_bytes(ROWS))
    return str(path)


def run(*args):
    out = io.StringIO()
    try:
        call_command("import_sheet", *args, stdout=out)
    except CommandError as error:
        return out.getvalue(), str(error)
    return out.getvalue(), ""


def test_a_dry_run_says_what_stands_in_the_way_and_changes_nothing(file):
    said, error = run(file)
    assert "QUESTION quantity:sheet!3" in said
    assert "REMARK D2" in said
    assert "cannot go in" in error
    assert not Item.objects.exists()
    assert not ImportedSheet.objects.exists()


def test_commit_with_answers_puts_it_in_the_book(file):
    said, error = run(file, "--answer", "quantity:sheet!3=20", "--commit", "--by", "Ida Penrake")
    assert error == ""
    assert "2 added" in said
    sheet = ImportedSheet.objects.get()
    assert (sheet.committed_by, sheet.answers) == ("Ida Penrake", {"quantity:sheet!3": "20"})


def test_commit_without_answers_writes_nothing(file):
    _, error = run(file, "--commit")
    assert error
    assert not Item.objects.exists()
    assert not ImportedSheet.objects.exists()


def test_rows_can_be_left_out_and_columns_settled(file):
    said, error = run(file, "--leave-out", "sheet!3", "--column", "sheet!D=own")
    assert error == ""
    assert "1 to add" in said
    assert "REMARK D2" not in said


def test_json_has_stable_fields(file):
    data = json.loads(run(file, "--json")[0])
    assert list(data) == [
        "answer", "refused", "questions", "unknown", "remarks", "rows", "missing", "left_out", "outcome",
    ]  # fmt: skip
    assert data["answer"] == "not yet"
    assert data["unknown"][0]["cell"] == "D2"
    assert data["rows"][0] == {"row": "sheet!2", "thing": "Pane 24 K1", "action": "add", "sentence": "will be added"}
    answered = json.loads(run(file, "--json", "--commit", "--answer", "quantity:sheet!3=20")[0])
    assert (answered["answer"], answered["outcome"]["added"]) == ("can go in", 2)


def test_a_file_that_is_not_there_or_cannot_be_read_is_a_sentence(tmp_path, db):
    assert "cannot be read" in run(str(tmp_path / "none.csv"))[1]
    (tmp_path / "empty.csv").write_bytes(b"")
    assert "empty" in run(str(tmp_path / "empty.csv"))[1]


def test_an_answer_may_hold_an_equals_sign():
    assert pairs(["house=A = B", "rest="]) == {"house": "A = B", "rest": ""}
