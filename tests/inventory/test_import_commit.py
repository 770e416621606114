"""What an import writes, that it writes all or nothing, and that the sheet comes back and changes nothing."""

from __future__ import annotations

import io
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook

from inventory import codes, ledger
from inventory.codes import issue_blank
from inventory.exchange import commit as committing
from inventory.exchange.back import sheet_back
from inventory.exchange.commit import CommitRefused, commit
from inventory.exchange.out import CSV, XLSX
from inventory.exchange.plan import plan_sheet
from inventory.ledger import Fact
from inventory.models import (
    DriveSet,
    Entry,
    Grade,
    ImportedSheet,
    Item,
    ItemType,
    Label,
    Organisation,
    Place,
    System,
    SystemPart,
    Verb,
)
from tests.factories import IDA, T0, make_place
from tests.inventory.sheets import bring_in, dry_run, make_sheet, xlsx_bytes

HEAD = [
    "item", "maker", "serial", "case no", "home case", "system", "drive set", "bay", "slot", "qty", "weight", "needed",
    "mine",
]  # fmt: skip
SHEET = [
    ["Heron, all of it"],
    HEAD,
    ["Rack case", "Fettlewick", "", "HER-01", "", "Heron", "", "", "", "1", "22 kg", "", "a"],
    ["Drive box", "Fettlewick", "", "HER-03", "", "Heron", "", "", "", "1", "8 lb", "", "b"],
    ["Ebbmark 6 frame", "Orrinvale", "OV-71", "", "HER-01", "Heron", "", "", "", "1", "31 kg", "required", "=1+1"],
    ["Ingot 4T drive", "Pomandre", "71B", "", "HER-03", "Heron", "HERON-1", "A", "A", "1", "", "", "-5"],
    ["Ingot 4T drive", "Pomandre", "71C", "", "HER-03", "Heron", "HERON-1", "B", "B", "1", "", "", "@x"],
    ["Ties", "", "", "", "HER-01", "Heron", "", "", "", "2 doz", "", "", ""],
    ["Stand", "Kittiwade", "", "", "HER-01", "Heron", "", "", "", "1", "", "", "'=quoted"],
    ["Stand", "Kittiwade", "", "", "HER-01", "Heron", "", "", "", "1", "", "spare", ""],
    ["tidy up here"],
]


@pytest.fixture(autouse=True)
def house(ours):
    return ours


@pytest.fixture
def sheet():
    return bring_in(SHEET, answers={"rest": "Mill Yard", "note:sheet!11": "note"})


def state():
    """Everything an import can change, without the import's own record."""
    items = list(Item.objects.order_by("pk").values())
    types = list(ItemType.objects.order_by("pk").values())
    others = [model.objects.count() for model in (Entry, Label, Place, System, DriveSet, Organisation, SystemPart)]
    return items, types, others


def again(body, name="gear.csv"):
    """Import a sheet once more; return what it counted."""
    return bring_in(body, name, answers={"note:sheet!11": "note"}).outcome


def test_things_their_homes_sets_and_systems_are_written(sheet):
    drive = Item.objects.get(serial="71B")
    assert drive.home_case.number == "HER-03"
    assert (drive.home_system.name, drive.home_set.name, drive.home_set.bays) == ("Heron", "HERON-1", "A B")
    assert drive.home_set.host.name == "Heron"
    assert System.objects.get().prefix == "HER"
    assert Item.objects.get(type__name="Ties").quantity == 24
    assert Item.objects.count() == 8
    assert sheet.outcome["added"] == 8


def test_a_first_import_places_things_at_home_by_import(sheet):
    drive = Item.objects.get(serial="71B")
    packed = Entry.objects.get(label__item=drive, verb=Verb.PACKED)
    assert (packed.place.item.number, packed.bay, packed.grade) == ("HER-03", "A", Grade.IMPORT)
    case = Entry.objects.get(label__item__number="HER-03")
    assert (case.verb, case.place.name, case.place.is_ours) == (Verb.PLACED, "Mill Yard", True)
    assert drive.holding.place == packed.place


