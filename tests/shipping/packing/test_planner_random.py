"""Loads at random, with the rules on: whatever comes out passes the check, or says why, and no more than it must."""

from __future__ import annotations

import os
from collections import Counter
from dataclasses import replace
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from shipping.packing.geometry import judge_plan
from shipping.packing.planner import firstfit
from shipping.packing.planner.cases import CASES, LEFT, MOVES, Family
from shipping.packing.planner.conflict import smallest
from shipping.packing.planner.engines import Stop, cp_sat, highs
from shipping.packing.planner.families import families
from shipping.packing.planner.pooled import Pooling
from shipping.packing.planner.solver import Planner, at_once
from shipping.packing.wanted import Air, Gear, Job, Plan, Shell, Van, moves
from tests.shipping.packing.loads import seconds
from tests.shipping.packing.tours import cut_load, tour_load

EXAMPLES = int(os.environ.get("PLAN_EXAMPLES", "25"))
MASSES = (500, 4_000, 9_000)


def planned(job: Job, many: float = 5, seed: int = 0) -> Plan:
    return Planner(job, seconds(many), Stop(), seed=seed).run()


@some.composite
def gear_of_any_sort(draw: some.DrawFn, at: int) -> Gear:
    sort = draw(some.sampled_from(("rack", "loose", "drive")))
    size: dict[str, object] = {
        "rack": {"units": draw(some.integers(1, 4)), "depth_mm": draw(some.sampled_from((300, 650)))},
        "drive": {"slots": draw(some.integers(1, 2))},
        "loose": {"size_mm": draw(some.sampled_from(((300, 200, 200), (400, 300, 150), (600, 300, 100)))),
                  "upright": draw(some.booleans()), "fragile": draw(some.booleans()), **draw(some.sampled_from(POWER)),
                  "boxed": draw(some.sampled_from((False, False, True)))},
    }[sort]  # fmt: skip
    tag = draw(some.sampled_from(("", "", "", "together", "apart", "spare", "copies", "convoy")))
    tags = {tag: (f"{sort} {tag}",) if tag == "copies" else f"{sort} {tag}"} if tag else {}
    count = draw(some.integers(1, 4)) if tag not in ("apart", "spare", "copies") else 1
    home = ((f"{sort[0]}0", draw(some.integers(1, count))),) if draw(some.booleans()) else ()
    railed = sort == "rack" and tag in ("", "convoy") and draw(some.booleans())
    return Gear(f"{sort}{at}", f"{sort} {at}", sort, count, draw(some.sampled_from(MASSES)), homes=home,
                rails=f"rails{at}" if railed else "", **size, **tags)  # type: ignore[arg-type]  # fmt: skip


POWER = (
    {}, {"battery": True, "chemistry": "lithium", "battery_mwh": 98_000}, {"battery": True, "chemistry": "lead"},
    {"runs_on": 2, "chemistry": "lithium", "battery_mwh": 98_000},
    {"runs_on": 1, "chemistry": "lithium", "battery_mwh": 100_048},
)  # fmt: skip


@some.composite
def load(draw: some.DrawFn) -> Job:
    gear = [draw(gear_of_any_sort(at)) for at in range(draw(some.integers(1, 7)))]
    gear += [Gear(one.rails, "rails", "rack", draw(some.integers(0, one.count)) or 1, 300) for one in gear if one.rails]
    shells = [_case(sort, at, draw) for sort in ("rack", "loose", "drive") for at in range(draw(some.integers(1, 3)))]
    shells += [_packaging(one, at, draw) for one in gear if one.boxed for at in range(draw(some.integers(0, 2)))]
    vans = tuple(Van(f"v{at}", f"van {at}", 150_000) for at in range(draw(some.integers(0, 2))))
    air = draw(some.sampled_from((None, Air(), Air(passenger=False, spares=1), Air(baggage=True))))
    return Job(tuple(gear), tuple(shells), vans, split_batteries=air is None and draw(some.booleans()),
               moves_first=draw(some.booleans()), air=air)  # fmt: skip


def _case(sort: str, at: int, draw: some.DrawFn) -> Shell:
    lift = draw(some.sampled_from((0, 25_000)))
    by = {"rack": {"units": draw(some.sampled_from((4, 6))), "depth_mm": draw(some.sampled_from((400, 800)))},
          "loose": {"inside_mm": draw(some.sampled_from(((600, 400, 400), (800, 600, 300))))},
          "drive": draw(some.sampled_from(({"slots": 4}, {"compartments": (("drive", 3),)})))}[sort]  # fmt: skip
    by |= {"rides": draw(some.booleans()), "off_vans": draw(some.sampled_from((False, False, False, True)))}
    return Shell(f"{sort[0]}{at}", f"{sort} case {at}", (sort,), 10_000, 40_000, lift_g=lift, **by)  # type: ignore[arg-type]


