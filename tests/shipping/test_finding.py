"""What the search box finds of shows, clients and people, and which of many alike things it puts first."""

from __future__ import annotations

import html
import re
from datetime import timedelta

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory import ledger
from inventory.answers.search import is_sure, near_to, search
from inventory.ledger import Fact
from inventory.models import Item, Organisation, Verb
from shipping.models import Booking
from tests.factories import ANA, T0, make_drive, make_place, make_set, make_show, make_system

pytestmark = pytest.mark.django_db
SOON = {"leaves_at": T0 + timedelta(days=9), "starts_at": T0 + timedelta(days=10), "ends_at": T0 + timedelta(days=11),
        "back_at": T0 + timedelta(days=12)}  # fmt: skip
FAR = {name: when + timedelta(days=90) for name, when in SOON.items()}


@pytest.fixture
def dozen() -> dict[str, Item]:
    """Twelve drives whose serials end alike, all put down on one day; sets of some are booked."""
    shows = {"now": make_show("FMC"), "next": make_show("CCA", **SOON), "far": make_show("SBR", **FAR)}
    shows["gone"] = make_show("OLD", cancelled_at=T0)
    found = {}
    for n in range(12):
        found[str(n)] = make_drive(f"{n + 10}X77Y")
    for n, (name, show) in enumerate(shows.items()):
        drive_set = make_set(f"SET-{n}", host=make_system("Heron"))
        found[name] = drive = make_drive(f"{n + 30}X77Y", home_set=drive_set)
        Booking.objects.create(show=show, drive_set=drive_set, booked_at=T0, booked_by="Ida")
        ledger.record([Fact(Verb.PLACED, drive, place=make_place())], by=ANA, at=T0 - timedelta(days=40 + n))
    return found


def order(text: str, person=None) -> list[int]:
    hits = search(text, near=near_to(person, T0))
    return [int(hit.named.key) for hit in hits if hit.named.kind == "item"]


def test_of_a_dozen_that_fit_alike_those_on_now_come_first_then_those_on_next(dozen):
    ledger.record([Fact(Verb.PLACED, dozen["3"], place=make_place())], by=ANA, at=T0)
    found = order("X77Y")
    assert found[:3] == [dozen["now"].pk, dozen["next"].pk, dozen["3"].pk], "then the one handled last"
    first = search("X77Y", near=near_to(None, T0))[0]
    assert first.near is not None and first.near.words == "booked on FMC, on now"
    assert not is_sure(search("X77Y", near=near_to(None, T0))), "offered, not guessed"


def test_of_two_on_now_the_show_one_leads_comes_first(dozen, road_lead):
    mine = make_show("WHS", lead=road_lead)
    drive_set = make_set("SET-9")
    drive = make_drive("88X77Y", home_set=drive_set)
    Booking.objects.create(show=mine, drive_set=drive_set, booked_at=T0, booked_by="Ida")
    assert order("X77Y", road_lead)[:2] == [drive.pk, dozen["now"].pk]
    first = search("X77Y", near=near_to(road_lead, T0))[0]
    assert first.near is not None and first.near.words == "booked on WHS, on now, yours to lead"


def test_what_is_typed_in_full_is_meant_whatever_is_on(dozen):
    assert order("13X77Y")[0] == dozen["3"].pk


def test_the_things_of_a_booked_system_are_near_too():
    system, other = make_system("Heron"), make_system("Wren")
    for n in range(4):
        make_drive(f"{n + 10}X88Y", home_system=other)
    wanted = make_drive("99X88Y", home_system=system)
    Booking.objects.create(show=make_show("FMC"), system=system, booked_at=T0, booked_by="Ida")
    assert order("X88Y")[0] == wanted.pk


def test_the_page_says_why_one_stands_first_and_tells_a_client_nothing(dozen, staff, client_person, sign_in):
    with time_machine.travel(T0, tick=False):
        page = sign_in(staff).get("/where/", {"q": "X77Y"}).content.decode()
        assert "booked on FMC, on now" in page and "Of things that fit alike" in page
        assert page.index("booked on FMC, on now") < page.index("booked on CCA, next, from")
        assert "booked on" not in sign_in(client_person).get("/where/", {"q": "X77Y"}).content.decode()