def test_a_bay_in_a_sheet_is_a_bay_in_the_set_and_never_a_fitting(sheet):
    joined = Entry.objects.get(label__item__serial="71B", verb=Verb.JOINED)
    assert (joined.drive_set.name, joined.bay) == ("HERON-1", "A")
    assert not Entry.objects.filter(verb=Verb.FITTED).exists()


def test_every_thing_gets_a_code_and_every_case_room_inside(sheet):
    assert all(item.labels.count() == 1 for item in Item.objects.all())
    assert {case.inside.kind for case in Item.objects.filter(type__kind__in=("case", "frame"))} == {"inside"}


def test_masses_are_kept_in_kilograms_and_of_a_case_empty(sheet):
    assert ItemType.objects.get(name="Drive box").container.tare_kg == Decimal("3.629")
    assert ItemType.objects.get(name="Ebbmark 6 frame").mass_kg == Decimal("31.000")


def test_needed_rows_are_parts_of_their_system(sheet):
    parts = {(str(part.item or part.type), part.necessity, part.show_stopper) for part in SystemPart.objects.all()}
    assert parts == {("Orrinvale Ebbmark 6 frame OV-71", "required", True), ("Kittiwade Stand", "spare", False)}


def test_blank_and_content_are_entries_and_silence_is_none():
    head = ["item", "maker", "serial", "content", "blank by", "blank how"]
    rows = [
        head,
        ["Ingot 4T drive", "Pomandre", "1", "blank", "Tomas Quill", "read back"],
        ["Ingot 4T drive", "Pomandre", "2", "Civic Awards", "", ""],
        ["Ingot 4T drive", "Pomandre", "3", "", "", ""],
    ]
    bring_in(rows)
    blank = Entry.objects.get(verb=Verb.DECLARED_BLANK)
    assert (blank.label.item.serial, blank.value, blank.by) == ("1", "read back", "Ida Penrake")
    assert "Tomas Quill" in blank.note
    content = Entry.objects.get(verb=Verb.CONTENT_GIVEN)
    assert (content.label.item.serial, content.note, content.reference) == ("2", "Civic Awards", "")
    assert not Entry.objects.filter(label__item__serial="3").exists()


def test_a_worn_serial_is_unreadable_since_the_import():
    bring_in([["item", "serial"], ["Pane 24", "worn"]])
    assert Item.objects.get().serial_unreadable_since == T0


def test_a_code_printed_ahead_is_taken_up():
    (label,) = issue_blank(1, at=T0)
    bring_in([["code", "item", "qty"], [label.code, "Pane 24", "1"]])
    assert Item.objects.get().labels.get().code == label.code


def test_a_sheet_with_something_in_its_way_writes_nothing():
    sheet = make_sheet([*SHEET, ["Pane 24", "", "1.2E+9", "", "", "", "", "", "", "1"]])
    before = state()
    with pytest.raises(CommitRefused, match="1 cell must change and 1 question is open"):
        commit(sheet.pk, by=IDA, at=T0)
    assert state() == before


def test_a_failure_half_way_leaves_nothing(monkeypatch):
    sheet = make_sheet(SHEET)
    before = state()

    def fail(*args, **kwargs):
        raise CommitRefused("no")

    monkeypatch.setattr(ledger, "record", fail)
    with pytest.raises(CommitRefused):
        commit(sheet.pk, by=IDA, at=T0)
    assert state() == before
    sheet.refresh_from_db()
    assert sheet.committed_at is None


def test_a_sheet_goes_in_once(sheet):
    with pytest.raises(CommitRefused, match="in the book already"):
        commit(sheet.pk, by=IDA, at=T0)