def _packaging(gear: Gear, at: int, draw: some.DrawFn) -> Shell:
    """The original packaging of one kind, for one or a few of it."""
    inside = draw(some.sampled_from(((600, 300, 300), (800, 600, 300))))
    return Shell(f"b{at} {gear.id}", f"packaging {at} of {gear.name}", ("loose",), 2_000, 30_000, inside_mm=inside,
                 made_for=(gear.id,))  # fmt: skip


def everything(job: Job, plan: Plan) -> bool:
    """Is each thing packed or left, once?"""
    seen = Counter({one.gear: one.count for one in plan.left})
    for content in plan.contents.values():
        seen.update(dict(content))
    return seen == Counter({one.id: one.count for one in job.gear})


@given(load())
@settings(max_examples=EXAMPLES, deadline=None)
def test_any_load_is_planned_within_the_rules_or_says_why(job):
    shown: list[Plan] = []
    plan = Planner(job, seconds(4), Stop(), on_plan=shown.append).run()
    assert all(judge_plan(job, one) == () and everything(job, one) for one in shown)
    assert plan == shown[-1]
    assert all(one.reason for one in plan.left)
    assert all(job.cases[case].made_for in ((), (ident,)) and (not job.kinds[ident].boxed or job.cases[case].made_for)
               for case, held in plan.contents.items() for ident, _ in held)  # fmt: skip
    assert sum(one.count for one in plan.left) <= sum(one.count for one in at_once(job).left)


@given(load())
@settings(max_examples=EXAMPLES, deadline=None)
def test_what_cannot_all_go_is_a_set_of_which_every_smaller_one_goes(job):
    for part in families(job):
        if _goes(part, {one.id: one.count for one in part.gear}):
            continue
        named = dict(smallest(part, seconds(10), Stop()))
        assert named and not _goes(part, named)
        for ident in named:
            assert _goes(part, _one_less(part, named, ident)), (named, ident)


def _goes(job: Job, counts: dict[str, int]) -> bool:
    """By the other engine than the one that made the explanation. By air all that runs on batteries may go along."""
    packs = any(counts.get(one.id) for one in job.gear if one.is_loose_lithium)
    along = _company(job) if job.air is not None and packs else set()
    gear = tuple(
        replace(one, count=one.count if one.id in along else counts[one.id])
        for one in job.gear if one.id in along or counts.get(one.id)
    )  # fmt: skip
    if not gear:
        return True
    family = Family(replace(job, gear=gear), {})
    for one in gear:
        family.model.upper[family.left[one.id]] = one.count - counts.get(one.id, 0)
    found = cp_sat(family.model, 20)
    assert found.impossible or found.values is not None
    return not found.impossible


def _company(job: Job) -> set[str]:
    """What runs on batteries, and what goes only with it."""
    found = {one.id for one in job.gear if one.runs_on and not one.battery}
    tags = {one.together for one in job.gear if one.id in found} - {""}
    found |= {one.id for one in job.gear if one.together in tags}
    return found | ({one.rails for one in job.gear if one.id in found} & set(job.kinds))


def _one_less(job: Job, counts: dict[str, int], ident: str) -> dict[str, int]:
    """One thing less, and with it what cannot be without it: its group, or the frame whose rails it is."""
    gear = job.kinds[ident]
    frame = next((one for one in job.gear if one.rails == ident), None)
    if frame is not None:
        return counts | {frame.id: counts.get(frame.id, 1) - 1}
    if gear.together:
        return {one: many for one, many in counts.items() if job.kinds[one].together != gear.together}
    return counts | {ident: counts[ident] - 1}


@pytest.mark.parametrize("units,fewest", [([5, 5, 5], 3), ([3, 3, 3, 3, 1], 5), ([4, 4, 2, 2, 2], 5)])
def test_the_set_that_cannot_go_is_as_small_as_trying_everything_says(units, fewest):
    counts = Counter(units)
    gear = tuple(Gear(f"g{u}", f"{u} U", "rack", many, 100, units=u) for u, many in counts.items())
    job = Job(gear, tuple(Shell(f"R{at}", f"R{at}", ("rack",), 0, 100_000, units=6, depth_mm=800) for at in range(2)))
    named = [int(ident[1:]) for ident, count in smallest(job, seconds(5), Stop()) for _ in range(count)]
    assert len(named) <= fewest and not _by_trying(named)
    assert all(_by_trying(named[:at] + named[at + 1 :]) for at in range(len(named)))


PACK = {"battery": True, "chemistry": "lithium", "battery_mwh": 98_000}
LEAD = {"chemistry": "lead"}
CAMERA = {"runs_on": 1, "chemistry": "lithium", "battery_mwh": 60_000}


