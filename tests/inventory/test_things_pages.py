"""The list of things, the page of one, and the acts on it."""

from __future__ import annotations

import csv
import io
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from openpyxl import load_workbook

from inventory import handling
from inventory.models import Entry, Item, ItemType, Label, PlaceKind, Verb
from inventory.models.places import Purpose
from tests.factories import (
    IDA,
    T0,
    make_case,
    make_case_type,
    make_item,
    make_owner,
    make_place,
    make_set,
    make_system,
    make_type,
)
from tests.inventory.test_photos import picture


@pytest.fixture
def ida(kit_manager, sign_in):
    return sign_in(kit_manager)


@pytest.fixture
def shelf(db):
    return make_place("Shelf 3", PlaceKind.SHELF, parent=make_place())


def code(item: Item) -> str:
    return item.labels.first().code


def text(answer) -> str:
    return answer.content.decode()


def many(count: int, **over) -> list[Item]:
    return [make_item(serial=f"S{Item.objects.count():05}", **over) for _ in range(count)]


def test_the_list_names_things_and_where_they_are(ida, shelf):
    panel = make_item(serial="P1", name="Heron panel")
    handling.put([panel], shelf, by=IDA, at=T0)
    page = text(ida.get("/things/"))
    assert f'href="/item/{code(panel)}/"' in page and "Shelf 3" in page


def test_an_empty_book_says_what_to_do(ida):
    assert "No thing fits this" in text(ida.get("/things/"))


def test_a_place_shows_what_is_in_what_stands_there(ida, shelf):
    case = make_case("HER-04")
    handling.put([case], shelf, by=IDA, at=T0)
    drive = make_item(serial="71B04K")
    handling.put([drive], case.inside, by=IDA, at=T0)
    elsewhere = make_item(serial="ELSE1")
    page = text(ida.get("/things/", {"place": shelf.parent_id}))
    assert "71B04K" in page and "HER-04" in page and elsewhere.serial not in page


def test_a_loop_of_cases_does_not_hang_the_filter(ida):
    one, other = make_case("HER-01"), make_case("HER-02")
    handling.put([one], other.inside, by=IDA, at=T0)
    handling.put([other], one.inside, by=IDA, at=T0 + timedelta(minutes=1))
    assert ida.get("/things/", {"place": make_place().pk}).status_code == 200


@pytest.mark.parametrize(
    "asked,seen,unseen",
    [
        ({"system": "heron"}, "H1", "C1"),
        ({"words": "c-1"}, "C1", "H1"),
        ({"owner": "hire"}, "R1", "H1"),
        ({"kind": "panel"}, "C1", "H1"),
        ({"standing": "retired"}, "W1", "H1"),
        ({}, "H1", "W1"),
    ],
)
def test_the_list_is_narrowed_by_its_address(ida, asked, seen, unseen):
    heron, hire = make_system("Heron"), make_owner("Brambleside Hire")
    make_item(serial="H1", home_system=heron)
    make_item(make_type("Perch", kind="panel"), serial="C1")
    make_item(serial="R1", owner=hire)
    make_item(serial="W1", retired_at=T0)
    if "system" in asked:
        asked = {"system": heron.pk}
    if "owner" in asked:
        asked = {"owner": hire.pk}
    page = text(ida.get("/things/", asked))
    assert f">{seen}<" in page and f">{unseen}<" not in page


def test_the_list_is_sorted_by_place(ida):
    for number, name in enumerate(("Zinnia room", "Apple room")):
        handling.put(many(1), make_place(name, PlaceKind.ROOM), by=IDA, at=T0 + timedelta(minutes=number))
    page = text(ida.get("/things/", {"sort": "place"}))
    table = page[page.index("<tbody>") :]
    assert table.index("Apple room") < table.index("Zinnia room")


def test_the_list_costs_the_same_whatever_its_length(ida, shelf, django_assert_num_queries):
    handling.put(many(3, home_system=make_system()), shelf, by=IDA, at=T0)
    with CaptureQueriesContext(__import__("django.db").db.connection) as few:
        ida.get("/things/")
    for _ in range(3):
        case = make_case(f"HER-{Item.objects.count()}")
        handling.put(many(10, home_case=case, home_set=make_set()), case.inside, by=IDA, at=T0)
    with django_assert_num_queries(len(few)):
        ida.get("/things/")