def test_a_book_that_changed_meanwhile_refuses_and_writes_nothing(monkeypatch):
    from inventory.exchange import commit as committing

    sheet = make_sheet([["item", "maker", "serial"], ["Pane 24", "Kittiwade", "K1"]])
    stale = plan_sheet(sheet)
    bring_in([["item", "maker", "serial"], ["Pane 24", "Kittiwade", "K1"]])
    before = state()
    monkeypatch.setattr(committing, "plan_sheet", lambda _: stale)
    with pytest.raises(CommitRefused, match="The book changed"):
        commit(sheet.pk, by=IDA, at=T0)
    assert state() == before


# Coming back


@pytest.mark.parametrize("form", [CSV, XLSX])
def test_the_returned_sheet_keeps_rows_columns_and_order_and_gains_a_code(sheet, form):
    body = sheet_back(sheet, form)
    if form == CSV:
        lines = body.decode("utf-8-sig").split("\r\n")
        assert lines[0] == '"Heron, all of it"'
        assert lines[1] == ",".join([*HEAD, "code"])
    else:
        rows = list(load_workbook(io.BytesIO(body)).active.values)
        assert rows[1] == (*HEAD, "code")
        assert rows[2][:4] == ("Rack case", "Fettlewick", None, "HER-01")
        assert rows[2][-1] == Item.objects.get(number="HER-01").labels.get().code
        assert rows[10] == ("tidy up here", *[None] * 12, "note")


@pytest.mark.parametrize("form", [CSV, XLSX])
def test_the_returned_sheet_asks_nothing_that_was_answered_of_its_rows(sheet, form):
    plan = dry_run(sheet_back(sheet, form), f"gear.{form}")
    assert plan.can_commit and {row.action for row in plan.rows} == {"same"}


@pytest.mark.parametrize("form", [CSV, XLSX])
def test_the_returned_sheet_changes_nothing_however_often(sheet, form):
    name = f"gear.{form}"
    for _ in range(3):
        before = state()
        body = sheet_back(sheet, form)
        outcome = again(body, name)
        assert (outcome["added"], outcome["changed"]) == (0, 0)
        assert state() == before
        sheet = ImportedSheet.objects.order_by("pk").last()
        assert sheet_back(sheet, form) == body if form == CSV else True


def test_the_same_sheet_without_codes_changes_nothing_either(sheet):
    before = state()
    outcome = again(SHEET)
    assert (outcome["added"], outcome["changed"], outcome["same"]) == (0, 0, 8)
    assert state() == before


def test_rows_in_another_order_change_nothing(sheet):
    before = state()
    again([*SHEET[:2], *reversed(SHEET[2:10]), *SHEET[10:]])
    assert state() == before


def test_text_that_a_spreadsheet_would_run_is_guarded_in_csv_and_a_string_in_xlsx(sheet):
    text = sheet_back(sheet, CSV).decode("utf-8-sig")
    assert ",'=1+1," in text and ",'-5," in text and ",'@x," in text and ",''=quoted," in text
    cells = [row[12] for row in load_workbook(io.BytesIO(sheet_back(sheet, XLSX))).active.iter_rows()]
    assert [cell.value for cell in cells[4:7]] == ["=1+1", "-5", "@x"]
    assert {cell.data_type for cell in cells[4:7]} == {"s"}


def test_apostrophes_come_off_only_on_a_sheet_with_our_codes(sheet):
    ours = make_sheet(sheet_back(sheet, CSV))
    assert [row[12].text for row in plan_sheet(ours).tables[0].tab.rows[4:7]] == ["=1+1", "-5", "@x"]
    other = dry_run([["item", "serial"], ["'=1", "K1"]])
    assert other.rows[0].line.model == "'=1"


def test_the_mended_sheet_adds_exactly_the_rows_that_were_left_out():
    bad = [*SHEET, ["Pane 24", "Kittiwade", "4.7E+11", "", "HER-01", "Heron", "", "", "", "1", "5 kg"]]
    sheet = bring_in(bad, left_out=["sheet!12"], answers={"note:sheet!11": "note"})
    assert sheet.outcome["left_out"] == ["sheet!12"]
    mended = sheet_back(sheet, CSV).replace(b"4.7E+11", b"471000000000")
    before = set(Item.objects.values_list("pk", flat=True))
    outcome = again(mended)
    (new,) = Item.objects.exclude(pk__in=before)
    assert (outcome["added"], outcome["changed"], new.serial) == (1, 0, "471000000000")


