"""The dry run beside a book: which known thing a row is, where it lives and whose it is."""

from __future__ import annotations

import pytest

from tests.factories import T0, make_case, make_item, make_type
from tests.inventory.sheets import CASE, HEAD, asked, bring_in, dry_run, refused, remarks


@pytest.fixture(autouse=True)
def house(ours):
    return ours


# Matching


def test_a_thing_is_known_by_code_then_serial_then_number():
    by_code = make_item()
    by_serial = make_item(make_type("Ebbmark 6", "Orrinvale"), serial="OV-71")
    by_number = make_case("HER-01")
    plan = dry_run(
        [["code", "item", "maker", "serial", "case no"],
         [by_code.labels.get().code, "Pane 24", "", "", ""], ["", "Ebbmark 6", "orrinvale", "ov 71", ""],
         ["", "Hand case", "Fettlewick", "", "her 01"]]
    )  # fmt: skip
    assert [row.item for row in plan.rows] == [by_code, by_serial, by_number]
    assert {row.action for row in plan.rows} == {"same"}


def test_an_old_number_finds_the_thing_and_does_not_take_its_new_number_away():
    case = make_case("GEN-03")
    case.aliases.create(number="CBL-01", since=T0)
    plan = dry_run([HEAD, ["Hand case", "Fettlewick", "", "CBL-01", "", "1"]])
    assert plan.rows[0].item == case
    assert plan.rows[0].action == "same"
    assert "now called GEN-03" in remarks(plan)["D2"]


def test_things_that_nothing_tells_apart_are_matched_as_a_multiset():
    case = make_case("HER-01")
    for _ in range(3):
        make_item(make_type("Stand", "Kittiwade"), home_case=case)
    rows = [HEAD, *(["Stand", "Kittiwade", "", "", "HER-01", "1"] for _ in range(5))]
    plan = dry_run(rows)
    known = [row.item.pk for row in plan.rows if row.item]
    assert (len(set(known)), plan.count("add")) == (3, 2)


def test_a_lot_is_known_by_type_and_home_case():
    first, second = make_case("HER-01"), make_case("HER-02")
    lot = make_item(make_type("Cord C13", ""), home_case=second, quantity=4)
    rows = [HEAD, ["Cord C13", "", "", "", "HER-01", "6"], ["Cord C13", "", "", "", "HER-02", "5"]]
    plan = dry_run(rows)
    assert [row.item for row in plan.rows] == [None, lot]
    assert plan.rows[1].changes == {"quantity": (4, 5)}
    assert first.home_items.count() == 0


def test_the_same_lot_on_two_rows_is_refused():
    plan = dry_run([HEAD, CASE, ["Ties", "", "", "", "HER-01", "20"], ["ties", "", "", "", "her-01", "30"]])
    assert "row 3" in refused(plan)["F4"]


def test_one_known_thing_and_one_new_row_that_could_be_the_same_are_asked():
    case = make_case("HER-01")
    bare = make_item(make_type("Pane 24", "Kittiwade"), home_case=case)
    rows = [HEAD, ["Pane 24", "Kittiwade", "K71", "", "HER-01", "1"]]
    assert asked(dry_run(rows)).keys() == {"same:sheet!2"}
    known = dry_run(rows, answers={"same:sheet!2": f"item:{bare.pk}"})
    assert known.rows[0].item == bare
    assert known.rows[0].changes["serial"] == ("", "K71")
    assert dry_run(rows, answers={"same:sheet!2": "new"}).rows[0].item is None


def test_a_serial_whose_maker_one_side_does_not_name_is_asked():
    make_item(make_type("Pane 24", "Kittiwade"), serial="K71")
    assert asked(dry_run([HEAD, ["Pane 24", "", "K71", "", "", "1"]])).keys() == {"same:sheet!2"}


def test_another_serial_for_a_known_number_is_asked():
    item = make_item(make_type("Pane 24", "Kittiwade"), serial="K71", number="MON-01")
    rows = [HEAD, ["Pane 24", "Kittiwade", "K99", "MON-01", "", "1"]]
    assert asked(dry_run(rows)).keys() == {"reserial:sheet!2"}
    assert dry_run(rows, answers={"reserial:sheet!2": "book"}).rows[0].changes == {}
    assert dry_run(rows, answers={"reserial:sheet!2": "sheet"}).rows[0].changes == {"serial": ("K71", "K99")}
    assert item.serial == "K71"


