"""The return, Today and Promise pages: who sees what, what a press keeps, what is refused."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.ledger import Fact, record
from inventory.models import ClientReference, Entry, PlaceKind, SystemPart, Verb
from shipping.models import Booking, Return, ReturnException
from tests.factories import IDA, make_case, make_item, make_leg, make_place, make_show, make_system, make_type

DAY = timedelta(days=1)


@pytest.fixture
def trip(db):
    """HER-07 with a key and twelve cords went to the hall by waybill and came back to Mill Yard, unopened."""
    now = timezone.now()
    yard = make_place("Mill Yard", is_ours=True)
    hall = make_place("Fjellmark Hall", PlaceKind.VENUE)
    start = now - 9 * DAY
    times = {"leaves_at": start, "starts_at": start + DAY, "ends_at": start + 2 * DAY, "back_at": start + 8 * DAY}
    show = make_show("FMC", name="Fjellmark Masters Chess", **times)
    case = make_case("HER-07")
    key = make_item(name="licence key", home_case=case)
    cords = make_item(make_type("cord 2 m", "Hobbinet", is_lot=True), name="cords", quantity=12, home_case=case)
    leg = make_leg([case], show=show, from_place=yard, to_place=hall)
    record([Fact(Verb.PLACED, case, place=yard)], by=IDA, at=start)
    record([Fact(Verb.PACKED, one, place=case.inside) for one in (key, cords)], by=IDA, at=start)
    record([Fact(Verb.SEALED, case, seal="004470")], by=IDA, at=start + DAY / 4)
    record([Fact(Verb.DEPARTED, case, place=leg.road, reference="FMC")], by=IDA, at=start + DAY / 2)
    record([Fact(Verb.ARRIVED, case, place=yard, reference="FMC")], by=IDA, at=now - DAY)
    return show, case, key, cords


def url(name, *args):
    return reverse(name, args=args)


def text(response):
    return response.content.decode()


def test_the_page_lists_by_case_what_left_and_what_became_of_it(trip, kit_manager, sign_in):
    said = text(sign_in(kit_manager).get(url("return", "FMC")))
    assert "1 of 1 cases and 2 of 2 things are back" in said
    assert "back sealed, not opened" in said


def test_a_client_sees_its_own_return_without_buttons_and_404_for_others(trip, client_person, sign_in):
    client = sign_in(client_person)
    assert client.get(url("return", "FMC")).status_code == 404
    ClientReference.objects.create(person=client_person, reference="FMC")
    said = text(client.get(url("return", "FMC")))
    assert "licence key" in said and "Close the return" not in said and "Read its seal" not in said
    assert client.post(url("return-here", "FMC", trip[2].pk)).status_code == 403


def test_one_press_checks_a_thing_in_and_opens_the_return(trip, crew, sign_in):
    show, _case, key, cords = trip
    client = sign_in(crew)
    assert client.get(url("return-here", "FMC", key.pk)).status_code == 405
    assert client.post(url("return-here", "FMC", key.pk)).status_code == 302
    entry = Entry.objects.get(verb=Verb.SEEN)
    assert (entry.label.item, entry.reference, entry.by) == (key, "FMC", "Wes Tarn")
    assert Return.objects.get().show == show
    assert "write how many came back" in text(client.post(url("return-here", "FMC", cords.pk), follow=True))


def test_a_press_leads_back_to_the_case_it_was_in_and_opens_it(trip, crew, sign_in):
    _show, case, key, _cords = trip
    client = sign_in(crew)
    answer = client.post(url("return-here", "FMC", key.pk) + f"?case={case.pk}")
    assert answer.url == url("return", "FMC") + f"?case={case.pk}#case-{case.pk}"
    folded = '<details class="fold"><summary><b>HER-07</b>'
    assert folded in text(client.get(url("return", "FMC")))
    assert folded.replace('fold"', 'fold" open') in text(client.get(answer.url))
    strange = client.post(url("return-mark", "FMC", key.pk) + "?case=//x.example/", {"what": "missed"})
    assert strange.url == url("return", "FMC")


def test_what_is_wrong_stands_before_what_is_settled(trip, crew, sign_in):
    client, key = sign_in(crew), trip[2]
    assert "Settled: 1 case" in text(client.get(url("return", "FMC")))
    client.post(url("return-thing", "FMC", key.pk), {"condition": "broken"})
    said = text(client.get(url("return", "FMC")))
    assert "Wrong or missing: 1 case" in said and "Settled" not in said


def test_a_closing_refused_keeps_the_words_that_were_written(trip, kit_manager, sign_in):
    client, (_show, _case, key, cords) = sign_in(kit_manager), trip
    for one in (key, cords):
        client.post(url("return-mark", "FMC", one.pk), {"what": "missed"})
    refused = client.post(url("return-close", "FMC"), {"words": "all we can do", f"why-{key.pk}": "insurer pays"})
    assert refused.status_code == 422 and "all we can do" in text(refused)


def test_a_lot_and_a_fault_are_checked_in_with_count_and_words(trip, crew, sign_in):
    _show, _case, key, cords = trip
    client = sign_in(crew)
    assert client.get(url("return-thing", "FMC", cords.pk)).status_code == 200
    assert client.post(url("return-thing", "FMC", cords.pk), {"quantity": "-1"}).status_code == 422
    assert client.post(url("return-thing", "FMC", cords.pk), {"quantity": "9"}).status_code == 302
    wordless = client.post(url("return-thing", "FMC", key.pk), {"faulty": "on"})
    assert (wordless.status_code, "Write what is wrong" in text(wordless)) == (422, True)
    client.post(url("return-thing", "FMC", key.pk), {"faulty": "on", "note": "bent plug"})
    assert Entry.objects.get(verb=Verb.FAULTED).note == "bent plug"
    said = text(client.get(url("return", "FMC")))
    assert "9 of 12 came back" in said and "bent plug" in said


def test_a_thing_is_marked_missed_or_left_under_a_promise(trip, crew, client_person, sign_in):
    _show, _case, key, cords = trip
    client = sign_in(crew)
    assert client.post(url("return-mark", "FMC", key.pk), {"what": "left"}).status_code == 422
    assert client.post(url("return-mark", "FMC", key.pk), {"what": "lost"}).status_code == 422
    assert client.post(url("return-mark", "FMC", key.pk), {"what": "missed"}).status_code == 302
    hall = make_place("Fjellmark Hall", PlaceKind.VENUE)
    body = {"what": "left", "place": hall.pk, "person": client_person.pk, "note": "rack 3"}
    assert client.post(url("return-mark", "FMC", cords.pk), body).status_code == 302
    said = text(client.get(url("return", "FMC")))
    assert "was looked for and not found" in said and "rack 3" in said


def test_the_seal_is_compared_and_a_wrong_one_is_said(trip, crew, sign_in):
    case = trip[1]
    client, address = sign_in(crew), url("return-seal", "FMC", trip[1].pk)
    assert client.post(address, {"number": ""}).status_code == 422
    assert "004470 as expected" in text(client.post(address, {"number": "004470"}, follow=True))
    assert "004470 expected, 004481 found" in text(client.post(address, {"number": "004481"}, follow=True))
    assert Entry.objects.filter(label__item=case, seal="004481").exists()


def test_all_of_a_case_is_checked_in_once_somebody_looked(trip, crew, sign_in):
    client, case = sign_in(crew), trip[1]
    assert "2 things looked at" in text(client.post(url("return-case", "FMC", case.pk), follow=True))
    assert "checked in already" in text(client.post(url("return-case", "FMC", case.pk), follow=True))


def test_closing_names_every_thing_still_owed(trip, kit_manager, road_lead, sign_in):
    show, _case, key, _cords = trip
    client, close = sign_in(kit_manager), url("return-close", "FMC")
    client.post(url("return-mark", "FMC", key.pk), {"what": "missed"})
    assert sign_in(road_lead).post(close).status_code == 403
    unnamed = client.post(close, {"words": "done"})
    assert (unnamed.status_code, "Still owed without a word: licence key" in text(unnamed)) == (422, True)
    assert client.post(close, {"words": "done", f"why-{key.pk}": "insurer pays"}).status_code == 302
    kept = ReturnException.objects.get()
    assert (kept.item, kept.outcome, kept.why) == (key, "missed", "insurer pays")
    assert Return.objects.get(show=show).closed_by == "Ida Penrake"
    assert "was closed by Ida Penrake" in text(client.post(url("return-here", "FMC", key.pk), follow=True))


def test_today_names_what_is_late_and_not_ready_by_role(trip, kit_manager, staff, crew, client_person, sign_in):
    heron = make_system("Heron")
    SystemPart.objects.create(system=heron, item=make_item(name="right rail", home_system=heron))
    start = timezone.now() + 2 * DAY
    times = {"leaves_at": start, "starts_at": start + DAY, "ends_at": start + 2 * DAY, "back_at": start + 4 * DAY}
    Booking.objects.create(
        show=make_show("CCA", name="Civic Awards", **times), system=heron, booked_at=start, booked_by="Ida Penrake"
    )
    hall = make_place("Fjellmark Hall", PlaceKind.VENUE)
    owed = Fact(Verb.LEFT, trip[2], place=hall, person=client_person, due_at=timezone.now() - DAY)
    record([owed], by=IDA, at=timezone.now() - 2 * DAY)
    said = text(sign_in(kit_manager).get(url("today")))
    assert "Get Heron ready for Civic Awards" in said
    assert "Ask Jo Marlow for licence key" in said
    assert "Check in Fjellmark Masters Chess" in said
    said = text(sign_in(staff).get(url("today")))
    assert "Ask Jo Marlow for licence key" in said and "Get Heron ready" not in said
    assert "Load Civic Awards" in text(sign_in(crew).get(url("today")))
    assert "Nothing waits for you" in text(sign_in(client_person).get(url("today")))
    assert sign_in(None).get(url("today")).status_code == 302


def test_promise_answers_by_address_and_says_what_is_wrong_with_a_question(db, staff, client_person, sign_in):
    heron, client = make_system("Heron"), sign_in(staff)
    assert client.get(url("promise")).status_code == 200
    assert sign_in(client_person).get(url("promise")).status_code == 403
    asked = {"leaves_at": "2036-03-20T08:00", "back_at": "2036-03-25T08:00", "systems": heron.pk}
    assert "Heron: free from 20 March" in text(client.get(url("promise"), asked))
    assert client.get(url("promise"), {**asked, "back_at": "2036-03-19T08:00"}).status_code == 422
    assert client.get(url("promise"), {"leaves_at": "x"}).status_code == 422


def test_the_return_costs_the_same_queries_for_many_things_as_for_few(trip, kit_manager, sign_in):
    client, (_show, case, _key, _cords) = sign_in(kit_manager), trip
    client.get(url("return", "FMC"))
    with CaptureQueriesContext(connection) as few:
        client.get(url("return", "FMC"))
    more = [make_item(name=f"thing {n}", home_case=case) for n in range(15)]
    start = timezone.now() - 9 * DAY
    record([Fact(Verb.PACKED, one, place=case.inside, happened_at=start) for one in more], by=IDA, at=timezone.now())
    with CaptureQueriesContext(connection) as many:
        said = text(client.get(url("return", "FMC")))
    assert "of 17 things are back" in said
    assert len(many) == len(few)