def test_a_later_state_amends_the_home_and_places_nothing_that_was_placed(sheet):
    stand = Item.objects.filter(type__name="Stand").first()
    shelf = make_place("Shelf B2", "shelf")
    ledger.record([Fact(Verb.PLACED, stand, place=shelf)], by=IDA, at=T0)
    code = stand.labels.get().code
    body = sheet_back(sheet, CSV).decode("utf-8-sig")
    (line,) = [one for one in body.split("\r\n") if code in one]
    outcome = again(body.replace(line, line.replace("HER-01", "HER-03")).encode())
    stand.refresh_from_db()
    assert outcome["changed"] == 1
    assert stand.home_case.number == "HER-03"
    assert Entry.objects.get(verb=Verb.AMENDED).field == "home_case"
    assert stand.holding.place == shelf


def test_a_renumbered_case_keeps_its_old_number_for_ever(sheet):
    code = Item.objects.get(number="HER-03").labels.get().code
    again([["code", "item", "case no"], [code, "Drive box", "HER-30"]])
    case = Item.objects.get(number="HER-30")
    assert case.aliases.get().number == "HER-03"


def test_an_empty_cell_says_nothing_and_clears_nothing(sheet):
    before = Item.objects.get(serial="71B")
    again([["code", "item", "serial", "home case", "system"], [before.labels.get().code, "", "", "", ""]])
    after = Item.objects.get(serial="71B")
    assert (after.home_case, after.home_system) == (before.home_case, before.home_system)


def test_several_tabs_come_back_as_several_tabs():
    head = ["item", "serial", "qty"]
    sheet = bring_in(xlsx_bytes([head, ["Pane 24", "K1", 1]], [["words"]], [head, ["Pane 24", "K2", 1]]), "gear.xlsx")
    book = load_workbook(io.BytesIO(sheet_back(sheet, XLSX)))
    assert book.sheetnames == ["Tab 1", "Tab 2", "Tab 3"]
    assert book["Tab 2"]["A1"].value == "words"
    assert book["Tab 3"]["D2"].value == Item.objects.get(serial="K2").labels.get().code


def test_a_persons_own_code_column_stays_and_ours_has_another_name():
    sheet = bring_in([["code", "item", "serial"], ["LF-1", "Pane 24", "K1"]])
    lines = sheet_back(sheet, CSV).decode("utf-8-sig").split("\r\n")
    code = Item.objects.get().labels.get().code
    assert lines[:2] == ["code,item,serial,book code", f"LF-1,Pane 24,K1,{code}"]
    assert again(sheet_back(sheet, CSV))["same"] == 1


KINDS = st.sampled_from(["Pane 24", "Power cord C13", "Stand", "Keyboard", "Ties"])
OWN = st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cf", "Cs", "Cn", "Co", "Zl", "Zp")), max_size=6)
THINGS = st.lists(
    st.tuples(KINDS, st.sampled_from(["", "HER-01", "HER-02"]), st.integers(1, 4), st.booleans(), OWN), max_size=12
)


def _rows(things):
    """A sheet of these things; lots are merged by hand, as the importer asks."""
    rows = [["item", "case no", "home case", "qty", "serial", "mine"]]
    rows += [["Rack case", number, "", "1", "", ""] for number in ("HER-01", "HER-02")]
    lots = set()
    for number, (kind, home, pieces, has_serial, own) in enumerate(things):
        lot = pieces > 1 and not has_serial
        if lot and (kind, home) in lots:
            continue
        if lot:
            lots.add((kind, home))
        rows.append([kind, "", home, "1" if has_serial else str(pieces), f"S{number:03}" if has_serial else "", own])
    return rows


