"""The pages of shows: dock to dock, bookings, consignments and legs, cancelling; who sees and who may."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.ledger import Fact, record
from inventory.models import ClientReference, Kind, PlaceKind, SystemPart, Verb
from shipping.models import Booking, Consignment, Leg, Show
from tests.factories import (
    IDA,
    make_case,
    make_case_type,
    make_item,
    make_leg,
    make_place,
    make_set,
    make_show,
    make_system,
)

DAY = timedelta(days=1)


@pytest.fixture
def show(db):
    start = timezone.now() + 10 * DAY
    hall = make_place("Fjellmark Hall", PlaceKind.VENUE)
    times = {"leaves_at": start, "starts_at": start + DAY, "ends_at": start + 3 * DAY, "back_at": start + 5 * DAY}
    return make_show("FMC", name="Fjellmark Masters Chess", venue=hall, **times)


@pytest.fixture
def heron(db):
    system = make_system("Heron")
    for number in ("HER-01", "HER-02", "HER-03"):
        make_case(number, home_system=system)
    SystemPart.objects.create(
        system=system, item=make_item(name="panel cord", home_system=system), left_behind_prone=True
    )
    return system


def url(name, *args):
    return reverse(name, args=args)


def text(response):
    return response.content.decode()


def times(start):
    stamps = [start, start + DAY, start + 2 * DAY, start + 3 * DAY]
    names = ["leaves_at", "starts_at", "ends_at", "back_at"]
    return {name: f"{timezone.localtime(stamp):%Y-%m-%dT%H:%M}" for name, stamp in zip(names, stamps, strict=True)}


def test_the_page_shows_dates_bookings_and_what_stays_behind(show, heron, kit_manager, sign_in):
    Booking.objects.create(show=show, system=heron, booked_at=timezone.now(), booked_by="Ida Penrake")
    said = text(sign_in(kit_manager).get(url("show", "FMC")))
    assert "Fjellmark Masters Chess" in said and "dock-strip" in said
    assert "panel cord" in said and "often left behind" in said
    assert "Nothing has left a store with FMC yet" in said
    assert "3 cases are in no consignment" in said


def test_a_client_sees_its_own_reference_and_404_for_any_other(show, client_person, sign_in):
    client = sign_in(client_person)
    assert client.get(url("show", "FMC")).status_code == 404
    assert client.get(url("show", "XXX")).status_code == 404
    ClientReference.objects.create(person=client_person, reference="FMC")
    said = text(client.get(url("show", "FMC")))
    assert "Fjellmark Masters Chess" in said
    assert "Booked" not in said and "Cancel the show" not in said
    assert text(client.get(url("shows"))).count("FMC") >= 1


def test_a_stranger_is_asked_to_sign_in(show, sign_in):
    assert sign_in(None).get(url("show", "FMC")).status_code == 302


def test_a_show_is_added_with_its_times_in_order(kit_manager, road_lead, sign_in):
    client, start = sign_in(kit_manager), timezone.now()
    good = {"code": "cca", "name": "Civic Awards", **times(start)}
    assert sign_in(road_lead).post(url("show-add"), good).status_code == 403
    wrong = client.post(url("show-add"), {**good, "ends_at": times(start - 9 * DAY)["ends_at"]})
    assert (wrong.status_code, "Put the times in order" in text(wrong)) == (422, True)
    assert client.post(url("show-add"), {**good, "code": "a/b"}).status_code == 422
    assert client.post(url("show-add"), good).status_code == 302
    assert Show.objects.get().code == "CCA"


def test_renaming_keeps_the_code(show, kit_manager, sign_in):
    client = sign_in(kit_manager)
    assert client.get(url("show-edit", "FMC")).status_code == 200
    body = {"code": "OTHER", "name": "Masters of Chess", **times(timezone.now())}
    assert client.post(url("show-edit", "FMC"), body).status_code == 302
    show.refresh_from_db()
    assert (show.code, show.name) == ("FMC", "Masters of Chess")


def test_booking_a_system_without_a_blank_set_says_so_at_once(show, heron, kit_manager, sign_in):
    make_set("HERON-1", host=heron)
    client = sign_in(kit_manager)
    answer = client.post(url("show-book", "FMC"), {"what": f"system:{heron.pk}"}, follow=True)
    assert "Heron is booked on Fjellmark Masters Chess" in text(answer)
    assert "Nothing says that a drive set of Heron may be recorded on" in text(answer)
    assert "Nothing says that a drive set of Heron may be recorded on" in text(client.get(url("show", "FMC")))


def test_booking_refuses_nothing_both_unknown_and_twice(show, heron, kit_manager, sign_in):
    client, address = sign_in(kit_manager), url("show-book", "FMC")
    assert client.post(address, {}).status_code == 422
    assert client.post(address, {"what": f"system:{heron.pk}", "thing": "HER-01"}).status_code == 422
    assert client.post(address, {"thing": "ZZZ"}).status_code == 422
    assert client.post(address, {"what": "system:999"}).status_code == 422
    assert client.post(address, {"thing": "HER-01"}).status_code == 302
    assert client.post(address, {"thing": "HER-01"}).status_code == 422
    booking = Booking.objects.get()
    assert client.post(url("show-unbook", "FMC", booking.pk)).status_code == 302
    assert not Booking.objects.exists()
    assert "not on this show any more" in text(client.post(url("show-unbook", "FMC", booking.pk), follow=True))


def test_only_the_kit_manager_books_and_cancels(show, road_lead, staff, sign_in):
    for person in (road_lead, staff):
        for name in ("show-book", "show-cancel"):
            assert sign_in(person).post(url(name, "FMC")).status_code == 403


def test_cancelling_asks_where_the_gear_is(show, kit_manager, sign_in):
    client = sign_in(kit_manager)
    assert client.post(url("show-cancel", "FMC"), {"why": "rain"}).status_code == 422
    assert client.post(url("show-cancel", "FMC"), {"stage": "packed", "why": ""}).status_code == 422
    assert client.post(url("show-cancel", "FMC"), {"stage": "packed", "why": "rain"}).status_code == 302
    said = text(client.get(url("show", "FMC")))
    assert "CANCELLED" in said and "packed: rain" in said
    assert client.post(url("show-cancel", "FMC"), {"stage": "packed", "why": "rain"}).status_code == 422


def test_sealed_cases_of_a_cancelled_show_are_named_as_re_assignable(show, heron, kit_manager, sign_in):
    Booking.objects.create(show=show, system=heron, booked_at=timezone.now(), booked_by="Ida Penrake")
    case = heron.items.get(number="HER-02")
    record([Fact(Verb.SEALED, case, seal="004470")], by=IDA, at=timezone.now())
    client = sign_in(kit_manager)
    client.post(url("show-cancel", "FMC"), {"stage": "packed", "why": "rain"})
    said = text(client.get(url("show", "FMC")))
    assert "Packed and sealed for a show that is off" in said and "004470" in said


def test_consignments_are_numbered_split_and_numbered_anew(show, heron, road_lead, sign_in):
    Booking.objects.create(show=show, system=heron, booked_at=timezone.now(), booked_by="Ida Penrake")
    client, cases = sign_in(road_lead), {case.number: case.pk for case in heron.items.exclude(number=None)}
    assert client.post(url("consignment-add", "FMC"), {"name": "by road"}).status_code == 422
    made = client.post(url("consignment-add", "FMC"), {"name": "by road", "cases": list(cases.values())})
    assert made.status_code == 302
    first = Consignment.objects.get()
    assert [(row.position, row.case.number) for row in first.cases.all()] == [
        (1, "HER-01"), (2, "HER-02"), (3, "HER-03"),
    ]  # fmt: skip
    again = client.post(url("consignment-add", "FMC"), {"name": "again", "cases": [cases["HER-01"]]})
    assert (again.status_code, "Already consigned" in text(again)) == (422, True)
    whole = {"name": "by air", "cases": list(cases.values())}
    assert client.post(url("consignment-split", "FMC", first.pk), whole).status_code == 422
    part = {"name": "by air", "cases": [cases["HER-01"]]}
    assert client.post(url("consignment-split", "FMC", first.pk), part).status_code == 302
    second = Consignment.objects.get(name="by air")
    assert second.split_from == first
    assert [row.position for row in first.cases.all()] == [1, 2]
    assert [row.case.number for row in second.cases.all()] == ["HER-01"]


def test_a_case_gets_its_room_or_leaves_the_consignment(show, heron, road_lead, sign_in):
    make_leg(heron.items.exclude(number=None).order_by("number"), show=show)
    client, row = sign_in(road_lead), Consignment.objects.get().cases.first()
    address = url("consignment-case", "FMC", row.pk)
    client.post(address, {"to_room": "Hall control room", "first_off": "on"})
    row.refresh_from_db()
    assert (row.to_room, row.first_off) == ("Hall control room", True)
    client.post(address, {"remove": "1"})
    assert [one.position for one in Consignment.objects.get().cases.all()] == [1, 2]


def test_a_leg_takes_a_vehicle_or_a_waybill_and_stays_once_travelled(show, heron, road_lead, sign_in):
    consignment = Consignment.objects.create(show=show, name="by road")
    yard = make_place("Mill Yard", is_ours=True)
    teasel = make_item(make_case_type("Box 7.5 t", kind=Kind.VEHICLE), number="Teasel")
    client, add = sign_in(road_lead), url("leg-add", "FMC", consignment.pk)
    body = {"mode": "road", "from_place": yard.pk, "to_place": show.venue_id}
    assert client.get(add).status_code == 200
    assert client.post(add, body).status_code == 422
    assert client.post(add, {**body, "to_place": yard.pk, "vehicle": teasel.pk}).status_code == 422
    assert client.post(add, {**body, "vehicle": teasel.pk}).status_code == 302
    leg = Leg.objects.get()
    edit = url("leg-edit", "FMC", leg.pk)
    assert client.post(edit, {**body, "vehicle": teasel.pk, "driver": "Wes Tarn"}).status_code == 302
    record([Fact(Verb.DEPARTED, teasel, place=leg.road, reference="FMC")], by=IDA, at=timezone.now())
    assert "Something has travelled this leg" in text(client.post(edit, {"remove": "1"}, follow=True))
    assert Leg.objects.get().driver == "Wes Tarn"


def test_a_road_lead_changes_only_a_show_that_is_theirs(show, kit_manager, road_lead, sign_in):
    show.lead = kit_manager
    show.save(update_fields=["lead"])
    assert sign_in(road_lead).get(url("show", "FMC")).status_code == 200
    assert sign_in(road_lead).get(url("show-edit", "FMC")).status_code == 403
    assert sign_in(kit_manager).get(url("show-edit", "FMC")).status_code == 200


def test_the_page_leads_to_a_pass_for_the_crew(show, road_lead, staff, sign_in):
    link = f'href="{url("pass-make", show.code)}"'
    offered = [link in text(sign_in(one).get(url("show", show.code))) for one in (road_lead, staff)]
    assert offered == [True, False]


def test_the_list_costs_the_same_queries_for_many_shows_as_for_one(show, kit_manager, sign_in):
    client = sign_in(kit_manager)
    client.get(url("shows"))
    with CaptureQueriesContext(connection) as one:
        client.get(url("shows"))
    for n in range(60):
        make_show(f"S{n}", name=f"Show {n}")
    with CaptureQueriesContext(connection) as many:
        said = text(client.get(url("shows")))
    assert len(many) == len(one)
    assert "Page 1 of 2" in said


def test_the_page_costs_the_same_queries_for_many_bookings_as_for_one(show, heron, kit_manager, sign_in):
    def put(system):
        Booking.objects.create(show=show, system=system, booked_at=timezone.now(), booked_by="Ida Penrake")

    put(heron)
    client = sign_in(kit_manager)
    client.get(url("show", "FMC"))
    with CaptureQueriesContext(connection) as one:
        client.get(url("show", "FMC"))
    for n in range(4):
        system = make_system(f"Wren {n}", slug=f"wren-{n}")
        make_case(f"WRE-{n}1", home_system=system)
        put(system)
    with CaptureQueriesContext(connection) as many:
        client.get(url("show", "FMC"))
    assert len(many) == len(one)