def _by_air(packs: int, cameras: int, reels: int, pack_g: int = 500, ups: int = 0, rides: int = 0) -> Job:
    """Batteries, what runs on them and what fills room, for two trunks of two places each, of which some ride."""
    rows = (("pack", packs, pack_g, (300, 100, 200), PACK), ("camera", cameras, 2_000, (300, 400, 400), CAMERA),
            ("reel", reels, 2_000, (300, 400, 400), {}), ("ups", ups, 9_000, (300, 400, 400), LEAD))  # fmt: skip
    gear = tuple(Gear(name, name, "loose", many, mass, size_mm=size, **more)  # type: ignore[arg-type]
                 for name, many, mass, size, more in rows if many)  # fmt: skip
    trunks = tuple(Shell(f"T{at}", f"T{at}", ("loose",), 10_000, 40_000, inside_mm=(600, 400, 400)) for at in range(2))
    return Job(gear, tuple(replace(one, rides=at < rides) for at, one in enumerate(trunks)), air=Air())


@pytest.mark.parametrize("job,named", [
    (_by_air(9, 1, 0), {"pack": 4}),  # one camera and two spares: three fly beside it
    (_by_air(3, 0, 1), {"pack": 1}),  # nothing runs on them, so not one flies
    (_by_air(2, 1, 4), {"pack": 1, "reel": 3}),  # beside three reels its camera leaves it no room
    (_by_air(0, 2, 3), {"camera": 2, "reel": 3}),  # no matter of batteries
    (_by_air(4, 2, 0, pack_g=4_000), {"pack": 3}),  # 5 kg to a case, so one of them in each
    (_by_air(0, 0, 1, ups=3, rides=1), {"ups": 3}),  # two ride, none flies
    (_by_air(17, 0, 0, rides=1), {"pack": 17}),  # as many as one trunk has room for
    (_by_air(9, 0, 2, ups=1, rides=1), {"pack": 9, "ups": 1}),  # beside it half a trunk rides, and none flies alone
    (_by_air(1, 0, 3, ups=2, rides=1), {"pack": 1, "ups": 2}),  # the trunk that rides is full of the two
    (_by_air(4, 1, 2, ups=2, rides=1), {"pack": 1, "reel": 1, "ups": 2}),  # camera and reel leave it no room by air
    (_by_air(2, 2, 0, ups=3, rides=2), {"camera": 1, "pack": 1, "ups": 3}),  # nothing flies: no matter of the air
])  # fmt: skip
def test_by_air_the_named_set_is_as_small_as_trying_every_smaller_one_says(job, named):
    assert dict(smallest(job, seconds(10), Stop())) == named
    assert not _goes(job, named)
    for many in product(*(range(count + 1) for count in named.values())):
        fewer = dict(zip(named, many, strict=True))
        assert fewer == named or _goes(job, fewer), fewer


def _by_trying(units: list[int]) -> bool:
    ways = product(range(2), repeat=len(units))
    return any(
        all(sum(u for u, on in zip(units, way, strict=True) if on == at) <= 6 for at in range(2)) for way in ways
    )


@pytest.mark.parametrize("seed", range(1, 3))
@pytest.mark.parametrize("make", [lambda seed: cut_load(100, seed)[0], lambda seed: tour_load(100, seed, models=3)])
def test_both_engines_and_the_pool_agree_on_a_hundred_things(make, seed):
    for part in families(make(seed)):
        family, reached = Family(part, {}), []
        for name, terms, add in family.goals():
            pool = Pooling(part).bound(reached, 5, Stop())
            family.model.goal = terms
            if name != MOVES and terms:
                found = [engine(family.model, 20.0) for engine in (highs, cp_sat)]
                values = [family.model.value(terms, one.values) for one in found]
                assert values[0] == values[1] == found[0].bound == found[1].bound
                family.model.row(terms, -(10**9), values[0], "goal")
                reached.append(values[0] + add)
                assert pool.bound <= reached[-1]


@pytest.mark.parametrize("seed", range(1, 4))
def test_a_load_with_every_rule_needs_no_more_cases_than_it_was_cut_from(seed):
    job, fewest = cut_load(100, seed)
    plan = planned(job, 5, seed)
    by_size = firstfit.first_fit(job)
    goals = {one.name: one for one in plan.levels}
    assert judge_plan(job, plan) == () and everything(job, plan) and not plan.left
    assert goals[CASES].value == goals[CASES].bound == fewest and goals[LEFT].proven
    assert goals[MOVES].value <= moves(job, by_size.contents()) // 2


@pytest.mark.parametrize("seed", range(3))
def test_a_seed_changes_nothing_in_what_is_proven(seed):
    job = tour_load(100, 4)
    plan, again = planned(job, 8, seed), planned(job, 8, seed)
    assert judge_plan(job, plan) == () and everything(job, plan)
    assert [(one.name, one.value) for one in plan.levels] == [(one.name, one.value) for one in again.levels]
    if not plan.notes and not again.notes:
        assert (plan.contents, plan.vans) == (again.contents, again.vans)
