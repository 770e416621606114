"""If this vehicle burns, by vehicle and night: by the book for a night that is over, with the plans for another."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
import time_machine

from inventory.ledger import Fact, record
from inventory.models import Verb
from shipping.nights import Night, night_at, planned_on
from tests.factories import IDA, T0
from tests.shipping.packed import make_leg, make_show, make_vehicle
from tests.shipping.test_underway import recorded_box

TONIGHT, TOMORROW = Night(date(2026, 3, 14)), Night(date(2026, 3, 15))
MIDNIGHT = T0 + timedelta(hours=12)


@pytest.fixture
def planned(db):
    """HER-03 with what was recorded, planned for a van that leaves at midnight and arrives in the morning."""
    heron, van = recorded_box(), make_vehicle()
    return heron, make_leg(make_show(), [heron.box], vehicle=van, arrives_at=MIDNIGHT + timedelta(hours=9))


def look(sign_in, person, at: datetime, **asked: object) -> str:
    with time_machine.travel(at, tick=False):
        return sign_in(person).get("/if-it-burns/", asked).content.decode()


def test_a_night_begins_in_the_evening_and_ends_in_the_morning():
    assert night_at(datetime(2026, 3, 14, 23, 40, tzinfo=UTC)) == TONIGHT
    assert night_at(datetime(2026, 3, 15, 4, 30, tzinfo=UTC)) == TONIGHT
    assert night_at(datetime(2026, 3, 15, 9, 0, tzinfo=UTC)) == TOMORROW


def test_cases_of_a_leg_that_runs_that_night_are_planned_for_its_vehicle(planned):
    heron, leg = planned
    assert planned_on([leg.vehicle], TONIGHT, T0) == {leg.vehicle_id: {heron.box.pk}}
    assert planned_on([leg.vehicle], TOMORROW, T0) == {}, "by then it has arrived"
    record([Fact(Verb.DEPARTED, leg.vehicle, place=leg.road, reference="FMC")], by=IDA, at=MIDNIGHT)
    assert planned_on([leg.vehicle], TONIGHT, MIDNIGHT) == {}, "it left: the book tells what is on it"


def test_a_cancelled_show_puts_nothing_on_a_vehicle(planned):
    _heron, leg = planned
    leg.consignment.show.cancelled_at = T0
    leg.consignment.show.save()
    assert planned_on([leg.vehicle], TONIGHT, T0) == {}


def test_the_page_shows_a_night_to_come_with_what_is_planned(planned, staff, sign_in):
    heron, leg = planned
    page = look(sign_in, staff, T0 + timedelta(hours=4), vehicle=leg.vehicle.pk, night="2026-03-14")
    assert "ONLY COPY" in page and "FMC" in page and str(heron.drives[0].serial) in page
    assert "1 case in this is planned for it and not on it yet" in page and "To buy it new costs" in page
    later = look(sign_in, staff, T0 + timedelta(hours=4), night="2026-03-20")
    assert "no leg is planned over that night" in later and "Load a case, or plan a leg" in later


def test_the_page_shows_a_night_that_is_over_by_the_book(planned, staff, sign_in):
    heron, leg = planned
    record([Fact(Verb.LOADED, heron.box, place=leg.vehicle.inside)], by=IDA, at=T0 + timedelta(hours=10))
    record([Fact(Verb.UNLOADED, heron.box, place=leg.to_place)], by=IDA, at=T0 + timedelta(hours=22))
    after = T0 + timedelta(days=3)
    page = look(sign_in, staff, after, vehicle=leg.vehicle.pk, night="2026-03-14")
    assert "in the night of 14 March 2026" in page and "ONLY COPY" in page and "planned for it" not in page
    assert "nothing was in" in look(sign_in, staff, after, night="2026-03-15")


def test_a_night_that_is_no_date_is_asked_again(staff, sign_in):
    answer = sign_in(staff).get("/if-it-burns/", {"night": "Saturday"})
    assert answer.status_code == 422 and "Enter a valid date" in answer.content.decode()
