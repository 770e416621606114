"""The dry run of numbers: quantities, units, decimal signs, dates."""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.factories import make_type
from tests.inventory.sheets import CASE, HEAD, asked, dry_run, refused, remarks


@pytest.fixture(autouse=True)
def house(ours):
    return ours


# Quantities


@pytest.mark.parametrize("text", ["about 20", "10+", "3-4", "10 m", "0", "-1", "2.5", "some"])
def test_an_unclear_quantity_is_asked_and_answered(text):
    rows = [HEAD, CASE, ["Ties", "", "", "", "HER-01", text]]
    assert asked(dry_run(rows)).keys() == {"quantity:sheet!3"}
    assert dry_run(rows, answers={"quantity:sheet!3": "20"}).rows[1].quantity == 20
    assert asked(dry_run(rows, answers={"quantity:sheet!3": "many"})).keys() == {"quantity:sheet!3"}


def test_empty_quantities_are_one_question_and_a_serial_needs_none():
    rows = [
        HEAD,
        CASE,
        ["Stand", "", "", "", "HER-01", ""],
        ["Mat", "", "", "", "HER-01", ""],
        ["Pane 24", "", "K1", "", "HER-01", ""],
    ]
    assert asked(dry_run(rows)).keys() == {"no-quantity:sheet"}
    assert dry_run(rows, answers={"no-quantity:sheet": "one"}).can_commit
    each = dry_run(rows, answers={"no-quantity:sheet": "each"})
    assert asked(each).keys() == {"quantity:sheet!3", "quantity:sheet!4"}


def test_words_of_a_quantity_are_read_and_shown():
    plan = dry_run([HEAD, CASE, ["Ties", "", "", "", "HER-01", "2 doz"]])
    assert plan.rows[1].quantity == 24
    assert "24 pieces" in remarks(plan)["F3"]


@pytest.mark.parametrize(("answer", "quantity", "serial"), [("one", 1, "K1"), ("lot", 3, "")])
def test_a_serial_with_more_than_one_piece_is_asked(answer, quantity, serial):
    rows = [HEAD, ["Pane 24", "Kittiwade", "K1", "", "", "3"]]
    assert asked(dry_run(rows)).keys() == {"one-serial:sheet!2"}
    row = dry_run(rows, answers={"one-serial:sheet!2": answer}).rows[0]
    assert (row.quantity, row.line.serial) == (quantity, serial)


def test_a_lot_is_said_by_its_kind_column_else_its_type_else_its_number():
    make_type("Gaffer roll", "", is_lot=True)
    rows = [
        ["item", "kind", "qty"],
        ["Screw M6", "lot", "1"],
        ["Gaffer roll", "", "1"],
        ["Ties", "", "30"],
        ["Mat", "", "1"],
    ]
    assert [row.is_lot for row in dry_run(rows).rows] == [True, True, True, False]


@pytest.mark.parametrize("item", ["Rack case", "Ingot 4T drive", "Ebbmark 6 frame"])
def test_things_that_must_be_told_apart_are_no_lot(item):
    plan = dry_run([HEAD, [item, "", "", "", "", "3"]])
    assert "a row" in refused(plan)["F2"]


# Units, signs, dates


@pytest.mark.parametrize(
    ("heading", "cell", "answers", "kg"),
    [
        ("weight (lb)", "10", {}, "4.5359237"),
        ("weight (lb)", "10 kg", {}, "10"),
        ("weight", "500 g", {}, "0.500"),
        ("weight", "10", {"unit:sheet!B": "lb"}, "4.5359237"),
        ("weight", "10", {}, None),
    ],
)
def test_the_unit_in_the_cell_beats_the_heading_beats_one_question(heading, cell, answers, kg):
    plan = dry_run([["item", heading, "qty"], ["Pane 24", cell, "1"]], answers=answers)
    fact = plan.rows[0].line.facts.get("mass_kg")
    assert (fact.value if fact else None) == (Decimal(kg) if kg else None)
    assert plan.can_commit
    assert ("unit:sheet!B" in {one.id for one in plan.questions}) == (heading == "weight" and cell == "10")


@pytest.mark.parametrize("cell", ["0 kg", "-3 kg", "heavy", "3 mm", "99 t"])
def test_what_is_no_mass_stays_unknown_and_is_said(cell):
    plan = dry_run([["item", "weight", "qty"], ["Pane 24", cell, "1"]])
    assert "mass_kg" not in plan.rows[0].line.facts
    assert "work list" in remarks(plan)["B2"]
    assert plan.can_commit


def test_the_decimal_sign_is_one_per_column():
    rows = [["item", "weight (kg)", "qty"], ["Pane 24", "1.234", "1"], ["Pane 22", "2,5", "1"]]
    plan = dry_run(rows)
    assert plan.rows[0].line.facts["mass_kg"].value == 1234
    assert "comma" in remarks(plan)["column B"]
    alone = dry_run(rows[:2])
    assert "mass_kg" not in alone.rows[0].line.facts
    assert "decimal:sheet!B" in {one.id for one in alone.questions if one.is_open}


def test_the_order_of_day_and_month_is_one_per_column():
    rows = [["item", "pat due", "qty"], ["Pane 24", "3/4/2026", "1"], ["Pane 22", "25/4/2026", "1"]]
    assert str(dry_run(rows).rows[0].line.dates["inspection_due"]) == "2026-04-03"
    alone = dry_run(rows[:2])
    assert "inspection_due" not in alone.rows[0].line.dates
    assert (
        str(dry_run(rows[:2], answers={"dates:sheet!B": "month"}).rows[0].line.dates["inspection_due"]) == "2026-03-04"
    )


def test_a_size_in_one_cell_is_read_in_the_order_of_its_heading():
    plan = dry_run([["item", "W x D x H (cm)", "qty"], ["Pane 24", "60x40x25", "1"]])
    facts = plan.rows[0].line.facts
    assert {name: facts[name].value for name in ("width_mm", "length_mm", "height_mm")} == {
        "width_mm": 600, "length_mm": 400, "height_mm": 250,
    }  # fmt: skip


def test_rows_of_one_type_that_differ_by_more_than_rounding_are_asked_once():
    rows = [
        ["item", "serial", "weight"],
        *(["Pane 24", f"K{n}", mass] for n, mass in enumerate(["4.2 kg", "9.3 lb", "5 kg", "4.20 kg"])),
    ]
    plan = dry_run(rows)
    (question,) = [one for one in plan.questions if one.id.startswith("type:")]
    assert len(question.choices) == 2
    assert not question.holds_up
    assert plan.types["|PANE24"].facts == {}
    chosen = dry_run(rows, answers={question.id: next(c.value for c in question.choices if c.label == "5 kg")})
    assert chosen.types["|PANE24"].facts == {"mass_kg": Decimal("5.000")}


def test_a_mass_the_book_knows_otherwise_is_asked_and_stands_until_then():
    item_type = make_type("Pane 24", "Kittiwade", mass_kg=Decimal("5.5"))
    rows = [["item", "maker", "serial", "weight"], ["Pane 24", "Kittiwade", "K1", "7 kg"]]
    plan = dry_run(rows)
    assert plan.types[item_type.key].changes == {}
    assert any("as in the book" in choice.label for one in plan.questions for choice in one.choices)
