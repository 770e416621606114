"""A sheet that comes again: what was answered before stands as given, follows its column or thing, may be changed."""

from __future__ import annotations

import csv
import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from inventory.exchange.back import sheet_back
from inventory.exchange.commit import commit
from inventory.exchange.out import CSV, XLSX
from inventory.exchange.plan import plan_sheet
from inventory.forms.importing import UploadForm, key_of
from inventory.models import Entry, ImportedSheet, Verb
from tests.factories import IDA, T0, make_place
from tests.inventory.sheets import csv_bytes, make_sheet

HEAD = ["item", "maker", "serial", "case no", "home case", "system", "set", "location", "qty", "weight", "content"]
SHEET = [
    HEAD,
    ["Rack case", "Fettlewick", "", "HER-01", "", "Heron", "", "", "1", "22", ""],
    ["Drive box", "Fettlewick", "", "HER-03", "", "Heron", "", "", "1", "4", ""],
    ["Pane 24", "Kittiwade", "TBC", "", "HER-1", "Herron 1", "", "", "1", "5.1", ""],
    ["Pane 24", "Kittiwade", "K71", "", "HER-01", "Heron 1", "", "", "2", "6", ""],
    ["Cable ties", "Hobbinet", "", "", "HER-01", "", "", "", "about 200", "", ""],
    ["Ingot 4T drive", "Pomandre", "71B", "", "HER-03", "", "HERON-1", "", "1", "", "blank"],
]
ANSWERS = {
    "column:sheet!H": "place", "unit:sheet!J": "kg", "serial:sheet!4": "none", "one-serial:sheet!5": "one",
    "quantity:sheet!6": "200", "system:HERRON1": "same", "case:HER1": "row:sheet!2", "rest": "none",
    "type:KITTIWADE|PANE24:mass_kg": "5.100", "content:heron 1": "unknown",
}  # fmt: skip


@pytest.fixture
def before(ours):
    """The sheet as it came first, with everything answered, in the book."""
    sheet = make_sheet(SHEET, answers=ANSWERS)
    assert [one.id for one in plan_sheet(sheet).questions if one.is_open] == []
    commit(sheet.pk, by=IDA, at=T0)
    sheet.refresh_from_db()
    return sheet


def upload(body, name):
    form = UploadForm({}, {"file": SimpleUploadedFile(name, body)})
    assert form.is_valid(), form.errors
    return form.save(by="Ida Penrake", at=T0)


def open_in(sheet):
    return [one.id for one in plan_sheet(sheet).questions if one.is_open]


def rows_of(sheet):
    return list(csv.reader(io.StringIO(sheet_back(sheet, CSV).decode("utf-8-sig"))))


@pytest.mark.parametrize("form", [CSV, XLSX])
def test_a_returned_sheet_asks_nothing_again_whatever_its_name(before, form):
    plan = plan_sheet(again := upload(sheet_back(before, form), f"gear (1).{form}"))
    assert open_in(again) == []
    assert [row.line.called for row in plan.rows if row.action != "same"] == []
    answered = {one.id.partition(":")[0]: one.answer for one in plan.questions}
    assert answered["unit"] == "kg"
    assert answered["quantity"] == "200"


def test_answers_follow_their_columns_and_their_things(before):
    rows = rows_of(before)
    moved = [[row[-1], *row[:-1]] for row in [rows[0], *reversed(rows[1:])]]
    again = upload(csv_bytes(moved), "sorted.csv")
    assert open_in(again) == []
    assert again.answers["unit:sheet!K"] == "kg"
    assert again.answers["quantity:sheet!3"] == "200"


def test_another_text_in_the_cell_is_another_question(before):
    rows = rows_of(before)
    rows[5][HEAD.index("qty")] = "about 300"
    assert open_in(upload(csv_bytes(rows), "gear.csv")) == ["quantity:sheet!6"]


def test_a_column_under_another_heading_is_asked(before):
    rows = rows_of(before)
    rows[0][HEAD.index("weight")] = "mass"
    assert open_in(upload(csv_bytes(rows), "gear.csv")) == ["unit:sheet!J"]


def test_a_sheet_of_other_things_and_another_name_is_asked_everything(before):
    other = [HEAD, ["Panel 2", "Kittiwade", "P2", "", "", "", "", "", "1", "5", ""]]
    again = upload(csv_bytes(other), "other.csv")
    assert again.answers == {}
    assert {"unit:sheet!J", "rest"} <= set(open_in(again))


def test_that_drives_were_said_to_be_blank_is_never_taken_over(ours):
    first = make_sheet(SHEET, answers={**ANSWERS, "content:heron 1": "Ida Penrake|wiped on Monday"})
    commit(first.pk, by=IDA, at=T0)
    first.refresh_from_db()
    rows = rows_of(first)
    code = rows[0].index("code")
    rows.append([*SHEET[-1][:2], "71C", *SHEET[-1][3:]])
    rows[-1].insert(code, "")
    again = upload(csv_bytes(rows), "gear.csv")
    assert open_in(again) == ["content:heron 1"]
    commit(again.pk, by=IDA, at=T0)
    assert Entry.objects.filter(verb=Verb.DECLARED_BLANK).count() == 1


def test_what_a_person_made_of_a_column_is_kept(ours):
    rows = [["item", "serial", "dossier"], ["Pane 24", "K71", "HER-01"], ["Rack case", "R1", ""]]
    first = make_sheet(rows, mapping={"sheet!C": "number"})
    commit(first.pk, by=IDA, at=T0)
    first.refresh_from_db()
    turned = [[row[2], row[0], row[1], *row[3:]] for row in rows_of(first)]
    assert upload(csv_bytes(turned), "x.csv").mapping == {"sheet!A": "number"}


def test_the_page_says_what_is_kept_and_from_where_and_asks_again(before, sign_in, kit_manager):
    make_place("Mill Yard")
    again = upload(sheet_back(before, CSV), "gear (1).csv")
    kit = sign_in(kit_manager)
    page = " ".join(kit.get(reverse("import-sheet", args=[again.pk])).content.decode().split())
    assert "This sheet came before, as <a href" in page and ">gear.csv</a>" in page
    asked = [one.id for one in plan_sheet(again).questions]
    assert len(asked) >= 8
    assert page.count("as before") == len(asked)
    kit.post(reverse("import-forget", args=[again.pk]), {"question": key_of("unit:sheet!J")})
    kit.post(reverse("import-answer", args=[again.pk]), {key_of("unit:sheet!J"): "lb"})
    again.refresh_from_db()
    assert again.answers["unit:sheet!J"] == "lb"
    page = kit.get(reverse("import-sheet", args=[again.pk])).content.decode()
    assert page.count("as before") == len(asked) - 1


def test_the_newest_state_of_a_sheet_is_the_one_remembered(before):
    second = upload(sheet_back(before, CSV), "gear.csv")
    ImportedSheet.objects.filter(pk=second.pk).update(answers={**second.answers, "rest": "Mill Yard"})
    commit(second.pk, by=IDA, at=T0)
    assert upload(sheet_back(before, CSV) + b"\n", "gear.csv").answers["rest"] == "Mill Yard"