@pytest.mark.parametrize("asked", ({}, {"sort": "place"}, {"sort": "-since"}))
def test_a_file_of_the_list_reads_no_thing_by_itself(ida, shelf, asked):
    """Whatever a line says of a thing, its case, its set and where it is comes with the rows."""

    def questions() -> int:
        with CaptureQueriesContext(connection) as told:
            ida.get("/things/", {"export": "csv", **asked})
        return len(told)

    bare = make_item(make_case_type("Bare trunk"))
    handling.put(many(3, home_system=make_system(), home_set=make_set(), home_case=bare), bare.inside, by=IDA, at=T0)
    few = questions()
    handling.put(many(30, home_case=bare, name="Spare"), shelf, by=IDA, at=T0)
    assert questions() <= few + 1  # of the places, how many things each holds


def test_csv_and_xlsx_hold_the_columns_of_the_page_and_every_row(ida, shelf):
    handling.put(many(60), shelf, by=IDA, at=T0)
    rows = list(csv.reader(io.StringIO(ida.get("/things/", {"export": "csv"}).content.decode("utf-8-sig"))))
    sheet = load_workbook(io.BytesIO(ida.get("/things/", {"export": "xlsx"}).content)).active
    assert len(rows) == 61 and sheet.max_row == 61
    assert rows[0] == [cell.value for cell in sheet[1]]
    assert rows[0][:3] == ["Thing", "Code", "Serial"] and rows[1][6] == "Shelf 3"


def test_text_that_a_spreadsheet_would_run_is_guarded(ida):
    make_item(name='=HYPERLINK("http://x.example")')
    assert "\"'=HYPERLINK" in ida.get("/things/", {"export": "csv"}).content.decode("utf-8-sig")


def test_a_thing_is_found_by_code_number_and_former_number(ida):
    van = make_item(make_type("Teasel van", kind="vehicle"), number="VAN-1")
    van.aliases.create(number="TRUCK-9", since=T0)
    for name in (code(van), code(van).lower(), "VAN-1", "truck-9"):
        assert ida.get(f"/item/{name}/").status_code == 200
    assert ida.get("/item/NOTHING/").status_code == 404


def test_the_page_of_a_thing_leads_with_the_sentence_and_its_history(ida, shelf):
    panel = make_item(serial="P1", name="Heron panel", note="left <foot> is loose")
    handling.put([panel], shelf, by=IDA, at=T0)
    page = text(ida.get(f"/item/{code(panel)}/"))
    sentence = page.index('class="sentence"')
    assert "Shelf 3" in page[sentence : sentence + 200] and "Ida Penrake: placed at Shelf 3" in page
    assert "left &lt;foot&gt; is loose" in page and "mass not known" in page


def test_a_thing_of_others_says_whose_it_is(ida):
    hired = make_item(owner=make_owner("Brambleside Hire"))
    assert "Brambleside Hire (hired in, not ours)" in text(ida.get(f"/item/{code(hired)}/"))


def test_the_page_of_a_thing_costs_the_same_whatever_its_history(ida, shelf, django_assert_max_num_queries):
    panel = make_item()
    handling.put([panel], shelf, by=IDA, at=T0)
    with CaptureQueriesContext(__import__("django.db").db.connection) as few:
        ida.get(f"/item/{code(panel)}/")
    for hour in range(1, 30):
        handling.put([panel], shelf, by=IDA, at=T0 + timedelta(hours=hour))
    with django_assert_max_num_queries(len(few) + 1):
        ida.get(f"/item/{code(panel)}/")


def act(browser, item: Item, key: str, **data):
    return browser.post(f"/item/{code(item)}/{key}/", data)


def test_every_act_has_its_page(ida):
    lot = make_item(make_type("Tie 200", is_lot=True, serials_required=False), quantity=40)
    page = text(ida.get(f"/item/{code(lot)}/"))
    keys = [part.split('"')[0] for part in page.split(f'href="/item/{code(lot)}/')[1:]]
    assert len(keys) == 12  # 11 acts and the change of the row: a lot has no twin, and there is no fault to close
    assert all(ida.get(f"/item/{code(lot)}/{key}").status_code == 200 for key in keys)


def test_putting_a_thing_into_a_case_by_its_number(ida):
    case, drive = make_case("HER-04"), make_item(serial="71B04K")
    answer = act(ida, drive, "put", container="her-04", bay="C")
    assert answer.status_code == 302 and drive.holding.place == case.inside and drive.holding.bay == "C"


