"""The import pages and the work list, as each person meets them."""

from __future__ import annotations

import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from openpyxl import load_workbook

from inventory.forms.importing import key_of
from inventory.models import Entry, ImportedSheet, Item, ItemType, Verb, WorkListNote
from tests.factories import make_case, make_item, make_type
from tests.inventory.sheets import bring_in, csv_bytes, make_sheet

ROWS = [
    ["item", "maker", "serial", "case no", "home case", "qty", "weight"],
    ["Rack case", "Fettlewick", "", "HER-01", "", "1", "22 kg"],
    ["Pane 24", "Kittiwade", "K0071", "", "HER-01", "1", "heavy"],
]
NUMBER_SERIAL = [*ROWS, ["Pane 24", "Kittiwade", "1.2E+11", "", "HER-01", "1", "5 kg"]]


def upload(client, rows, name="gear.csv"):
    body = rows if isinstance(rows, bytes) else csv_bytes(rows)
    return client.post(reverse("import"), {"file": SimpleUploadedFile(name, body)})


@pytest.fixture
def kit(sign_in, kit_manager):
    return sign_in(kit_manager)


ADDRESSES = ["/import/", "/import/1/", "/import/1/gear.csv", "/import/1/gear.xlsx", "/work-list/"]
ACTS = ["answer", "forget", "columns", "leave-out", "commit", "stop", "abandon"]


@pytest.mark.parametrize("address", ADDRESSES)
@pytest.mark.parametrize("who", ["road_lead", "crew", "staff", "client_person"])
def test_only_a_kit_manager_imports(db, request, sign_in, address, who):
    make_sheet(ROWS)
    assert sign_in(request.getfixturevalue(who)).get(address).status_code == 403


@pytest.mark.parametrize("address", ADDRESSES)
def test_a_stranger_is_asked_to_sign_in(db, sign_in, address):
    assert sign_in(None).get(address).status_code == 302


@pytest.mark.parametrize("act", ACTS)
def test_acts_on_a_sheet_are_posted_by_a_kit_manager_only(sign_in, kit, crew, act):
    sheet = make_sheet(ROWS)
    address = f"/import/{sheet.pk}/{act}/"
    assert kit.get(address).status_code == 405
    assert sign_in(crew).post(address).status_code == 403
    assert sign_in(None).post(address).status_code == 302
    assert ImportedSheet.objects.filter(committed_at=None).count() == 1


def test_the_page_publishes_every_column_and_limit(kit):
    page = kit.get("/import/").content.decode()
    assert "home case" in page and "lives in" in page
    assert "10 MB" in page


def test_an_upload_is_kept_and_changes_nothing(kit):
    response = upload(kit, ROWS)
    sheet = ImportedSheet.objects.get()
    assert response.url == f"/import/{sheet.pk}/"
    assert bytes(sheet.body) == csv_bytes(ROWS)
    assert not Item.objects.exists()
    assert not Entry.objects.exists()


def test_the_same_file_uploaded_twice_is_found_again(kit):
    upload(kit, ROWS)
    upload(kit, ROWS)
    assert ImportedSheet.objects.count() == 1
    assert "Not in the book yet" in kit.get("/import/").content.decode()


@pytest.mark.parametrize(("body", "says"), [(b"", "empty"), (b"%PDF-1.4", "PDF"), (b"PK\x03\x04", "cannot be read")])
def test_an_unreadable_file_is_refused_beside_its_field(kit, body, says):
    response = upload(kit, body)
    assert response.status_code == 422
    assert says in response.content.decode()
    assert not ImportedSheet.objects.exists()


def test_no_file_is_a_sentence(kit):
    assert "Choose a file first" in kit.post("/import/").content.decode()


def test_a_dry_run_shows_what_would_happen_and_what_stays_unknown(kit, ours):
    sheet = make_sheet(ROWS)
    page = kit.get(f"/import/{sheet.pk}/").content.decode()
    assert "2 things would be added" in page
    assert "CAN GO IN" in page
    assert "G3" in page and "heavy" in page


def test_a_refused_cell_stops_the_sheet_until_its_row_is_left_out(kit, ours):
    sheet = make_sheet(NUMBER_SERIAL)
    page = kit.get(f"/import/{sheet.pk}/").content.decode()
    assert "1 cell must change" in page
    assert "C4" in page and "from the plate" in page
    assert kit.post(f"/import/{sheet.pk}/commit/").status_code == 422
    assert not Item.objects.exists()
    kit.post(f"/import/{sheet.pk}/leave-out/", {"row": "sheet!4"})
    assert "1 left out" in kit.get(f"/import/{sheet.pk}/").content.decode()
    kit.post(f"/import/{sheet.pk}/commit/")
    assert Item.objects.count() == 2
    assert "sheet!4" in kit.get(f"/import/{sheet.pk}/").content.decode()


