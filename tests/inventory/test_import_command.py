"""manage.py import_sheet: a dry run unless told otherwise."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import CommandError, call_command

from inventory.exchange.back import sheet_back
from inventory.exchange.out import CSV
from inventory.forms.importing import UploadForm
from inventory.management.commands.import_sheet import pairs
from inventory.models import ImportedSheet, Item
from tests.factories import T0
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
        "kept",
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


@pytest.fixture
def again(file, tmp_path):
    """The sheet as the book gives it back, once it is in."""
    run(file, "--answer", "quantity:sheet!3=20", "--commit")
    back = tmp_path / "gear (1).csv"
    back.write_bytes(sheet_back(ImportedSheet.objects.get(), CSV))
    return str(back)


def test_a_sheet_that_comes_again_asks_nothing_again(again):
    said, error = run(again)
    assert error == ""
    assert "1 answer stands as before" in said
    assert "ANSWERED quantity:sheet!3" in said
    assert json.loads(run(again, "--json")[0])["kept"] == {"quantity:sheet!3": "20"}
    assert ImportedSheet.objects.count() == 1


def test_what_is_answered_now_stands_over_what_was_kept(again):
    said, error = run(again, "--answer", "quantity:sheet!3=30", "--commit")
    assert (error, "stand as before" in said) == ("", False)
    assert Item.objects.get(serial="", type__name="Ties").quantity == 30
    assert ImportedSheet.objects.first().answers == {"quantity:sheet!3": "30"}


def test_a_kept_answer_is_taken_back_by_an_empty_one(again):
    said, error = run(again, "--answer", "quantity:sheet!3=")
    assert "QUESTION quantity:sheet!3" in said
    assert error


def test_a_sheet_that_waits_on_its_page_goes_in_as_it_was_answered_there(file):
    form = UploadForm({}, {"file": SimpleUploadedFile("gear.csv", Path(file).read_bytes())})
    assert form.is_valid()
    sheet = form.save(by="Ida Penrake", at=T0)
    ImportedSheet.objects.filter(pk=sheet.pk).update(answers={"quantity:sheet!3": "20"})
    said, error = run(file, "--commit")
    assert (error, "2 added" in said) == ("", True)
    sheet.refresh_from_db()
    assert sheet.committed_at is not None
    assert ImportedSheet.objects.count() == 1


def test_an_answer_may_hold_an_equals_sign():
    assert pairs(["house=A = B", "rest="]) == {"house": "A = B", "rest": ""}