@pytest.mark.parametrize(
    "data,sentence",
    [
        ({}, "Choose a place, or write the number"),
        ({"container": "NOPE-1"}, "is no code, number or serial in the book"),
        ({"container": "71B04K"}, "cannot hold anything"),
    ],
)
def test_a_place_that_cannot_be_is_answered_beside_its_field(ida, data, sentence):
    drive = make_item(serial="71B04K")
    answer = act(ida, drive, "put", **data)
    assert answer.status_code == 422 and sentence in text(answer) and not Entry.objects.exists()


def test_a_fault_with_a_photo_goes_to_quarantine(ida, kit_manager):
    quarantine = make_place("Quarantine", PlaceKind.SHELF, purpose=Purpose.QUARANTINE)
    panel = make_item(serial="P1")
    upload = picture()
    upload.name = "fault.jpg"
    assert act(ida, panel, "fault", what="hums at half load", photo=upload, shelf=quarantine.pk).status_code == 302
    entry = Entry.objects.get(verb=Verb.FAULTED)
    assert entry.photo and entry.by == kit_manager.name and panel.holding.place == quarantine
    page = text(ida.get(f"/item/{code(panel)}/"))
    assert "FAULT" in page and "hums at half load" in page and f"/photo/{entry.photo_id}/" in page
    photo = ida.get(f"/photo/{entry.photo_id}/")
    assert photo["Content-Type"] == "image/jpeg" and b"".join(photo.streaming_content)[:2] == b"\xff\xd8"
    assert act(ida, panel, "mend", what="new fan, tested four hours").status_code == 302
    assert "FAULT</span>" not in text(ida.get(f"/item/{code(panel)}/"))


def test_a_file_that_is_no_photo_is_refused_and_nothing_is_written(ida):
    upload = io.BytesIO(b"MZ not a photo")
    upload.name = "fault.jpg"
    answer = act(ida, make_item(), "fault", what="hums", photo=upload)
    assert answer.status_code == 422 and "not a photo" in text(answer) and not Entry.objects.exists()


def test_a_photo_that_is_not_here_is_404(ida):
    assert ida.get(f"/photo/{'0' * 64}/").status_code == 404


def test_crew_may_report_but_not_write_off(crew, sign_in):
    wes, panel = sign_in(crew), make_item()
    assert act(wes, panel, "fault", what="dead").status_code == 302
    assert act(wes, panel, "write-off", reason="dead").status_code == 403
    assert "Write off" not in text(wes.get(f"/item/{code(panel)}/"))


def test_a_refusal_of_the_book_is_a_sentence_above_the_form(ida):
    one, other = make_item(serial="P1"), make_item(make_type("Perch"), serial="P2")
    answer = act(ida, one, "swap", other="P2", reason="mixed up")
    assert answer.status_code == 422 and "not two of a kind" in text(answer) and other.pk


def test_a_blank_label_is_adopted_and_a_used_one_is_not(ida):
    panel, other = make_item(serial="P1"), make_item(serial="P2")
    blank = Label.objects.create(code="7ACEFHJ", kind="blank", issued_at=T0)
    assert act(ida, panel, "label", code="7acefhj").status_code == 302
    blank.refresh_from_db()
    assert blank.item == panel
    answer = act(ida, other, "label", code="7ACEFHJ")
    assert answer.status_code == 422 and "for ever" in text(answer)
    assert "no code of ours" in text(act(ida, other, "label", code="WRONG"))


def test_the_desk_takes_several_things_or_none(ida, shelf):
    case, panel = make_case("HER-04"), make_item(serial="P1")
    wrong = ida.post("/desk/", {"doing": "check-in", "things": "HER-04\nP1\nNOPE", "place": shelf.pk})
    assert wrong.status_code == 422 and "Not in the book: NOPE" in text(wrong) and not Entry.objects.exists()
    right = ida.post("/desk/", {"doing": "check-in", "things": "HER-04\nP1\n\nher-04", "place": shelf.pk})
    assert right.status_code == 302 and case.holding.place == panel.holding.place == shelf
    assert Entry.objects.filter(verb=Verb.RECEIVED).values("act").distinct().count() == 1


def test_the_desk_hands_over_only_to_somebody(ida, crew):
    panel = make_item(serial="P1")
    assert ida.post("/desk/", {"doing": "hand-over", "things": "P1"}).status_code == 422
    ida.post("/desk/", {"doing": "hand-over", "things": "P1", "person": crew.pk, "reference": "FMC"})
    assert panel.holding.place.person == crew and Entry.objects.get().reference == "FMC"


def added(browser, **data):
    fields = {"type": make_type().pk, "owner": make_owner().pk, "quantity": 1, **data}
    return browser.post("/things/add/", fields)