def test_which_is_near_costs_two_questions_however_many_are_booked(dozen):
    with CaptureQueriesContext(connection) as few:
        near_to(None, T0)([dozen["now"].pk])
    for n in range(20):
        Booking.objects.create(
            show=make_show(f"S{n:02}"), drive_set=make_set(f"MORE-{n}"), booked_at=T0, booked_by="Ida"
        )
    with CaptureQueriesContext(connection) as many:
        near_to(None, T0)([one.pk for one in dozen.values()])
    assert len(many) == len(few) == 2


@pytest.mark.parametrize(("typed", "meant"), [("7IBO", "71B0"), ("71BO", "71B0"), ("7lb0", "71B0"), ("71 80", "71B0")])
def test_a_tail_that_was_misread_finds_what_the_right_one_finds(typed, meant):
    drives = [make_drive(serial) for serial in ("4471B0", "5571B0", "71B04K")]
    right = [hit.named.key for hit in search(meant) if hit.named.kind == "item"]
    assert [hit.named.key for hit in search(typed) if hit.named.kind == "item"] == right
    assert set(right) == {one.pk for one in drives}


@pytest.mark.parametrize("typed", ["Glasswright", "glaswright", "civic awards", "CCA", "cca", "Carrowmere"])
def test_a_show_is_found_by_its_client_its_name_and_its_code(typed):
    trust = Organisation.objects.create(name="Glasswright Trust")
    make_show("CCA", name="Carrowmere Civic Awards", client=trust, **SOON)
    make_show("FMC")
    first = search(typed)[0].named
    assert (first.kind, first.key) == ("show", "CCA")


def test_a_discreet_show_is_not_found_by_its_clients_name():
    trust = Organisation.objects.create(name="Glasswright Trust")
    make_show("CCA", name="Evening in March", client=trust, discreet=True, **SOON)
    assert [hit.named.key for hit in search("Glasswright") if hit.named.kind == "show"] == []


@pytest.mark.parametrize("typed", ["Ana Rell", "ana", "rell", "Anna Rell"])
def test_a_person_is_found_by_either_name(road_lead, typed):
    first = search(typed)[0].named
    assert (first.kind, first.words) == ("person", "Ana Rell")


def test_a_person_is_answered_with_each_thing_in_hand_how_sure_and_how_old(road_lead, staff, sign_in):
    drive = make_drive("71B04K")
    with time_machine.travel(T0, tick=False):
        ledger.record([Fact(Verb.PLACED, drive, place=make_place())], by=ANA, at=T0 - timedelta(days=9))
        from inventory.hands import hand_over

        hand_over([drive], road_lead, by=ANA, at=T0 - timedelta(days=2))
        page = sign_in(staff).get("/where/", {"q": "Ana Rell"}).content.decode()
    words = re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", page)))
    assert "Ana Rell holds 1 thing." in words and "71B04K" in words and "2 days ago" in words


def test_the_drives_of_a_set_are_drawn_in_their_places_alike_ones_once(staff, sign_in):
    drive_set, place = make_set("HERON-2"), make_place()
    drives = [make_drive(f"71B0{n}K", home_set=drive_set) for n in range(4)]
    facts = [Fact(Verb.JOINED, one, drive_set=drive_set, bay=bay) for one, bay in zip(drives, "ABCD", strict=True)]
    facts += [Fact(Verb.PLACED, one, place=place) for one in drives[:3]]
    facts += [Fact(Verb.PLACED, drives[3], place=make_place("Quay Unit"))]
    ledger.record(facts, by=ANA, at=T0)
    with time_machine.travel(T0 + timedelta(hours=1), tick=False):
        page = sign_in(staff).get("/where/", {"q": "HERON-2"}).content.decode()
    assert page.count('<figure class="drawing">') == 2 and "3 drives" in page and "Where 3 drives are" in page