def test_a_serial_and_a_number_of_two_things_are_refused():
    make_item(make_type("Pane 24", "Kittiwade"), serial="K71")
    make_item(make_type("Pane 24", "Kittiwade"), number="MON-02")
    plan = dry_run([HEAD, ["Pane 24", "Kittiwade", "K71", "MON-02", "", "1"]])
    assert "two different things" in refused(plan)["D2"]


def test_another_model_for_a_known_thing_is_asked():
    make_item(make_type("Pane 24", "Kittiwade"), serial="K71")
    rows = [HEAD, ["Pane 22", "Kittiwade", "K71", "", "", "1"]]
    assert asked(dry_run(rows)).keys() == {"retype:sheet!2"}
    assert dry_run(rows, answers={"retype:sheet!2": "book"}).rows[0].action == "same"


def test_a_thing_missing_from_a_later_state_of_the_sheet_is_listed_and_left_alone():
    bring_in(
        [
            HEAD,
            CASE,
            ["Pane 24", "Kittiwade", "K1", "", "HER-01", "1"],
            ["Pane 24", "Kittiwade", "K2", "", "HER-01", "1"],
        ]
    )
    plan = dry_run([HEAD, CASE, ["Pane 24", "Kittiwade", "K1", "", "HER-01", "1"]])
    assert [item.serial for item in plan.missing] == ["K2"]
    assert plan.can_commit


# Home cases, systems, owners, places


@pytest.mark.parametrize(
    ("text", "answer", "home"),
    [("HER-1", "row:sheet!2", "row:sheet!2"), ("HER-09", "make:HER-09", "make:HER-09"), ("HER-09", "none", "")],
)
def test_a_case_that_does_not_exist_is_asked(text, answer, home):
    rows = [HEAD, CASE, ["Pane 24", "Kittiwade", "K1", "", text, "1"]]
    (question,) = asked(dry_run(rows)).values()
    assert answer in [choice.value for choice in question.choices]
    plan = dry_run(rows, answers={question.id: answer})
    assert plan.rows[1].home == home
    assert plan.can_commit


def test_nothing_lives_in_what_is_no_case():
    plan = dry_run([HEAD, ["Pane 24", "", "", "MON-01", "", "1"], ["Cord C13", "", "", "", "MON-01", "1"]])
    assert "is no case" in refused(plan)["E3"]


def test_a_case_does_not_live_in_itself():
    plan = dry_run(
        [HEAD, ["Rack case", "", "", "HER-01", "HER-02", "1"], ["Rack case", "", "", "HER-02", "HER-01", "1"]]
    )
    assert refused(plan).keys() == {"E2", "E3"}


def test_a_system_that_is_nearly_a_known_one_is_asked_and_a_new_one_announced():
    rows = [
        ["item", "serial", "system"],
        *(["Pane 24", f"K{n}", name] for n, name in enumerate(["Heron", "Heron", "Herron", "Wren"])),
    ]
    plan = dry_run(rows)
    assert asked(plan).keys() == {"system:HERRON"}
    assert dry_run(rows, answers={"system:HERRON": "same"}).new_systems == ["Heron", "Wren"]


def test_sets_that_differ_by_their_number_are_two_sets():
    rows = [
        ["item", "serial", "drive set", "bay"],
        ["Ingot 4T drive", "1", "HERON-1", "A"],
        ["Ingot 4T drive", "2", "HERON-2", "A"],
    ]
    plan = dry_run(rows)
    assert not plan.open_questions
    assert plan.new_sets == ["HERON-1", "HERON-2"]


def test_an_empty_owner_is_ours_and_an_empty_book_asks_who_we_are(ours):
    rows = [["item", "owner"], ["Pane 24", ""], ["Headset", "Brambleside Hire"], ["Mouse", "ours"]]
    assert [row.owner for row in dry_run(rows).rows] == [ours.name, "Brambleside Hire", ours.name]
    ours.is_ours = False
    ours.save()
    assert asked(dry_run(rows, answers={})).keys() == {"house"}


def test_an_unknown_place_may_stay_unknown():
    rows = [["item", "serial", "place"], ["Pane 24", "K1", "Mill Yard"]]
    plan = dry_run(rows)
    assert plan.can_commit
    assert [one.id for one in plan.questions if one.is_open] == ["place:MILLYARD"]
    assert dry_run(rows, answers={"place:MILLYARD": "store:Mill Yard"}).rows[0].place == "store:Mill Yard"
