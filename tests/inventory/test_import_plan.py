"""The dry run: what is accepted, asked and refused, each by its cell."""

from __future__ import annotations

import io
from decimal import Decimal

import pytest
from openpyxl import Workbook

from inventory.models import Kind, Verb
from tests.factories import IDA, T0, make_case, make_drive, make_item, make_set, make_type
from tests.inventory.sheets import bring_in, csv_bytes, dry_run, xlsx_bytes

HEAD = ["item", "maker", "serial", "case no", "home case", "qty"]
CASE = ["Rack case", "Fettlewick", "", "HER-01", "", "1"]


@pytest.fixture(autouse=True)
def house(ours):
    return ours


def refused(plan):
    return {notice.spot.where: notice.sentence for notice in plan.refused}


def asked(plan):
    return {question.id: question for question in plan.open_questions}


def remarks(plan):
    return {notice.spot.where: notice.sentence for notice in [*plan.remarks, *plan.unread]}


# The sheet as it is


def test_titles_notes_totals_and_repeated_headings_are_no_things():
    plan = dry_run(
        [["Heron, spring"], [], HEAD, CASE, ["", "", "", "", "", ""], ["", "check these with Wes", "", "", "", ""],
         HEAD, ["Pane 24", "Kittiwade", "K1", "", "HER-01", "1"], ["Total", "", "", "", "", "2"]]
    )  # fmt: skip
    assert [row.line.row + 1 for row in plan.rows] == [4, 8]
    assert plan.tables[0].skipped == {4: "empty", 5: "a note", 6: "the headings again", 8: "a total"}
    assert plan.can_commit


def test_a_row_with_one_word_is_asked():
    rows = [HEAD, CASE, ["Cables", "", "", "", "", ""]]
    assert asked(dry_run(rows)).keys() == {"note:sheet!3"}
    assert len(dry_run(rows, answers={"note:sheet!3": "note"}).rows) == 1


def test_a_cell_merged_over_rows_speaks_for_each_and_one_over_columns_is_a_note():
    book = Workbook()
    sheet = book.active
    for row in [
        HEAD,
        CASE,
        ["Pane 24", "", "K1", "", "HER-01", 1],
        ["Pane 24", "", "K2", "", None, 1],
        ["Audio, to do"],
    ]:
        sheet.append(row)
    sheet.merge_cells("E3:E4")
    sheet.merge_cells("A5:F5")
    out = io.BytesIO()
    book.save(out)
    plan = dry_run(out.getvalue(), "gear.xlsx")
    assert [row.home for row in plan.rows] == ["", "row:Sheet!2", "row:Sheet!2"]
    assert plan.tables[0].skipped == {4: "a note"}


def test_every_tab_with_headings_is_read_and_others_are_asked_about():
    plan = dry_run(
        xlsx_bytes([HEAD, CASE], [HEAD, ["Pane 24", "", "K1", "", "HER-01", "1"]], [["just words"]]), "g.xlsx"
    )
    assert [row.line.ref for row in plan.rows] == ["Tab 1!2", "Tab 2!2"]
    assert "header:Tab 3" in {one.id for one in plan.questions if one.is_open}
    assert plan.can_commit


def test_a_sheet_without_headings_asks_where_they_are():
    rows = [["a", "b"], ["c", "d"]]
    assert asked(dry_run(rows)).keys() == {"header:sheet"}
    plan = dry_run(rows, answers={"header:sheet": "1"}, mapping={"sheet!A": "model"})
    assert [row.line.called for row in plan.rows] == ["c"]


def test_hidden_tabs_are_named_and_hidden_columns_are_read():
    book = Workbook()
    for row in [HEAD, CASE]:
        book.active.append(row)
    book.active.column_dimensions["D"].hidden = True
    hidden = book.create_sheet("Old")
    hidden.append(HEAD)
    hidden.sheet_state = "hidden"
    out = io.BytesIO()
    book.save(out)
    plan = dry_run(out.getvalue(), "gear.xlsx")
    assert plan.rows[0].line.text("number") == "HER-01"
    assert any("Column D is hidden" in one.sentence for one in plan.remarks)
    assert any("Old is hidden" in one.sentence for one in plan.remarks)


def test_a_second_column_of_the_same_meaning_stays_the_persons_own():
    plan = dry_run([["item", "weight", "weight (lb)"], ["Pane 24", "5 kg", "11"]])
    assert "C1" in remarks(plan)
    assert plan.rows[0].line.facts["mass_kg"].value == 5


