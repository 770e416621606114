"""An earlier floor plan is where the next one begins: a case less, another deck, other stops."""

from __future__ import annotations

from dataclasses import replace

from shipping.packing.floor.deck import Freight
from shipping.packing.floor.planner import at_once
from tests.shipping.packing.freights import at_random, cargo, deck, planned

FREIGHT = at_random(14, 2, seed=2)
EARLIER = planned(FREIGHT, 20)


def left(plan) -> int:
    return sum(one.count for one in plan.left)


def test_the_same_again_at_once_is_as_good_as_what_was_searched_for():
    assert at_once(FREIGHT).used_mm > EARLIER.used_mm
    again = at_once(FREIGHT, EARLIER)
    assert (again.used_mm, again.left, again.breaches) == (EARLIER.used_mm, (), ())


def test_a_case_less_is_no_longer_and_a_case_more_finds_its_place():
    fewer = at_once(Freight(FREIGHT.deck, FREIGHT.cargo[1:]), EARLIER)
    assert fewer.breaches == () and not fewer.left and fewer.used_mm <= EARLIER.used_mm
    more = at_once(Freight(FREIGHT.deck, (*FREIGHT.cargo, cargo("new"))), EARLIER)
    assert more.breaches == () and not more.left and "new" in {spot.cargo for spot in more.spots}


def test_a_narrower_deck_and_stops_turned_round_are_planned_afresh_where_they_must():
    narrow = at_once(Freight(replace(FREIGHT.deck, size_mm=(13_600, 1300, 2600)), FREIGHT.cargo), EARLIER)
    assert narrow.breaches == () and not narrow.left
    turned = tuple(replace(one, stop=3 - one.stop) for one in FREIGHT.cargo)
    assert at_once(Freight(FREIGHT.deck, turned), EARLIER).breaches == ()


def test_cases_of_one_kind_that_became_fewer_are_not_planned_twice():
    many = Freight(deck(), (cargo("A", count=9), cargo("B", size_mm=(600, 600, 500), count=3)))
    earlier = planned(many)
    less = Freight(deck(), (cargo("A", count=4), cargo("B", size_mm=(600, 600, 500), count=3)))
    plan = at_once(less, earlier)
    assert (plan.breaches, left(plan), len(plan.spots)) == ((), 0, 7)
