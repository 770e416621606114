"""Which load is mine: what is to be done now stands before what comes later and what is over."""

from __future__ import annotations

from datetime import timedelta

import pytest
import time_machine

from inventory.ledger import Witness
from shipping import boards, loading
from shipping.boards import Phase
from shipping.models import Leg
from shipping.today import needs
from shipping.turns import When, in_its_turn, turns
from tests.factories import T0, make_case, make_device, make_leg, make_vehicle

MINUTE = timedelta(minutes=1)


def told(at=T0):
    return turns(boards.legs(), at)


@pytest.fixture
def hands(db) -> Witness:
    phone = make_device("Pim Osgood")
    return Witness("Pim Osgood", "crew", day_pass=phone.day_pass, device=phone)


@pytest.fixture
def unblocked(monkeypatch):
    monkeypatch.setattr("shipping.planning.blocks_for_leg", lambda leg, at: [])


def load_all(leg, cases, by):
    for case in cases:
        loading.scan(leg, case.code, loading.LOAD, by=by, at=T0)


def test_a_load_within_a_day_is_now_and_counts_what_is_still_to_go(leg, cases, hands):
    loading.scan(leg, cases[0].code, loading.LOAD, by=hands, at=T0)
    (turn,) = told(T0 + MINUTE)
    assert (turn.when, turn.verb, turn.words) == (When.NOW, "Load", "2 of 3 cases still to go on.")


def test_a_load_next_week_is_later_and_one_of_last_week_is_over(db):
    make_leg(departs_at=T0 + timedelta(days=7))
    make_leg(departs_at=T0 - timedelta(days=7))
    assert [turn.when for turn in told()] == [When.LATER, When.OVER]


def test_a_load_without_an_hour_is_never_lost_from_sight(db):
    make_leg(departs_at=None, arrives_at=None)
    assert [turn.when for turn in told()] == [When.NOW]


def test_what_is_on_the_road_is_waited_for_however_late_it_is(leg, cases, hands, unblocked):
    load_all(leg, cases, hands)
    loading.depart(leg, by=hands, at=T0 + MINUTE)
    (turn,) = told(T0 + timedelta(days=30))
    assert (turn.when, turn.verb, turn.words) == (When.NOW, "Count off", "On the road with 3 of 3 cases.")


def test_an_arrived_leg_is_over_when_its_last_case_is_counted_off(leg, cases, hands, unblocked):
    load_all(leg, cases, hands)
    loading.depart(leg, by=hands, at=T0 + MINUTE)
    loading.arrive(leg, by=hands, at=T0 + 2 * MINUTE)
    for case in cases[:2]:
        loading.scan(leg, case.code, loading.UNLOAD, by=hands, at=T0 + 3 * MINUTE)
    (turn,) = told(T0 + 4 * MINUTE)
    assert (turn.phase, turn.when, turn.words) == (Phase.ARRIVED, When.NOW, "1 of 3 cases not counted off.")
    loading.scan(leg, cases[2].code, loading.UNLOAD, by=hands, at=T0 + 5 * MINUTE)
    assert told(T0 + 6 * MINUTE)[0].when == When.OVER


def test_a_leg_that_came_days_early_is_counted_off_now(leg, cases, hands, unblocked):
    Leg.objects.filter(pk=leg.pk).update(arrives_at=T0 + timedelta(days=3))
    load_all(leg, cases, hands)
    loading.depart(leg, by=hands, at=T0 + MINUTE)
    loading.arrive(boards.legs().get(pk=leg.pk), by=hands, at=T0 + 2 * MINUTE)
    (turn,) = told(T0 + 3 * MINUTE)
    assert (turn.when, turn.words) == (When.NOW, "3 of 3 cases not counted off.")


def test_the_next_hour_stands_first(db):
    late, early = make_leg(departs_at=T0 + 9 * MINUTE), make_leg(departs_at=T0 + 3 * MINUTE)
    assert [turn.leg for turn in told()] == [early, late]


@pytest.fixture
def teasel(db):
    return make_vehicle()


@pytest.fixture
def stranger(teasel):
    return make_case("CUR-09")


def strangers(leg, at=T0 + MINUTE):
    found = boards.board(boards.legs().get(pk=leg.pk), at)
    return [str(face.item) for face in in_its_turn(found, at).strangers]


def test_a_stranger_shows_on_the_leg_at_hand_and_not_on_one_days_ahead(teasel, stranger, hands):
    tonight = make_leg([make_case("HER-01")], teasel, departs_at=T0 + timedelta(hours=1))
    later = make_leg([make_case("HER-02")], teasel, from_place=tonight.to_place, departs_at=T0 + timedelta(days=4))
    loading.scan(tonight, stranger.code, loading.LOAD, by=hands, at=T0)
    assert (strangers(tonight), strangers(later)) == (["CUR-09"], [])


