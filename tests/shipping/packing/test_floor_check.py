"""The check of floor plans: a good plan broken in one way at a time must be called that, and nothing else."""

from __future__ import annotations

from dataclasses import replace

import pytest

from shipping.packing.floor.deck import Axle, FloorPlan, Freight, Spot
from shipping.packing.floor_geometry import judge_floor
from shipping.packing.wanted import Left
from tests.shipping.packing.freights import cargo, deck

DECK = deck(stops=("one", "two"), lift_g=50_000)
FAR = cargo("far", stop=2)
NEAR = cargo("near", mass_g=30_000)
FIRST = cargo("first", first_off=True, mass_g=45_000)
FREIGHT = Freight(DECK, (FAR, NEAR, FIRST))
SIZE = (800, 600, 500)
GOOD = FloorPlan(
    (
        Spot("far", (0, 0, 0), SIZE, 1, 1, 1),
        Spot("near", (800, 0, 0), SIZE, 2, 1, 1),
        Spot("first", (1600, 0, 0), SIZE, 3, 1, 1),
    )
)


def moved(at: int, **change: object) -> FloorPlan:
    spots = list(GOOD.spots)
    spots[at] = replace(spots[at], **change)
    return replace(GOOD, spots=tuple(spots))


def with_deck(**change: object) -> Freight:
    return Freight(replace(DECK, **change), FREIGHT.cargo)


def with_cargo(at: int, **change: object) -> Freight:
    rows = list(FREIGHT.cargo)
    rows[at] = replace(rows[at], **change)
    return Freight(DECK, tuple(rows))


ON_NEAR = moved(2, at_mm=(800, 0, 500), tier=2)
LIGHT = {"mass_g": 20_000, "first_off": False}
THREE = Freight(DECK, (FAR, NEAR, replace(FIRST, **LIGHT)))


def test_a_good_plan_has_nothing_against_it():
    assert judge_floor(FREIGHT, GOOD) == ()
    assert judge_floor(THREE, ON_NEAR) == ()


@pytest.mark.parametrize(
    "freight,plan,says",
    [
        (FREIGHT, replace(GOOD, spots=GOOD.spots[:2]), "first: 0 planned, 1 to plan"),
        (FREIGHT, replace(GOOD, spots=(*GOOD.spots, replace(GOOD.spots[2], at_mm=(2400, 0, 0)))), "first: 2 planned"),
        (FREIGHT, replace(GOOD, left=(Left("stranger", 1, "why."),)), "stranger: 1 planned, 0 to plan"),
        (FREIGHT, replace(GOOD, spots=GOOD.spots[:2], left=(Left("first", 1, ""),)), "without a count or a reason"),
        (FREIGHT, moved(2, size_mm=(800, 500, 500)), "another size"),
        (with_cargo(2, turns=False), moved(2, size_mm=(600, 800, 500)), "turned, and may not"),
        (FREIGHT, moved(2, at_mm=(5500, 0, 0)), "sticks out"),
        (FREIGHT, moved(2, at_mm=(1600, -1, 0)), "sticks out"),
        (with_deck(door_mm=(2300, 400)), GOOD, "through the door"),
        (FREIGHT, moved(2, at_mm=(1500, 0, 0)), "would be in one place"),
        (FREIGHT, moved(2, at_mm=(1600, 0, 10)), "does not stand wholly"),
        (THREE, moved(2, at_mm=(800, 10, 500)), "does not stand wholly"),
        (THREE, replace(ON_NEAR, spots=(*ON_NEAR.spots[:2], replace(ON_NEAR.spots[2], at_mm=(800, 0, 510)))), "wholly"),
        (Freight(DECK, (FAR, replace(NEAR, on_top_g=10_000), replace(FIRST, **LIGHT))), ON_NEAR, "it takes 10 kg"),
        (Freight(DECK, (FAR, replace(NEAR, on_top_g=None), replace(FIRST, **LIGHT))), ON_NEAR, "nobody has said"),
        (Freight(DECK, (FAR, NEAR, replace(FIRST, mass_g=31_000, first_off=False))), ON_NEAR, "heavier than near"),
        (Freight(DECK, (FAR, NEAR, replace(FIRST, **LIGHT, stacks=False))), ON_NEAR, "may not stand on another"),
        (Freight(DECK, (FAR, replace(NEAR, mass_g=None), replace(FIRST, **LIGHT))), ON_NEAR, "a mass is not known"),
        (Freight(replace(DECK, lift_g=19_000), THREE.cargo), ON_NEAR, "too heavy to be lifted"),
        (Freight(replace(DECK, tiers=1), THREE.cargo), ON_NEAR, "more than 1 high"),
        (with_cargo(0, stop=1), replace(GOOD, first_off_kept=True), None),
        (with_cargo(1, stop=2), GOOD, None),
        (Freight(DECK, (replace(FAR, stop=1), replace(NEAR, stop=2), FIRST)), GOOD, "near stands in the way of far"),
        (Freight(DECK, (replace(FAR, stop=1, first_off=True), NEAR, FIRST)), GOOD, "which is wanted first"),
        (with_deck(payload_g=100_000), GOOD, "would carry 15 kg more"),
    ],
)
def test_each_limit_broken_alone_is_named(freight, plan, says):
    said = judge_floor(freight, plan)
    assert said == () if says is None else (len(said) >= 1 and all(says in one for one in said)), said


def test_a_case_that_gets_off_later_may_not_stand_on_one_that_gets_off_before():
    freight = Freight(DECK, (FAR, NEAR, replace(FIRST, **LIGHT, stop=2)))
    assert any("gets off before it" in one for one in judge_floor(freight, ON_NEAR))


def test_order_does_not_matter_where_nothing_stands_in_the_way():
    beside = replace(GOOD, spots=(GOOD.spots[0], replace(GOOD.spots[1], at_mm=(0, 600, 0)),
                                  replace(GOOD.spots[2], at_mm=(0, 1200, 0))))  # fmt: skip
    assert judge_floor(with_cargo(0, stop=1), beside) == ()


def test_axles_are_held_to_their_limits_at_departure_and_after_every_stop():
    axles = (Axle("front axle", -1000, 2_049_000, 2_000_000), Axle("rear axle", 3000, 2_100_000, 2_000_000))
    said = judge_floor(with_deck(axles=axles), GOOD)
    assert [one.split(" kg")[0] for one in said] == ["front axle would carry 2050.8"]  # 115 kg less 64.25
    tight = (replace(axles[0], limit_g=2_020_000), axles[1])
    assert [one.split("kg ")[1].split(";")[0] for one in judge_floor(with_deck(axles=tight), GOOD)] == [
        "at departure", "after one",
    ]  # fmt: skip


def test_a_light_front_is_named_where_a_share_is_entered():
    axles = (Axle("front axle", -1000, None, 1_000_000), Axle("rear axle", 3000, None, 3_000_000))
    assert judge_floor(with_deck(axles=axles, front_pct=24), GOOD) == ()
    said = judge_floor(with_deck(axles=axles, front_pct=26), GOOD)
    assert said and all("Less than 26 %" in one for one in said)
