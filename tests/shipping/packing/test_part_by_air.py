"""A load of which some cases fly and others ride: the limits of the air hold case by case, and vans take what rides."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from shipping.packing.carrying import carry
from shipping.packing.geometry import judge_plan
from shipping.packing.kept import as_load
from shipping.packing.overload import overload
from shipping.packing.planner import firstfit
from shipping.packing.planner.cases import CASES, LEFT, Family
from shipping.packing.planner.engines import Stop, highs
from shipping.packing.planner.pooled import Pooling
from shipping.packing.planner.solver import Planner, at_once
from shipping.packing.planner.vans import share_out
from shipping.packing.reading import job_of
from shipping.packing.wanted import Air, Gear, Job, Plan, Shell, Van
from shipping.packing.whys import differences
from tests.shipping.packing.loads import box as drive_box
from tests.shipping.packing.loads import seconds
from tests.shipping.packing.test_planner_random import EXAMPLES

PACK = Gear("pack", "pack", "drive", 1, 700, slots=1, battery=True, chemistry="lithium", battery_mwh=98_000)
CAMERA = Gear("camera", "camera", "drive", 1, 2_000, slots=1, runs_on=1, chemistry="lithium", battery_mwh=60_000)
LARGE = replace(CAMERA, id="large", name="large", battery_mwh=160_000)
UPS = Gear("ups", "UPS", "drive", 1, 9_000, slots=1, chemistry="lead")
REEL = Gear("reel", "reel", "drive", 1, 1_000, slots=1)


def box(ident: str, **over: object) -> Shell:
    """Strong enough for whatever its slots take."""
    return drive_box(ident, **{"max_gross_g": 60_000, **over})


FLIES, RIDES = box("B1", slots=3), box("B2", slots=3, rides=True)


def planned(job: Job) -> Plan:
    plan = Planner(job, seconds(5), Stop()).run()
    assert plan.breaches == ()
    return plan


@pytest.mark.parametrize("gear", [UPS, LARGE, replace(PACK, count=3)])
def test_what_may_not_fly_goes_into_the_case_that_rides(gear):
    assert planned(Job((gear,), (FLIES,), air=Air())).left
    plan = planned(Job((gear,), (FLIES, RIDES), air=Air()))
    assert plan.contents == {"B2": ((gear.id, gear.count),)} and plan.proven


def test_cases_alike_but_for_the_way_they_go_are_not_exchanged():
    many = [box(f"B{at}", slots=3, rides=at > 2) for at in range(5)]
    plan = planned(Job((replace(UPS, count=6), replace(REEL, count=9)), tuple(many), air=Air()))
    assert plan.proven and not plan.left
    assert {case: dict(held) for case, held in plan.contents.items() if "ups" in dict(held)} == {
        "B3": {"ups": 3}, "B4": {"ups": 3},
    }  # fmt: skip


def test_what_may_not_fly_comes_before_what_may_in_a_plan_made_at_once():
    plan = firstfit.first_fit(Job((replace(REEL, count=4), UPS), (RIDES, replace(FLIES, slots=2)), air=Air()))
    assert not any(plan.left.values()) and plan.held["B2"]["ups"] == 1


def least(job: Job, goal: str) -> int:
    """The least of a goal by the model alone, with nothing left behind that may go."""
    family = Family(job, {})
    terms = {name: terms for name, terms, _ in family.goals()}
    family.model.goal = {**dict.fromkeys(terms[goal], 1), **dict.fromkeys(terms[LEFT], 1 if goal == LEFT else 100)}
    found = highs(family.model, 10)
    assert found.values is not None and found.bound == family.model.value(family.model.goal, found.values)
    return found.bound


def test_the_model_opens_a_case_that_rides_without_one_that_flies():
    assert least(Job((replace(PACK, count=3),), (FLIES, RIDES), air=Air()), CASES) == 1


def test_the_pool_knows_cases_that_ride_from_cases_alike_that_fly():
    pool = Pooling(Job((replace(UPS, count=9), CAMERA, PACK), (FLIES, RIDES), air=Air()))
    assert pool.bound([], 5, Stop()).bound == 6


def test_a_case_at_home_that_flies_says_why_a_thing_is_elsewhere():
    home = (("B1", 1),)
    job = Job(
        (replace(UPS, homes=home), replace(PACK, homes=home), replace(LARGE, homes=home), REEL),
        (FLIES, RIDES),
        air=Air(),
    )
    held = {"B1": (("reel", 1),), "B2": (("large", 1), ("pack", 1), ("ups", 1))}
    assert judge_plan(job, Plan(held)) == ()
    assert {one.gear: why for one, why in differences(job, held)} == {
        "ups": "By what is entered, B1 flies, and no lead-acid battery is planned to.",
        "pack": "B1 flies, and what is in it takes no more batteries by air.",
        "large": "By what is entered, B1 flies, and its lithium battery is above what may fly in equipment.",
    }


@pytest.mark.parametrize("gear", [replace(UPS, count=4), replace(PACK, count=4)])
def test_where_a_case_that_rides_would_take_it_the_air_is_not_the_reason(gear):
    left = planned(Job((gear,), (FLIES, RIDES), air=Air())).left
    assert [(one.gear, one.count) for one in left] == [(gear.id, 1)]
    assert left[0].reason == "Each case that takes it (box B2) is full. One more such case would carry it."


def test_a_case_that_rides_and_is_too_weak_is_the_nearest_miss():
    weak = replace(RIDES, max_gross_g=RIDES.tare_g + 5_000)
    (left,) = planned(Job((UPS,), (FLIES, weak), air=Air())).left
    assert left.reason == "It weighs 9 kg; no case may hold more than 5 kg."
    other = replace(RIDES, families=("loose",))
    (left,) = planned(Job((UPS,), (FLIES, other), air=Air())).left
    assert "lead-acid battery and flies" in left.reason


ALL = (UPS, LARGE, replace(PACK, count=3), REEL)


@pytest.mark.parametrize("held", [(("ups", 1),), (("large", 1),), (("pack", 3),)])
def test_the_check_asks_the_air_only_of_the_case_that_flies(held):
    job = Job(ALL, (FLIES, RIDES), air=Air())
    said = judge_plan(job, Plan({"B1": held}))
    assert any("box B1" in one for one in said)
    assert not any("box B2" in one for one in judge_plan(job, Plan({"B2": held})))


def test_a_case_that_goes_another_way_is_put_on_no_van_and_weighs_on_none():
    gear = (replace(REEL, count=3, stays=True, homes=(("B1", 3),)), UPS)
    job = Job(gear, (replace(FLIES, off_vans=True), RIDES), (Van("Teasel", "Teasel", RIDES.tare_g + 9_500),), air=Air())
    plan = planned(job)
    assert set(plan.contents) == {"B1", "B2"} and plan.vans == {"B2": "Teasel"} and plan.proven
    assert overload(job, plan.contents).total_g == RIDES.tare_g + 9_000
    both = replace(plan, vans={"B1": "Teasel", "B2": "Teasel"})
    assert any(one == "B1 goes another way, and is planned onto Teasel." for one in judge_plan(job, both))
    assert any("No vehicle" in one for one in judge_plan(job, replace(plan, vans={})))


def test_of_two_copies_one_flies_and_one_rides_on_the_only_van():
    gear = tuple(replace(REEL, id=one, copies=("FMC",)) for one in ("a", "b"))
    shells, van = (FLIES, RIDES), (Van("Teasel", "Teasel", 100_000),)
    assert planned(Job(gear, shells, van, air=Air())).left
    job = Job(gear, (replace(FLIES, off_vans=True), RIDES), van, air=Air())
    plan = planned(job)
    assert not plan.left and set(plan.contents) == {"B1", "B2"} and set(plan.vans) == {"B2"}
    assert least(job, LEFT) == 0 and not at_once(job).left
    assert not at_once(replace(job, shells=(job.shells[0], replace(RIDES, slots=4)))).left  # that rides is filled first
    third = planned(replace(job, gear=(*gear, replace(gear[0], id="c")))).left
    assert [one.count for one in third] == [1] and "One more such case would carry it" in third[0].reason


def test_vehicles_are_shared_out_among_the_cases_that_ride():
    vans = tuple(Van(one, one, 100_000) for one in ("Teasel", "Meadowrue"))
    shells = (replace(FLIES, off_vans=True), RIDES, replace(RIDES, id="B3"))
    job, held = Job((CAMERA, UPS, REEL), shells, vans, air=Air()), {"B1": (("camera", 1),), "B2": (("ups", 1),)}
    held |= {"B3": (("reel", 1),)}
    riding, levels = share_out(job, held, seconds(5), Stop(), lambda *_: None)
    assert set(riding) == {"B2", "B3"} and len(set(riding.values())) == 2
    assert [one.value for one in levels] == [0, 8] and all(one.proven for one in levels)


def test_a_plan_carried_over_puts_what_flies_on_no_van():
    job = Job((CAMERA, UPS), (replace(FLIES, off_vans=True), RIDES), (Van("Teasel", "Teasel", 100_000),), air=Air())
    held = {"B1": (("camera", 1),), "B2": (("ups", 1),)}
    plan = carry(job, held, {"B1": "Teasel", "B2": "Teasel"})
    assert plan is not None and plan.contents == held and plan.vans == {"B2": "Teasel"}


def test_the_way_of_a_case_is_kept_in_a_load_file():
    job = Job((REEL,), (replace(FLIES, off_vans=True), RIDES), air=Air())
    assert job_of(json.dumps(as_load(job))) == job
    assert [sorted({"rides", "off_vehicles"} & set(one)) for one in as_load(job)["cases"]] == [
        ["off_vehicles"],
        ["rides"],
    ]


@some.composite
def small_load(draw: some.DrawFn) -> Job:
    """Things of one slot each, in cases of a few slots, of which some ride."""
    counts = [draw(some.integers(0, most)) for most in (3, 1, 1, 2, 2)]
    kinds = (PACK, CAMERA, LARGE, UPS, REEL)
    gear = tuple(replace(one, count=many) for one, many in zip(kinds, counts, strict=True) if many)
    mass = draw(some.sampled_from((700, 2_600)))
    gear = tuple(replace(one, mass_g=mass) if one.battery else one for one in gear)
    shells = tuple(box(f"B{at}", slots=draw(some.integers(1, 3)), rides=draw(some.booleans())) for at in range(3))
    return Job(
        gear or (REEL,), shells, air=Air(draw(some.booleans()), draw(some.booleans()), spares=draw(some.integers(0, 2)))
    )


@given(small_load())
@settings(max_examples=EXAMPLES, deadline=None)
def test_as_much_goes_as_trying_everything_says(job):
    plan = planned(job)
    left, cases = min(_every_way(job))
    assert plan.proven and {one.name: one.value for one in plan.levels}[LEFT] == left
    assert (sum(one.count for one in plan.left), len(plan.contents)) == (left, cases)


def _every_way(job: Job) -> Iterator[tuple[int, int]]:
    """How much stays, and how many cases are open, for each way to deal things out that the limits let be."""
    for way in product(*(_dealt(gear.count, len(job.shells)) for gear in job.gear)):
        held = [
            Counter({gear.id: row[at] for gear, row in zip(job.gear, way, strict=True)})
            for at in range(len(job.shells))
        ]
        if all(_may(job, at, inside) for at, inside in enumerate(held)):
            packed = sum(inside.total() for inside in held)
            yield sum(gear.count for gear in job.gear) - packed, sum(inside.total() > 0 for inside in held)


def _dealt(count: int, cases: int) -> list[tuple[int, ...]]:
    return [row for row in product(range(count + 1), repeat=cases) if sum(row) <= count]


def _may(job: Job, at: int, inside: Counter[str]) -> bool:
    """By slots; and where the case flies, by each limit of the air, told here once more."""
    shell, air = job.shells[at], job.air
    if inside.total() > shell.slots:
        return False
    if shell.rides:
        return True
    assert air is not None
    if inside["ups"] or inside["large"]:
        return False
    grams = inside["pack"] * next((one.mass_g for one in job.gear if one.id == "pack"), 0)
    alone = inside["camera"] + air.spares if inside["camera"] else 0
    return not inside["pack"] or (not air.baggage and inside["pack"] <= alone and (not air.passenger or grams <= 5_000))
