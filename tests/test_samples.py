"""The sample sheets: they go into an empty book after few answers, and what they hold can be packed."""

from __future__ import annotations

from pathlib import Path

import pytest

from inventory.exchange.back import sheet_back
from inventory.exchange.out import CSV, XLSX
from inventory.exchange.plan import plan_book
from inventory.exchange.reading import read
from inventory.models import DriveSet, Item, ItemType, System
from shipping.sealing import seal
from tests.factories import IDA, T0
from tests.inventory.sheets import bring_in, dry_run

SAMPLES = Path(__file__).parent.parent / "fixtures" / "samples"
ANSWERS = {
    "house": "Lanternfold Field Pictures",
    "unit:Dunlin!L": "kg",
    "unit:sheet!L": "kg",
    "rest": "Mill Yard",
    "note:sheet!15": "note",
    "content:dunlin 1": "Ida Penrake|wiped and read back in February",
}


def sample(name):
    return (SAMPLES / name).read_bytes()


@pytest.mark.parametrize("name", ["gear.xlsx", "gear.csv"])
def test_a_sample_asks_few_questions_and_refuses_nothing(db, name):
    plan = plan_book(read(sample(name), name))
    assert not plan.refused
    assert len(plan.questions) <= 6
    assert {one.id for one in plan.open_questions} <= {"house", "note:sheet!15"}


@pytest.mark.parametrize("name", ["gear.xlsx", "gear.csv"])
def test_a_sample_makes_one_whole_system_that_can_be_packed(db, name):
    bring_in(sample(name), name, answers=ANSWERS)
    assert System.objects.get().name == "Dunlin"
    assert [one.bays for one in DriveSet.objects.all()] == ["A B C D E F"] * 2
    cases = Item.objects.filter(type__kind="case").order_by("number")
    assert len(cases) == 11
    for case in cases:
        assert seal(case, f"S-{case.number}", by=IDA, at=T0)


@pytest.mark.parametrize("form", [CSV, XLSX])
@pytest.mark.parametrize("name", ["gear.xlsx", "gear.csv"])
def test_a_sample_that_came_back_goes_in_again_without_a_question_and_changes_nothing(db, name, form):
    body = sheet_back(bring_in(sample(name), name, answers=ANSWERS), form)
    plan = dry_run(body, f"back.{form}")
    assert plan.can_commit
    assert {row.action for row in plan.rows} == {"same"}


def test_both_samples_hold_the_same(db):
    bring_in(sample("gear.xlsx"), "gear.xlsx", answers=ANSWERS)
    again = dry_run(sample("gear.csv"), "gear.csv", answers=ANSWERS)
    assert {row.action for row in again.rows} == {"same"}
    assert len(again.rows) == Item.objects.count() == 78


def test_a_drive_box_of_the_sample_is_the_own_packaging_of_its_drives(db):
    bring_in(sample("gear.xlsx"), "gear.xlsx", answers=ANSWERS)
    box = ItemType.objects.get(name="Drive box 6").container
    assert [one.name for one in box.original_packaging_for.all()] == ["Ingot 4T"]
    assert box.for_drives
    assert [(one.kind, one.label) for one in box.compartments.all()] == [
        *(("slot", x) for x in "ABCDEF"),
        ("pocket", "pocket"),
    ]


@pytest.mark.parametrize(
    ("level", "where", "says"),
    [
        ("refused", "C7", "lost its digits"),
        ("refused", "C8", "The same serial"),
        ("refused", "H9", "bay A"),
        ("refused", "A20", "Nothing says what this is"),
        ("asked", "E10", "no case \u201cHER-3\u201d"),
        ("asked", "C11", "TBC"),
        ("asked", "F11", "the same as \u201cHeron\u201d"),
        ("asked", "I14", "about 200"),
        ("asked", "I16", "5 m"),
        ("asked", "I17", "2 pieces"),
        ("asked", "L3", "Location"),
        ("asked", "E18", "no case \u201cKW001A13\u201d"),
        ("open", "column J", "which unit"),
        ("open", "column K", "how is 3/4/2027 read"),
        ("open", "M6", "not who says so"),
        ("open", "J6", "differ in their mass"),
        ("said", "J12", "0 is no mass"),
        ("said", "J13", "light"),
        ("said", "K19", "soon"),
        ("said", "C13", "zero in front"),
    ],
)
def test_each_mistake_of_the_sample_is_met_at_its_cell(db, level, where, says):
    plan = plan_book(read(sample("gear-with-mistakes.csv"), "gear-with-mistakes.csv"))
    questions = [(one.holds_up, spot.where, one.sentence) for one in plan.questions for spot in one.spots]
    met = {
        "refused": [(one.spot.where, one.sentence) for one in plan.refused],
        "asked": [(cell, sentence) for holds, cell, sentence in questions if holds],
        "open": [(cell, sentence) for holds, cell, sentence in questions if not holds],
        "said": [(one.spot.where, one.sentence) for one in [*plan.unread, *plan.remarks]],
    }
    assert any(cell == where and says in sentence for cell, sentence in met[level])