def test_a_stranger_shows_on_what_its_vehicle_does_next_however_far_off(teasel, stranger, hands):
    given_up = make_leg([], teasel, departs_at=T0 - timedelta(days=9), arrives_at=T0 - timedelta(days=8))
    following = make_leg([make_case("HER-02")], teasel, departs_at=T0 + timedelta(days=4), arrives_at=None)
    make_leg([], make_vehicle("Meadowrue"), departs_at=T0 + timedelta(hours=1))
    loading.scan(given_up, stranger.code, loading.LOAD, by=hands, at=T0)
    assert strangers(following) == ["CUR-09"]


def test_a_stranger_waits_while_its_vehicle_is_on_the_road_and_shows_once_it_is_there(
    teasel, stranger, hands, unblocked
):
    tonight = make_leg([make_case("HER-01")], teasel)
    later = make_leg([], teasel, from_place=tonight.to_place, departs_at=T0 + timedelta(days=2), arrives_at=None)
    loading.scan(tonight, stranger.code, loading.LOAD, by=hands, at=T0)
    loading.depart(tonight, by=hands, at=T0 + MINUTE, without="no room")
    assert (strangers(tonight, T0 + 2 * MINUTE), strangers(later, T0 + 2 * MINUTE)) == (["CUR-09"], [])
    loading.arrive(tonight, by=hands, at=T0 + 3 * MINUTE)
    assert (strangers(tonight, T0 + 4 * MINUTE), strangers(later, T0 + 4 * MINUTE)) == (["CUR-09"], ["CUR-09"])


def test_two_lists_on_one_ride_both_show_a_stranger(teasel, stranger, hands):
    first = make_leg([make_case("HER-01")], teasel, departs_at=T0 + timedelta(hours=1))
    second = make_leg([make_case("HER-02")], teasel, departs_at=T0 + timedelta(hours=2))
    loading.scan(first, stranger.code, loading.LOAD, by=hands, at=T0)
    assert (strangers(first), strangers(second)) == (["CUR-09"], ["CUR-09"])


def test_what_came_on_after_the_arrival_is_no_stranger_of_the_leg_that_is_over(teasel, stranger, hands, unblocked):
    mine = make_case("HER-01")
    out = make_leg([mine], teasel)
    home = make_leg([mine], teasel, from_place=out.to_place, departs_at=T0 + timedelta(days=2), arrives_at=None)
    loading.scan(out, mine.code, loading.LOAD, by=hands, at=T0)
    loading.depart(out, by=hands, at=T0 + MINUTE)
    loading.arrive(out, by=hands, at=T0 + 2 * MINUTE)
    loading.scan(home, stranger.code, loading.LOAD, by=hands, at=T0 + 3 * MINUTE)
    assert (strangers(out, T0 + 4 * MINUTE), strangers(home, T0 + 4 * MINUTE)) == ([], ["CUR-09"])


def test_a_case_that_goes_on_again_is_counted_off_the_leg_that_brought_it(teasel, hands, unblocked):
    """Loaded for the way home it is not owed once more by the way out, whose count was done by then."""
    mine, other = make_case("HER-01"), make_case("HER-02")
    out = make_leg([mine, other], teasel)
    load_all(out, [mine, other], hands)
    loading.depart(out, by=hands, at=T0 + MINUTE)
    loading.arrive(out, by=hands, at=T0 + 2 * MINUTE)
    assert [str(face.item) for face in boards.board(out, T0 + 3 * MINUTE).owed] == ["HER-01", "HER-02"]
    home = make_leg([mine, other], teasel, from_place=out.to_place, departs_at=T0 + timedelta(hours=2))
    loading.scan(out, mine.code, loading.UNLOAD, by=hands, at=T0 + 3 * MINUTE)
    loading.scan(home, mine.code, loading.LOAD, by=hands, at=T0 + 4 * MINUTE)
    at = T0 + 5 * MINUTE
    board = boards.board(out, at)
    assert [[str(face.item) for face in faces] for faces in (board.owed, board.landed)] == [["HER-02"], ["HER-01"]]
    assert {turn.leg: turn.on for turn in told(at)} == {out: 1, home: 2}


def test_asking_costs_the_same_however_many_legs(leg, django_assert_max_num_queries):
    for n in range(4):
        make_leg([make_case(f"CUR-0{n}")])
    assert Leg.objects.count() == 5
    with django_assert_max_num_queries(6):
        told()


@pytest.mark.parametrize("role", ["kit manager", "road lead", "crew"])
def test_tonights_load_stands_on_today_for_who_loads(leg, role):
    assert f"Load {leg.vehicle}, Fjellmark Hall to Mill Yard: 3 of 3 cases still to go on." in [
        need.sentence for need in needs(role, T0)
    ]


def test_staff_are_not_sent_to_the_dock(leg):
    assert not [need for need in needs("staff", T0) if need.sentence.startswith("Load")]


def test_the_loads_page_folds_what_is_not_now(sign_in, crew, leg, now):
    make_leg([], make_vehicle("Meadowrue"), show=leg.consignment.show, departs_at=now + timedelta(days=5))
    with time_machine.travel(now):
        page = sign_in(crew).get("/crew/").content.decode()
    assert page.index("Teasel") < page.index("Later: 1") < page.index("Meadowrue")