def test_a_thing_is_added_with_a_code_and_its_place(ida, shelf):
    answer = added(ida, serial="P9", place=shelf.pk)
    item = Item.objects.get()
    assert answer["Location"] == f"/item/{code(item)}/" and item.holding.place == shelf


def test_a_thing_is_added_on_a_blank_label(ida):
    Label.objects.create(code="7ACEFHJ", kind="blank", issued_at=T0)
    added(ida, serial="P9", code="7ACEFHJ")
    assert [label.code for label in Item.objects.get().labels.all()] == ["7ACEFHJ"]
    answer = added(ida, serial="P10", code="7ACEFHJ")
    assert answer.status_code == 422 and "Take another blank label" in text(answer) and Item.objects.count() == 1


@pytest.mark.parametrize(
    "data,sentence",
    [
        ({"serial": "p 9"}, "has this serial already"),
        ({"number": "her-02"}, "is taken"),
        ({"number": "OLD-02"}, "leads there for ever"),
        ({"serial": "P10", "quantity": 3}, "A serial is on one piece"),
        ({"home_case": "P9"}, "is no case"),
    ],
)
def test_what_another_thing_has_is_refused_beside_its_field(ida, data, sentence):
    make_item(serial="P9")
    make_case("HER-02").aliases.create(number="OLD-02", since=T0)
    answer = added(ida, **data)
    assert answer.status_code == 422 and sentence in text(answer)


def test_a_changed_thing_keeps_its_history_and_its_old_number(ida):
    panel = make_item(serial="P1", number="PAN-1")
    fields = {"type": panel.type_id, "owner": panel.owner_id, "quantity": 1, "serial": "P1", "number": "PAN-7"}
    assert ida.post(f"/item/{code(panel)}/edit/", fields).status_code == 422
    assert ida.post(f"/item/{code(panel)}/edit/", {**fields, "reason": "renumbered"}).status_code == 302
    entry = Entry.objects.get(verb=Verb.AMENDED)
    assert (entry.field, entry.before, entry.after, entry.note) == ("number", "PAN-1", "PAN-7", "renumbered")
    assert "PAN-7" in text(ida.get("/item/PAN-1/"))


def test_a_kind_is_added_once_and_zero_is_no_mass(ida):
    fields = {"name": "Pane 24", "maker": "Kittiwade", "kind": "monitor", "supplies": 0, "battery_count": 0}
    assert "Zero is no measure" in text(ida.post("/kinds/add/", {**fields, "mass_kg": 0}))
    assert ida.post("/kinds/add/", {**fields, "mass_kg": "4.2", "needs_rails": "unknown"}).status_code == 302
    assert "in the book already" in text(ida.post("/kinds/add/", {**fields, "name": "pane-24"}))
    assert ItemType.objects.get().needs_rails is None


@pytest.mark.parametrize(
    "address", ["/things/", "/kinds/", "/places/", "/people/", "/ledger/", "/ledger/odd/", "/desk/"]
)
def test_an_empty_book_opens_every_list(ida, address):
    assert ida.get(address).status_code == 200


def test_what_is_alike_is_offered_with_where_it_is(ida):
    heron, curlew = make_system("Heron"), make_system("Curlew")
    one, other = make_item(serial="P1", home_system=heron), make_item(serial="P2", home_system=curlew)
    make_item(make_type("Perch"), serial="P3")
    page = text(ida.get(f"/item/{code(one)}/swap/"))
    assert "P2, of Curlew. Nobody has said where" in page and "P3" not in page
    assert act(ida, one, "swap", alike=other.pk, reason="mixed up").status_code == 302
    other.refresh_from_db()
    assert other.home_system == heron


def test_which_other_thing_is_asked_for_once(ida):
    one, other, third = make_item(serial="P1"), make_item(serial="P2"), make_item(serial="P3")
    assert "Say which" in text(act(ida, one, "replace", reason="dead"))
    assert "You chose one above" in text(act(ida, one, "replace", alike=other.pk, other="P3", reason="dead"))
    third.refresh_from_db()
    assert third.home_system is None and act(ida, one, "replace", alike=third.pk, reason="dead").status_code == 302


def test_faults_are_closed_only_where_one_is_open(ida):
    panel = make_item(serial="P1")
    page = f"/item/{code(panel)}/"
    assert "Close its faults" not in text(ida.get(page))
    act(ida, panel, "fault", what="dead")
    assert "Close its faults" in text(ida.get(page))
