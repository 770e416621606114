"""Plans made to reach the bound by going sideways: what they offer holds, and what is proven is so by both engines."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest

from shipping.packing.planner import firstfit
from shipping.packing.planner.aiming import Aim
from shipping.packing.planner.cases import Family
from shipping.packing.planner.engines import Stop, cp_sat
from shipping.packing.planner.families import families
from shipping.packing.planner.pooled import Pool, Pooling
from shipping.packing.planner.search import Search
from shipping.packing.planner.solver import Planner
from shipping.packing.planner.trunks import Held, laid_out
from shipping.packing.wanted import Gear, Job
from tests.shipping.packing.loads import trunk
from tests.shipping.packing.tours import cut_load, tour_load


def trunks_of(job: Job) -> Job:
    return max(families(job), key=lambda part: sum(gear.count for gear in part.gear if gear.size_mm))


def pooled(job: Job) -> tuple[Pool, list[int]]:
    pooling, reached = Pooling(job), list[int]()
    for _ in range(3):
        pool = pooling.bound(reached, 30, Stop())
        reached.append(pool.bound)
    return pool, reached


def aimed(job: Job, offered: list[Held]) -> tuple[Aim, list[int]]:
    """From what lives where, without a clock: it ends by itself."""
    pool, reached = pooled(job)
    opened = replace(job, shells=tuple(one for one in job.shells if one.id in pool.opened))
    aim = Aim(opened, reached[2], pool.for_batteries, Stop(), lambda held: offered.append(held) or True)
    start = firstfit.home_first(opened)
    aim.begin(start.contents(), start.left)
    aim.run(lambda: 60.0)
    return aim, reached


@pytest.mark.parametrize("seed", [1, 2])
def test_a_plan_as_good_as_the_bound_is_found_among_those_that_go_in(seed):
    job, offered = trunks_of(cut_load(100, seed)[0]), list[Held]()
    aim, reached = aimed(job, offered)
    assert aim.reached
    assert list(offered[-1].goal(job)) == reached
    assert not laid_out(job, offered[-1].contents)[1]


def test_each_plan_offered_is_better_holds_all_and_goes_in():
    job, offered = trunks_of(tour_load(100, 1, models=3)), list[Held]()
    aimed(job, offered)
    goals = [held.goal(job) for held in offered]
    assert goals == sorted(set(goals), reverse=True)
    for held in offered:
        packed = Counter[str]()
        for content in held.contents.values():
            packed.update(dict(content))
        assert packed == Counter({gear.id: gear.count for gear in job.gear})
        assert set(held.layouts) == set(held.contents) and not laid_out(job, held.contents)[1]


def test_the_same_plans_are_offered_each_time():
    job = trunks_of(cut_load(100, 1)[0])
    once, twice = list[Held](), list[Held]()
    aimed(job, once)
    aimed(job, twice)
    assert once and once == twice


def test_a_whole_plan_is_gone_on_from_in_its_own_cases():
    """Where a draft in the cases of the pool never took the last things."""
    job = trunks_of(tour_load(100, 1, models=3))
    whole = firstfit.first_fit(job)
    best = Held(whole.contents(), whole.left)
    search = Search(job, Stop(), lambda: None, lambda _: None, best)
    search.bounds = [0, len(best.contents), 0]
    aim = search._aim_from_best()
    assert not best.left and aim.short == 0
    assert set(aim.job.cases) == set(best.contents)
    for case, content in best.contents.items():
        assert {job.kinds[ident].battery for ident, _ in dict(content).items()} <= {case in aim.for_batteries}
    clock = iter(range(60, 0, -1))  # goes on by one each time it is looked at
    aim.run(lambda: float(next(clock, 0)))
    assert search.best.goal(job) < best.goal(job) and search.best.left == {}


def test_an_engine_that_did_so_much_work_ends_the_same_each_time():
    job = trunks_of(tour_load(100, 1, models=3))
    family, fewest = Family(job, {}), pooled(job)[1][1]
    (_, left, _), (_, cases, _), (_, family.model.goal, _) = family.goals()
    family.model.row(left, 0, 0, "all of it")
    family.model.row(cases, 0, fewest, "fewest cases")
    once, again, whole = (cp_sat(family.model, 60.0, work=work) for work in (0.02, 0.02, 60.0))
    assert once == again != whole
    assert whole.values is not None and family.model.value(family.model.goal, whole.values) == whole.bound


def test_of_cases_that_do_as_well_the_roomiest_are_opened():
    gear = Gear("bag", "bag", "loose", 2, 1_000, size_mm=(300, 300, 300))
    shells = (trunk("T1", inside_mm=(600, 600, 600)), trunk("T2", inside_mm=(1200, 600, 600)))
    found = Pooling(Job((gear,), shells)).roomiest([0, 1, 0], 5, Stop())
    assert found is not None and found.opened == ("T2",)


@pytest.mark.parametrize("seed", range(1, 5))
def test_what_is_proven_is_the_optimum_of_the_other_engine_on_all_cases(seed):
    job = trunks_of(tour_load(50, seed, models=2))
    levels = Planner(job, lambda: 30.0, Stop()).run().levels
    family, proven = Family(job, {}), 0
    for (name, terms, add), level in zip(family.goals(), levels, strict=False):
        family.model.goal = terms
        found = cp_sat(family.model, 30.0)
        best = family.model.value(terms, found.values) + add
        assert found.bound + add == best and level.name == name
        assert level.bound <= best
        if not level.proven:
            break
        assert level.value == best
        family.model.row(terms, -(10**9), best - add, "goal")
        proven += 1
    assert proven >= 2, "cases at least are proven"