def test_a_row_left_out_can_be_taken_in_again(kit, ours):
    sheet = make_sheet(NUMBER_SERIAL, left_out=["sheet!4"])
    kit.post(f"/import/{sheet.pk}/leave-out/", {"row": "sheet!4", "do": "take in"})
    sheet.refresh_from_db()
    assert sheet.left_out == []


def test_questions_are_answered_on_the_page_and_can_be_asked_again(kit, ours):
    ours.is_ours = False
    ours.save()
    sheet = make_sheet(ROWS, answers={})
    page = kit.get(f"/import/{sheet.pk}/").content.decode()
    assert "What is your own organisation called?" in page
    kit.post(f"/import/{sheet.pk}/answer/", {f"{key_of('house')}-words": "Lanternfold"})
    sheet.refresh_from_db()
    assert sheet.answers == {"house": "Lanternfold"}
    assert "<strong>Lanternfold</strong>" in kit.get(f"/import/{sheet.pk}/").content.decode()
    kit.post(f"/import/{sheet.pk}/forget/", {"question": key_of("house")})
    sheet.refresh_from_db()
    assert sheet.answers == {}


def test_an_answer_that_was_not_offered_is_dropped(kit, ours):
    sheet = make_sheet([["item", "location"], ["Pane 24", "HER-01"]], answers={})
    kit.post(f"/import/{sheet.pk}/answer/", {key_of("column:sheet!B"): "owner"})
    sheet.refresh_from_db()
    assert sheet.answers == {}


def test_columns_can_be_said_to_mean_something_else(kit, ours):
    sheet = make_sheet([["item", "ident", "qty"], ["Pane 24", "K0071", "1"]])
    kit.post(f"/import/{sheet.pk}/columns/", {key_of("sheet!B"): "serial"})
    kit.post(f"/import/{sheet.pk}/commit/")
    assert Item.objects.get().serial == "K0071"


def test_a_sheet_is_put_away_unless_it_is_in_the_book(kit, ours):
    sheet = make_sheet(ROWS)
    kit.post(f"/import/{sheet.pk}/abandon/")
    assert not ImportedSheet.objects.exists()
    done = bring_in(ROWS)
    assert kit.post(f"/import/{done.pk}/abandon/").status_code == 404
    assert ImportedSheet.objects.exists()


def test_a_sheet_goes_in_once(kit, ours):
    sheet = make_sheet(ROWS)
    kit.post(f"/import/{sheet.pk}/commit/")
    response = kit.post(f"/import/{sheet.pk}/commit/", follow=True)
    assert "in the book already" in response.content.decode()
    assert Item.objects.count() == 2


def test_the_entries_name_who_imported(kit, ours):
    sheet = make_sheet(ROWS)
    kit.post(f"/import/{sheet.pk}/commit/")
    assert {entry.by for entry in Entry.objects.all()} == {"Ida Penrake"}


def test_the_sheet_comes_back_as_a_file(kit, ours):
    sheet = bring_in(ROWS, "My gear, \u201cnew\u201d.csv")
    response = kit.get(f"/import/{sheet.pk}/gear.xlsx")
    assert response["Content-Disposition"] == 'attachment; filename="My-gear-new.xlsx"'
    rows = list(load_workbook(io.BytesIO(response.content)).active.values)
    assert rows[0] == (*ROWS[0], "code")
    assert rows[1][-1] == Item.objects.get(number="HER-01").labels.get().code
    assert kit.get(f"/import/{sheet.pk}/gear.csv").content.startswith(b"\xef\xbb\xbfitem,maker")


def test_a_sheet_not_in_the_book_has_no_codes_to_give(kit):
    sheet = make_sheet(ROWS)
    assert kit.get(f"/import/{sheet.pk}/gear.csv").status_code == 404


def test_hostile_text_of_a_sheet_is_shown_as_text(kit, ours):
    sheet = make_sheet([["item", "<script>alert(1)</script>"], ["<img src=x onerror=y>", "1"]], "<b>.csv")
    page = kit.get(f"/import/{sheet.pk}/").content.decode()
    assert "<script>alert" not in page
    assert "<img" not in page