@pytest.mark.parametrize("form", [CSV, XLSX])
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(things=THINGS)
def test_any_sheet_returned_and_imported_again_changes_nothing(form, things, transactional_cleanup):
    sheet = bring_in(_rows(things))
    body = sheet_back(sheet, form)
    before = state()
    plan = dry_run(body, f"gear.{form}")
    assert [row.action for row in plan.rows] == ["same" if row.item.home_case_id else row.action for row in plan.rows]
    outcome = bring_in(body, f"gear.{form}").outcome
    assert (outcome["added"], outcome["changed"]) == (0, 0)
    assert state() == before
    bring_in(_rows(things))
    assert state() == before
    transactional_cleanup()


@pytest.fixture
def transactional_cleanup(db, house):
    """Each example starts from an empty book: the whole example is undone by a savepoint."""
    from django.db import transaction

    saved = [transaction.savepoint()]

    def undo():
        transaction.savepoint_rollback(saved.pop())
        saved.append(transaction.savepoint())

    return undo


def test_many_rows_ask_little_more_of_the_database(house):
    """Up to what is written at once; what a long sheet takes is measured by tests/benchmarks/bench_import.py."""

    def questions(name: str, many: int) -> int:
        rows = [["Pane 24", "Kittiwade", f"{name}{n:05}", "", "", "Heron", "", "", "", "1", "5 kg", "", ""]
                for n in range(many)]  # fmt: skip
        sheet = make_sheet([HEAD, *rows], answers={"house": house.name, "rest": "Mill Yard"})
        with CaptureQueriesContext(connection) as asked:
            commit(sheet.pk, by=IDA, at=T0)
        return len(asked)

    questions("K", 30)  # makes the type, the system and the store, too
    assert questions("M", 95) - questions("L", 30) <= (95 - 30) // 10  # rows go in by the dozen
    assert Item.objects.count() == 155


@pytest.mark.skipif(connection.vendor != "sqlite", reason="only SQLite has one writer at a time")
@pytest.mark.parametrize("written_between", [False, True])
def test_a_sheet_is_looked_at_before_others_wait_and_again_if_somebody_wrote(ours, monkeypatch, written_between):
    looks = []

    def looked(sheet):
        looks.append(len(connection.savepoint_ids))  # how deep in transactions
        return plan_sheet(sheet)

    sheet = make_sheet([["item", "serial"], ["Pane 24", "K1"]], answers={"rest": "none"})
    monkeypatch.setattr(committing, "mark", lambda: "as it was")
    monkeypatch.setattr(committing, "is_still", lambda here: here == "as it was" and not written_between)
    monkeypatch.setattr(committing, "plan_sheet", looked)
    assert committing.commit(sheet.pk, by=IDA, at=T0)["added"] == 1
    assert len(looks) == (2 if written_between else 1)
    assert looks[-1] > looks[0] if written_between else looks == [0]


@pytest.mark.skipif(connection.vendor != "sqlite", reason="SQLite has one writer; others do not wait for a sheet")
@pytest.mark.parametrize("written_between", (False, True))
def test_codes_are_drawn_before_others_wait_and_again_if_somebody_wrote(ours, monkeypatch, written_between):
    draws, draw = [], codes._draw

    def drawn():
        draws.append(len(connection.savepoint_ids))  # how deep in transactions
        return draw()

    sheet = make_sheet([["item", "serial"], *(["Pane 24", f"K{n}"] for n in range(3))], answers={"rest": "none"})
    monkeypatch.setattr(committing, "mark", lambda: "as it was")
    monkeypatch.setattr(committing, "is_still", lambda here: not written_between)
    monkeypatch.setattr(codes, "_draw", drawn)
    assert committing.commit(sheet.pk, by=IDA, at=T0)["added"] == 3
    assert draws.count(0) == 3 and len(draws) == (6 if written_between else 3)
    assert Label.objects.filter(item__type__name="Pane 24").count() == 3
