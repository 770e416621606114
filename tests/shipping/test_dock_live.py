"""The live part of the dock view: it is sent again when it reads differently, and only then."""

from __future__ import annotations

import pytest
import time_machine
from django.core.cache import cache
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory import accepting, ledger
from inventory.ledger import Fact
from inventory.models import DayPass, Device, Photo, SetAside, Verb
from tests.factories import IDA, T0, make_case, make_device, make_item, make_type, make_vehicle
from tests.inventory.uploading import a_scan, answers, later


@pytest.fixture(autouse=True)
def clock():
    cache.clear()
    with time_machine.travel(later(minutes=10), tick=False) as travelled:
        yield travelled


def code(item) -> str:
    return item.labels.get().code


def look(client, leg, mark=""):
    return client.get(f"/dock/{leg.pk}/now/", headers={"If-None-Match": mark} if mark else {})


def words(response) -> str:
    return " ".join(response.content.decode().split())


def test_nothing_is_sent_again_while_nothing_has_changed(pim, leg):
    first = look(pim, leg)
    assert (first.status_code, first["Cache-Control"]) == (200, "private, no-cache")
    again = look(pim, leg, first["ETag"])
    assert (again.status_code, again.content, again["ETag"]) == (304, b"", first["ETag"])


def test_a_scan_is_there_at_the_next_look_with_who_did_it(pim, leg, cases):
    mark = look(pim, leg)["ETag"]
    answers([a_scan("HER-01", verb="loaded", place=code(leg.vehicle), at=later(minutes=9))])
    seen = look(pim, leg, mark)
    assert seen.status_code == 200
    assert '<p class="big">2</p>' in words(seen)
    assert "<strong>HER-01</strong> Pim Osgood: loaded on Teasel</p>" in words(seen)
    assert "Came in at" not in words(seen)


def _unsent(leg, cases):
    Device.objects.update(unsent=3)


def _held(leg, cases):
    answers([a_scan("HER-01", verb="written off")])


def _joined(leg, cases):
    make_device("Ana Rell", day_pass=DayPass.objects.get())


def _listed(leg, cases):
    leg.consignment.cases.create(case=make_case("HER-10"), position=9)


def _room(leg, cases):
    leg.consignment.cases.update(to_room="Hall B")


def _elsewhere(leg, cases):
    other = make_vehicle("Meadowrue")
    ledger.record([Fact(Verb.LOADED, cases[0], place=other.inside)], by=IDA, at=later(minutes=9))


def _late_story(leg, cases):
    """Older than what is known, so nothing moves: and yet two people tell two stories now."""
    other = make_vehicle("Meadowrue")
    answers([a_scan("HER-01", verb="loaded", place=code(other), at=later(minutes=1))])


@pytest.mark.parametrize("change", [_unsent, _held, _joined, _listed, _room, _elsewhere, _late_story])
def test_whatever_would_read_differently_is_sent(pim, leg, cases, change):
    make_device("Wes", day_pass=DayPass.objects.get())
    answers([a_scan("HER-01", verb="loaded", place=code(leg.vehicle), at=later(minutes=5))], "Wes")
    mark = look(pim, leg)["ETag"]
    change(leg, cases)
    assert look(pim, leg, mark).status_code == 200


def test_ages_are_sent_once_a_minute(pim, leg, clock):
    mark = look(pim, leg)["ETag"]
    clock.shift(20)
    assert look(pim, leg, mark).status_code == 304
    clock.shift(40)
    assert look(pim, leg, mark).status_code == 200


def test_a_lead_s_page_is_not_a_pass_s_page(pim, sign_in, road_lead, leg):
    mark = look(pim, leg)["ETag"]
    assert look(sign_in(road_lead), leg, mark).status_code == 200


def test_what_came_in_late_says_when_it_came(pim, leg, cases):
    answers([a_scan("HER-01", verb="loaded", place=code(leg.vehicle), at=later(minutes=1))])
    assert "that phone had no network." in words(look(pim, leg))


def test_what_was_taken_back_is_not_told_as_done(pim, leg, cases):
    told = a_scan("HER-01", verb="loaded", place=code(leg.vehicle), at=later(minutes=8))
    told["act"] = told["id"]
    back = a_scan("HER-01", verb="corrected", corrects=told["act"], at=later(minutes=9))
    answers([told, back])
    assert "HER-01</strong> Pim" not in words(look(pim, leg))


def test_a_held_scan_says_in_words_what_it_would_record(sign_in, kit_manager, leg, cases):
    make_device("Pim Osgood")
    answers([a_scan("HER-01", verb="written off", note="run over"), a_scan("HER-02", verb="released")])
    page = words(look(sign_in(kit_manager), leg))
    assert "<strong>HER-01: written off, gone, run over</strong>." in page
    assert "UNREADABLE" in page


def test_any_number_of_held_scans_is_read_in_the_same_queries(leg, cases):
    make_device("Pim Osgood")

    def cost() -> int:
        with CaptureQueriesContext(connection) as ran:
            accepting.in_words(accepting.waiting("FMC"))
        return len(ran)

    answers([a_scan("HER-01", verb="written off")])
    few = cost()
    answers([a_scan(f"HER-0{n}", verb="written off") for n in (1, 2, 3) for _ in range(4)])
    assert SetAside.objects.count() == 13
    assert cost() == few


def test_a_look_at_nothing_new_costs_the_same_however_much_is_on_the_dock(pim, leg, cases):
    def cost() -> int:
        mark = look(pim, leg)["ETag"]
        with CaptureQueriesContext(connection) as ran:
            assert look(pim, leg, mark).status_code == 304
        return len(ran)

    answers([a_scan("HER-01", verb="loaded", place=code(leg.vehicle))])
    few = cost()
    for n in range(10, 22):
        leg.consignment.cases.create(case=make_case(f"HER-{n}"), position=n)
        make_device(f"Pusher {n}", day_pass=DayPass.objects.get())
        answers([a_scan(f"HER-{n}", verb="loaded", place=code(leg.vehicle))], f"Pusher {n}")
    assert cost() == few


def test_the_house_sees_the_newest_photo_of_a_case_and_a_pass_its_drawing(pim, sign_in, crew, leg, cases):
    for at, (name, verb) in enumerate((("a", Verb.SEEN), ("b", Verb.SEEN), ("c", Verb.FAULTED)), 1):
        photo = Photo.objects.create(hash=name * 64, content_type="image/jpeg", size=1, taken_by="x", received_at=T0)
        ledger.record([Fact(verb, cases[0], photo=photo, note="x")], by=IDA, at=later(minutes=at))
    assert f'<img src="/photo/{"b" * 64}/"' in words(look(sign_in(crew), leg))
    page = words(look(pim, leg))
    assert "<img" not in page
    assert page.count('class="drawing face"') == 3


def test_a_case_that_grew_heavier_is_told_within_half_a_minute(pim, leg, cases, clock):
    answers([a_scan("HER-01", verb="loaded", place=code(leg.vehicle))])
    light = words(look(pim, leg))
    heavy = make_item(make_type("Power supply", mass_kg=21))
    ledger.record([Fact(Verb.PACKED, heavy, place=cases[0].inside)], by=IDA, at=later(minutes=10))
    assert words(look(pim, leg)).split("On board ")[1][:12] == light.split("On board ")[1][:12]
    clock.shift(31)
    assert words(look(pim, leg)).split("On board ")[1][:12] != light.split("On board ")[1][:12]