def test_the_pages_ask_the_same_number_of_queries_for_more_rows(kit, ours):
    def queries(rows):
        from django.db import connection
        from django.test.utils import CaptureQueriesContext

        sheet = make_sheet(rows)
        with CaptureQueriesContext(
            connection,
        ) as caught:
            kit.get(f"/import/{sheet.pk}/")
        return len(caught)

    head, case = ROWS[0], ROWS[1]
    few = [head, case, *(["Pane 24", "Kittiwade", f"K{n:04}", "", "HER-01", "1", ""] for n in range(3))]
    many = [head, case, *(["Pane 24", "Kittiwade", f"K{n:04}", "", "HER-01", "1", ""] for n in range(90))]
    assert queries(few) == queries(many)


# The work list


def test_the_work_list_names_what_nobody_said(kit, ours):
    bring_in(ROWS)
    page = kit.get("/work-list/").content.decode()
    assert "What these weigh" in page
    assert "heavy" in page


def test_an_empty_work_list_says_what_to_do_next(kit):
    assert "Nothing is unknown" in kit.get("/work-list/").content.decode()


@pytest.mark.parametrize(
    ("key", "text", "field", "value"),
    [
        ("mass", "9 lb", "mass_kg", "4.082"),
        ("mass", "4.2", "mass_kg", "4.200"),
        ("kind", "monitor", "kind", "monitor"),
        ("value", "1200 EUR", "currency", "EUR"),
        ("size", "60 x 40 x 25 cm", "length_mm", "600"),
    ],
)
def test_an_unknown_of_a_type_is_settled_on_the_list(kit, key, text, field, value):
    item = make_item()
    response = kit.post(f"/work-list/{key}/{item.type.pk}/", {"value": text})
    assert response.url.endswith(f"#{key}")
    assert str(getattr(ItemType.objects.get(pk=item.type.pk), field)) == value


def test_rails_and_sine_are_answered_with_one_press(kit):
    frame = make_item(make_type("Ebbmark 6", "Orrinvale", kind="frame"))
    assert "Do these need rails?" in kit.get("/work-list/").content.decode()
    kit.post(f"/work-list/rails/{frame.type.pk}/", {"value": "no"})
    assert ItemType.objects.get(pk=frame.type.pk).needs_rails is False
    assert "Do these need rails?" not in kit.get("/work-list/").content.decode()


def test_an_inspection_date_is_written_with_an_entry(kit):
    item = make_item(make_type("Pane 24", "Kittiwade", kind="monitor"))
    kit.post(f"/work-list/inspection/{item.pk}/", {"value": "2026-05-14"})
    item.refresh_from_db()
    assert str(item.inspection_due) == "2026-05-14"
    assert Entry.objects.get(verb=Verb.AMENDED).field == "inspection_due"


def test_a_home_case_is_found_by_its_number_however_written(kit):
    case, item = make_case("HER-07"), make_item()
    kit.post(f"/work-list/home/{item.pk}/", {"value": "her 07"})
    item.refresh_from_db()
    assert item.home_case == case


@pytest.mark.parametrize(
    ("key", "text"),
    [
        ("mass", "heavy"), ("mass", "0"), ("mass", "-2 kg"), ("mass", "2 mm"), ("size", "10 x 10"), ("value", "12"),
        ("kind", "hat"),
    ],
)  # fmt: skip
def test_an_answer_that_cannot_be_read_is_kept_on_the_screen_with_what_to_do(kit, key, text):
    item = make_item()
    response = kit.post(f"/work-list/{key}/{item.type.pk}/", {"value": text})
    assert response.status_code == 422
    assert text in response.content.decode()
    assert ItemType.objects.get(pk=item.type.pk).mass_kg is None


def test_words_of_a_sheet_stay_until_they_are_dealt_with(kit, ours):
    bring_in(ROWS)
    note = WorkListNote.objects.get()
    assert note.text == "heavy"
    kit.post(f"/work-list/notes/{note.pk}/", {"value": ""})
    assert not WorkListNote.objects.exists()


@pytest.mark.parametrize("address", ["/work-list/mass/999/", "/work-list/nonsense/1/", "/work-list/place/1/"])
def test_an_address_without_a_form_is_not_found(kit, address):
    assert kit.post(address, {"value": "1 kg"}).status_code == 404


def test_the_work_list_costs_the_same_for_more_things(kit):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    def queries():
        with CaptureQueriesContext(connection) as caught:
            assert kit.get("/work-list/").status_code == 200
        return len(caught)

    def more(start, count):
        for n in range(start, start + count):
            make_item(make_type(f"Pane {n}", "Kittiwade", kind="monitor"), serial=f"K{n}")

    more(0, 4)
    few = queries()
    more(10, 20)
    assert queries() == few
