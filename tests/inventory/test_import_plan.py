"""The dry run: sheets as they are, and what tells a thing apart; accepted, asked and refused by cell."""

from __future__ import annotations

import io
from decimal import Decimal

import pytest
from openpyxl import Workbook

from tests.factories import make_item
from tests.inventory.sheets import CASE, HEAD, asked, dry_run, refused, remarks, xlsx_bytes


@pytest.fixture(autouse=True)
def house(ours):
    return ours


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
