"""The dry run of drives: what is on them is asked, and never assumed."""

from __future__ import annotations

import pytest

from inventory.models import Kind, Verb
from tests.factories import IDA, T0, make_drive, make_item, make_set, make_type
from tests.inventory.sheets import HEAD, csv_bytes, dry_run, refused, remarks


@pytest.fixture(autouse=True)
def house(ours):
    return ours


DRIVES = ["item", "maker", "serial", "drive set", "bay", "content", "blank by", "blank how"]


def test_silence_about_a_drive_is_asked_and_may_stay_unknown():
    plan = dry_run([DRIVES, ["Ingot 4T drive", "Pomandre", "71B", "HERON-1", "A", "", "", ""]])
    assert [one.id for one in plan.questions if one.is_open and one.free == "who and how"] == ["content:heron 1"]
    assert plan.can_commit
    assert plan.rows[0].blank is None


def test_blank_without_who_and_how_is_not_believed():
    plan = dry_run([DRIVES, ["Ingot 4T drive", "Pomandre", "71B", "HERON-1", "A", "blank", "", ""]])
    assert plan.rows[0].blank is None
    assert "not who says so" in next(one.sentence for one in plan.questions if one.free == "who and how")


def test_blank_with_who_and_how_is_kept_and_words_are_content():
    plan = dry_run(
        [DRIVES, ["Ingot 4T drive", "Pomandre", "71B", "HERON-1", "A", "blank", "Ida Penrake", "read back to zero"],
         ["Ingot 4T drive", "Pomandre", "71C", "HERON-1", "B", "Civic Awards", "", ""]]
    )  # fmt: skip
    assert (plan.rows[0].blank.who, plan.rows[0].blank.how) == ("Ida Penrake", "read back to zero")
    assert (plan.rows[1].blank, plan.rows[1].content) == (None, "Civic Awards")


def test_an_answer_of_who_and_how_speaks_for_the_drives_of_that_set():
    rows = [DRIVES, *(["Ingot 4T drive", "Pomandre", f"71{n}", f"HERON-{n}", "A", "", "", ""] for n in (1, 2))]
    plan = dry_run(rows, answers={"content:heron 1": "Ida Penrake|wiped on Monday", "content:heron 2": "|unsure"})
    assert [row.blank is not None for row in plan.rows] == [True, False]


def test_no_sheet_weakens_what_the_book_knows_of_a_drive():
    from inventory.ledger import Fact, record

    drive = make_drive("71B")
    record([Fact(Verb.CONTENT_GIVEN, drive, reference="S-1")], by=IDA, at=T0)
    plan = dry_run([DRIVES, ["Ingot 4T", "Pomandre", "71B", "", "", "blank", "Ida Penrake", "sure"]])
    assert plan.rows[0].blank is None
    assert "does not change it" in remarks(plan)["F2"]


def test_two_drives_in_one_bay_are_refused():
    plan = dry_run([DRIVES, *(["Ingot 4T drive", "Pomandre", s, "HERON-1", "C", "x", "", ""] for s in ("1", "2"))])
    assert "Clear the bay of the spare" in refused(plan)["E3"]


def test_a_membership_the_ledger_knows_otherwise_stands():
    from inventory.ledger import Fact, record

    drive, heron = make_drive("71B"), make_set()
    record([Fact(Verb.JOINED, drive, drive_set=heron, bay="B")], by=IDA, at=T0)
    plan = dry_run([DRIVES, ["Ingot 4T", "Pomandre", "71B", "HERON-1", "C", "", "", ""]])
    assert not plan.rows[0].joins
    assert "it stands" in remarks(plan)["E2"]


def test_a_text_that_is_too_long_is_refused():
    plan = dry_run(csv_bytes([HEAD, ["x" * 121, "", "", "", "", "1"]]))
    assert "120 characters" in refused(plan)["A2"]


def test_kinds_follow_the_kind_column_then_the_words_of_the_item():
    plan = dry_run(
        [["item", "kind", "qty"], ["Ebbmark 6", "mainframe", "1"], ["Power cord C19", "", "1"], ["Whatsit", "zzz", "1"]]
    )
    assert [row.type.kind for row in plan.rows] == [Kind.FRAME, Kind.CORD, ""]
    assert "no kind on the list" in remarks(plan)["B4"]


def test_a_thing_that_was_written_off_stays_gone():
    make_item(make_type("Pane 24", "Kittiwade"), serial="K71", retired_at=T0)
    plan = dry_run([HEAD, ["Pane 24", "Kittiwade", "K71", "", "", "1"]])
    assert "It stays gone" in remarks(plan)["A2"]
    assert plan.rows[0].action != "add"