def test_an_ambiguous_heading_holds_up_only_if_the_home_case_hangs_on_it():
    rows = [["item", "location"], ["Pane 24", "HER-01"]]
    assert asked(dry_run(rows)).keys() == {"column:sheet!B"}
    plan = dry_run(rows, answers={"column:sheet!B": "home_case"})
    assert asked(plan).keys() == {"case:HER01"}


# Identity


@pytest.mark.parametrize(
    ("column", "first", "second"),
    [
        (2, ["Pane 24", "Kittiwade", "K-71", "", "", "1"], ["Pane 24", "Kittiwade", "k 71", "", "", "1"]),
        (3, ["Rack case", "", "", "HER-01", "", "1"], ["Rack case", "", "", "her 01", "", "1"]),
    ],
)
def test_the_same_serial_or_number_twice_is_refused_at_the_second(column, first, second):
    plan = dry_run([HEAD, first, second])
    where = f"{'ABCDEF'[column]}3"
    assert f"{'ABCDEF'[column]}2" in refused(plan)[where]


def test_one_serial_under_two_makers_is_two_things():
    plan = dry_run([HEAD, ["Pane 24", "Kittiwade", "71", "", "", "1"], ["Ebbmark 6", "Orrinvale", "71", "", "", "1"]])
    assert not plan.refused
    assert plan.count("add") == 2


@pytest.mark.parametrize(
    ("value", "says"),
    [(123456789012, "as a number"), ("=A1", "formula"), (True, "into"), (Decimal("1.5"), "as a number")],
)
def test_an_xlsx_serial_that_is_no_text_is_refused_by_cell(value, says):
    plan = dry_run(xlsx_bytes([HEAD, CASE, ["Pane 24", "Kittiwade", value, "", "HER-01", 1]]), "gear.xlsx")
    assert says in refused(plan)["C3"]


def test_a_csv_serial_in_scientific_notation_is_refused_by_cell():
    plan = dry_run([HEAD, ["Pane 24", "Kittiwade", "4.71E+11", "", "", "1"]])
    assert "type the serial again from the plate" in refused(plan)["C2"]


def test_a_serial_that_lost_its_zeros_is_remarked_not_refused():
    rows = [HEAD, *(["Pane 24", "Kittiwade", serial, "", "", "1"] for serial in ("004711", "004712", "4713"))]
    plan = dry_run(rows)
    assert "zero in front" in remarks(plan)["C4"]
    assert not plan.refused


def test_serials_that_a_tired_eye_confuses_are_remarked_and_kept():
    plan = dry_run([HEAD, ["Pane 24", "Kittiwade", "71O4", "", "", "1"], ["Pane 24", "Kittiwade", "7104", "", "", "1"]])
    assert "misread" in remarks(plan)["C3"]
    assert [row.line.serial for row in plan.rows] == ["71O4", "7104"]


def test_a_letter_of_another_alphabet_is_remarked_and_kept():
    plan = dry_run([HEAD, ["Pane 24", "Kittiwade", "71\u04124", "", "", "1"]])
    assert "another alphabet" in remarks(plan)["C2"]
    assert plan.rows[0].line.serial == "71\u04124"


@pytest.mark.parametrize(
    ("answer", "serial", "worn"), [("none", "", False), ("worn", "", True), ("K0071", "K0071", False)]
)
def test_a_serial_to_be_confirmed_is_asked(answer, serial, worn):
    rows = [HEAD, ["Pane 24", "Kittiwade", "TBC", "", "", "1"]]
    assert asked(dry_run(rows)).keys() == {"serial:sheet!2"}
    line = dry_run(rows, answers={"serial:sheet!2": answer}).rows[0].line
    assert (line.serial, line.serial_worn) == (serial, worn)


def test_a_row_that_says_nothing_of_what_it_is_is_refused():
    plan = dry_run([HEAD, ["", "", "K1", "", "", "1"]])
    assert "Nothing says what this is" in refused(plan)["A2"]


def test_an_unknown_code_is_refused_and_a_column_of_foreign_codes_stays_own():
    item = make_item()
    code = item.labels.get().code
    head = ["code", "item", "serial"]
    plan = dry_run([head, [code, "Pane 24", ""], ["AAAAAAA", "Pane 24", "K2"]])
    assert "no code of this book" in refused(plan)["A3"]
    plan = dry_run([head, ["LF-0001", "Pane 24", "K1"], ["LF-0002", "Pane 24", "K2"]])
    assert not plan.refused
    assert "stays your own" in remarks(plan)["A1"]


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


# Content


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
