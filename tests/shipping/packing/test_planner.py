"""Plans: the fewest cases where that is known, the same each time, nothing lost, and what stays behind explained."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import product
from pathlib import Path
from threading import Event

import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from shipping.packing.geometry import judge_plan
from shipping.packing.planner import brimful, engines, firstfit
from shipping.packing.planner.cases import Family
from shipping.packing.planner.engines import Stop, cp_sat, highs
from shipping.packing.planner.families import families
from shipping.packing.planner.solver import Planner, at_once
from shipping.packing.wanted import ENTERED, Air, Gear, Job, Left, Level, Plan, Van, moved, moves
from tests.shipping.packing.loads import box, filled, rack_case, seconds, trunk

BINS = json.loads((Path(__file__).parents[2] / "standards/bin_packing.json").read_text())["instances"]


def planned(job: Job, many: float = 40, **more: object) -> Plan:
    return Planner(job, seconds(many), Stop(), **more).run()


def value(plan: Plan, goal: str) -> int:
    return next(one.value for one in plan.levels if one.name == goal)


def bins(weights: list[int], capacity: int, many: int) -> Job:
    gear = tuple(Gear(f"g{w}", f"{w}", "rack", weights.count(w), 0, units=w) for w in sorted(set(weights)))
    return Job(gear, tuple(rack_case(f"R{at:02}", capacity) for at in range(many)))


@pytest.mark.parametrize("name", BINS)
def test_published_bins_are_packed_in_the_published_number(name):
    one = BINS[name]
    plan = planned(bins(one["weights"], one["capacity"], one["optimum"] + 1))
    assert len(plan.contents) == one["optimum"] and plan.proven and plan.breaches == ()


def test_alike_cases_are_filled_anew_only_where_nothing_but_units_and_mass_counts():
    one = BINS["u120_00"]
    job = bins(one["weights"], one["capacity"], one["ffd"])
    best_fit = firstfit.at_once(job).contents()
    assert len(best_fit) == one["ffd"] and len(brimful.fuller(families(job), best_fit)) == one["optimum"]
    heavy = replace(job, gear=tuple(replace(gear, mass_g=50_000) for gear in job.gear))
    tied = replace(job, gear=(replace(job.gear[0], together="pair"), *job.gear[1:]))
    for other in (heavy, tied, replace(job, air=Air())):
        assert brimful.fuller(families(other), best_fit) is None


@pytest.mark.parametrize("name", BINS)
def test_first_fit_decreasing_is_the_published_one(name):
    one = BINS[name]
    filling = firstfit.first_fit(bins(one["weights"], one["capacity"], one["ffd"]))
    assert len(filling.contents()) == one["ffd"] and not filling.left


@pytest.mark.parametrize("seed", range(2))
def test_things_cut_from_full_cases_go_back_into_as_few(seed):
    job, fewest = filled(100, seed)
    plan = planned(job)
    assert plan.breaches == () and not plan.left
    assert len(plan.contents) == fewest
    by_size = firstfit.first_fit(job)
    assert value(plan, "moves from usual homes") <= moves(job, by_size.contents())


def test_the_same_load_gives_the_same_plan():
    job, _ = filled(60, 3)
    again = replace(job, gear=job.gear[::-1], shells=job.shells[::-1])
    first, second = planned(job), planned(again)
    assert first.proven and not first.notes
    assert (first.contents, first.vans) == (second.contents, second.vans)


@pytest.mark.parametrize("seed", range(3))
def test_both_engines_prove_the_same(seed):
    job, _ = filled(100, seed)
    for part in families(job):
        family = Family(part, {})
        for _, goal, _ in family.goals():
            family.model.goal = goal
            found = [engine(family.model, 20.0) for engine in (highs, cp_sat)]
            values = [family.model.value(goal, one.values) for one in found]
            assert values[0] == values[1] == found[0].bound == found[1].bound
            family.model.row(goal, -(10**9), values[0], "goal")


def test_an_engine_that_runs_on_past_its_limit_is_left_and_proves_nothing(monkeypatch):
    family, over = Family(filled(60, 3)[0], {}), Event()
    monkeypatch.setattr(engines, "GRACE", 0.05)
    monkeypatch.setattr(engines.Quiet, "run", lambda solver: over.wait(60))
    found = highs(family.model, 0.05)
    over.set()
    assert (found.values, found.impossible) == (None, False) and found.bound < 0


def test_what_cannot_go_is_named_with_its_number_and_why():
    job = Job((Gear("deep", "deep server", "rack", 2, 9_000, units=2, depth_mm=749),), (rack_case("R1", depth_mm=640),))
    plan = planned(job, 2)
    assert plan.left == (
        Left("deep", 2, "It needs 749 + 75 mm of depth; the deepest case that has the units is 640 mm."),
    )


def test_a_case_too_few_leaves_the_fewest_things():
    job = Job((Gear("unit", "unit", "rack", 7, 5_000, units=2),), (rack_case("R1"),))
    plan = planned(job, 2)
    assert [(one.gear, one.count) for one in plan.left] == [("unit", 1)]
    assert "One more such case would carry it" in plan.left[0].reason


def test_copies_to_be_apart_ride_on_different_vehicles():
    job, _ = filled(60, 1)
    plan = planned(job)
    holding = [case for case, content in plan.contents.items() if {"copy-0", "copy-1"} & set(dict(content))]
    assert len({plan.vans[case] for case in holding}) == 2


def test_a_frame_and_its_rails_ride_together_whatever_the_balance():
    gear = (
        Gear("frame", "frame", "rack", 1, 30_000, units=5, depth_mm=600, convoy="heron"),
        Gear("rails", "rails", "loose", 1, 3_000, size_mm=(800, 100, 100), convoy="heron"),
    )
    plan = planned(Job(gear, (rack_case("R1"), trunk("T1")), (Van("a", "a", 500_000), Van("b", "b", 500_000))))
    assert len(set(plan.vans.values())) == 1 and not plan.left


def test_batteries_keep_to_themselves_when_told():
    gear = (
        Gear("pack", "pack", "loose", 4, 1_000, size_mm=(200, 100, 100), battery=True),
        Gear("cable", "cable", "loose", 4, 1_000, size_mm=(200, 100, 100)),
    )
    job = Job(gear, (trunk("T1"), trunk("T2")))
    assert len(planned(job).contents) == 1
    assert len(planned(replace(job, split_batteries=True)).contents) == 2


def test_nothing_stands_on_what_is_fragile():
    gear = (
        Gear("screen", "screen", "loose", 2, 4_000, size_mm=(600, 600, 200), fragile=True, upright=True),
        Gear("block", "block", "loose", 4, 4_000, size_mm=(600, 600, 200), upright=True),
    )
    plan = planned(Job(gear, (trunk("T1"),)))
    assert plan.breaches == () and not plan.left


def test_a_plan_no_vehicle_can_carry_says_so():
    job = Job((Gear("ups", "UPS", "rack", 1, 90_000, units=2),), (rack_case("R1"),), (Van("small", "small", 50_000),))
    plan = planned(job, 2)
    assert plan.left[0].count == 1 and "No vehicle takes R1" in plan.left[0].reason


def test_a_plan_made_at_once_says_how_much_is_left_and_is_not_called_proven_for_leaving_it():
    big = Gear("big", "big", "rack", 1, 100, units=9)
    plan = at_once(Job((big, Gear("x", "x", "rack", 2, 100, units=1)), (rack_case("R1", 4),)))
    assert plan.levels[0] == Level("things left behind", 1, 1) and plan.proven
    full = at_once(Job((Gear("x", "x", "rack", 5, 100, units=1),), (rack_case("R1", 4),)))
    assert full.levels[0] == Level("things left behind", 1, 0) and not full.proven
    assert "things left behind: 1, how few are possible is not known" in full.words


def test_only_differences_from_usual_cases_are_listed():
    job = Job(
        (Gear("x", "x", "rack", 3, 1, units=1, homes=(("R1", 2), ("R2", 1))),), (rack_case("R1"), rack_case("R2"))
    )
    assert moved(job, {"R1": (("x", 2),), "R2": (("x", 1),)}) == []
    assert [tuple(one) for one in moved(job, {"R1": (("x", 3),)})] == [("x", 1, "R2", "R1")]
    assert moves(job, {"R1": (("x", 3),)}) == 1


def test_an_asked_stop_still_gives_a_checked_plan():
    stop = Stop()
    stop.set()
    job, _ = filled(100, 5)
    plan = Planner(job, seconds(20), stop).run()
    assert plan.breaches == () and plan.contents


def test_better_plans_are_handed_on_as_they_are_found():
    job, _ = filled(60, 2)
    shown: list[Plan] = []
    last = planned(job, on_plan=shown.append)
    assert len(shown) >= 2 and shown[-1] == last
    assert all(one.breaches == () for one in shown)
    sizes = [(sum(each.count for each in one.left), len(one.contents)) for one in shown]
    assert sizes == sorted(sizes, reverse=True)


def test_one_case_less_is_planned_from_the_plan_before():
    job, _ = filled(60, 3)
    before = planned(job)
    dropped = next(case for case in before.contents if case.startswith("R"))
    less = replace(job, shells=tuple(one for one in job.shells if one.id != dropped), gear=tuple(
        replace(one, homes=tuple(home for home in one.homes if home[0] != dropped)) for one in job.gear
    ))  # fmt: skip
    first: list[Plan] = []
    after = Planner(less, seconds(10), Stop(), on_plan=first.append).run(before)
    kept = [case for case in before.contents if first[0].contents.get(case) == before.contents[case]]
    assert after.breaches == () and dropped not in after.contents
    assert len(kept) >= len(before.contents) // 2


GOOD = filled(40, 7)[0]
BROKEN = {
    "a thing lost": lambda p: replace(p, contents=dict(list(p.contents.items())[1:])),
    "a thing twice": lambda p: replace(p, contents=p.contents | {"R001": (*p.contents.get("R001", ()), ("copy-0", 1))}),
    "one vehicle for all": lambda p: replace(p, vans=dict.fromkeys(p.contents, "V1")),
    "no layout": lambda p: replace(p, layouts={}),
    "things in one place": lambda p: replace(
        p, layouts={c: tuple(replace(one, at_mm=(0, 0, 0)) for one in laid) for c, laid in p.layouts.items()}
    ),
    "out of the trunk": lambda p: replace(
        p, layouts={c: tuple(replace(one, at_mm=(1200, 0, 0)) for one in laid) for c, laid in p.layouts.items()}
    ),
    "case unknown": lambda p: replace(p, contents=p.contents | {"Z9": (("drive", 1),)}),
}  # fmt: skip


@pytest.mark.parametrize("how", BROKEN)
def test_the_check_sees_a_plan_broken_on_purpose(how):
    plan = at_once(GOOD)
    assert judge_plan(GOOD, plan) == ()
    assert judge_plan(GOOD, BROKEN[how](plan)) != ()


def test_words_never_call_a_plan_more_than_it_is():
    plan = planned(GOOD)
    assert plan.words.startswith(ENTERED.capitalize()) and "not a load-safety approval" in plan.words
    assert "Not yet shown" in at_once(filled(100)[0]).words


small = some.builds(
    lambda counts, units, cases: Job(
        tuple(
            Gear(f"k{at}", f"k{at}", "rack", n, u * 3_000, units=u)
            for at, (n, u) in enumerate(zip(counts, units, strict=False))
        ),
        tuple(rack_case(f"R{at}", u, max_gross_g=25_000 + m * 1_000) for at, (u, m) in enumerate(cases)),
    ),
    some.lists(some.integers(1, 2), min_size=1, max_size=3),
    some.lists(some.integers(1, 5), min_size=3, max_size=3),
    some.lists(some.tuples(some.integers(2, 7), some.integers(3, 20)), min_size=1, max_size=2),
)


def by_trying_everything(job: Job) -> tuple[int, int]:
    """(left behind, cases) of the best of all assignments."""
    things = [gear for gear in job.gear for _ in range(gear.count)]
    best = (len(things), 0)
    for where in product(range(-1, len(job.shells)), repeat=len(things)):
        loads = [(0, 0)] * len(job.shells)
        for gear, at in zip(things, where, strict=True):
            if at >= 0:
                loads[at] = (loads[at][0] + gear.units, loads[at][1] + gear.mass_g)
        if all(u <= s.units and m <= s.room_g for (u, m), s in zip(loads, job.shells, strict=True)):
            best = min(best, (where.count(-1), len(set(where) - {-1})))
    return best


@given(small)
@settings(max_examples=25, deadline=None)
def test_small_loads_are_planned_as_well_as_by_trying_everything(job):
    plan = planned(job, 5)
    assert plan.breaches == ()
    assert (sum(one.count for one in plan.left), len(plan.contents)) == by_trying_everything(job)
    assert all(one.reason for one in plan.left)


def test_boxes_of_one_kind_with_pairs_apart_never_need_more_than_there_are():
    gear = tuple(
        Gear(f"p{at}{x}", "copy", "drive", 1, 500, slots=1, apart=f"pair {at}") for at in range(5) for x in "ab"
    )
    vans = (Van("a", "a", 100_000), Van("b", "b", 100_000))
    plan = planned(Job(gear, tuple(box(f"B{at}") for at in range(4)), vans))
    assert not plan.left and plan.breaches == ()
