"""Whole contents of cases: each one keeps the rules of its case, and a choice of them is a plan."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings

from shipping.packing.planner import fitting
from shipping.packing.planner.columns import Columns
from shipping.packing.planner.engines import Stop
from shipping.packing.planner.families import families
from shipping.packing.planner.local import Local
from shipping.packing.planner.pooled import Pooling
from shipping.packing.planner.pricing import Greedy, Stock
from shipping.packing.planner.search import FULL, Search
from shipping.packing.planner.solver import at_once
from shipping.packing.planner.trunks import Held, made_to_fit
from shipping.packing.wanted import Air, Gear, Job, Shell, moves
from tests.shipping.packing.loads import rack_case, seconds
from tests.shipping.packing.test_planner_random import EXAMPLES, load
from tests.shipping.packing.tours import tour_load


def trunks(scale: int, seed: int) -> Job:
    """The largest family of a drawn load: what goes into trunks."""
    return next(one for one in families(tour_load(scale, seed, models=3)) if one.gear[0].family == "loose")


def within(job: Job, shell: Shell, content: tuple[tuple[str, int], ...]) -> bool:
    """Does one case hold this by each of its limits, reckoned anew in whole numbers?"""
    taken: dict[str, int] = {}
    for ident, many in content:
        if many > fitting.most(job.kinds[ident], shell, job):
            return False
        for name, each in fitting.needs(job.kinds[ident], shell).items():
            taken[name] = taken.get(name, 0) + each * many
    tags = [tag for ident, many in content for tag in job.kinds[ident].not_in_one_case for _ in range(many)]
    batteries = {job.kinds[ident].battery for ident, _ in content}
    room = fitting.limits(shell)
    return (
        all(amount <= room[name] for name, amount in taken.items())
        and len(tags) == len(set(tags))
        and not (job.split_batteries and len(batteries) > 1)
    )


@given(load())
@settings(max_examples=EXAMPLES, deadline=None)
def test_every_content_filled_at_prices_keeps_the_limits_of_its_case(job):
    road = replace(job, air=None)
    for part in families(road):
        stock = Stock(part)
        if not stock.bundles:
            continue
        for sort in stock.sorts:
            _, filled_at = Greedy(stock, sort).fill(np.full(len(stock.bundles), 0.7), 1.0)
            for shell, counts in zip(part.shells, filled_at.counts, strict=True):
                content = stock.content(counts)
                assert within(part, shell, content)
                assert all(dict(content).get(g.rails, 0) >= 1 for i, _ in content if (g := part.kinds[i]).rails)
                assert all(many == g.count for i, many in content if (g := part.kinds[i]).together)


def test_the_dearest_things_are_taken_and_those_at_home_before_others():
    gear = (
        Gear("dear", "dear", "rack", 2, 1_000, units=4, homes=(("R2", 1),)),
        Gear("cheap", "cheap", "rack", 9, 1_000, units=2),
    )
    stock = Stock(Job(gear, (rack_case("R1", 6), rack_case("R2", 6))))
    at = {bundle[0][0].id: here for here, bundle in enumerate(stock.bundles)}
    prices = np.array([3.0, 1.0]) if at["dear"] == 0 else np.array([1.0, 3.0])
    worth, found = Greedy(stock, stock.sorts[0]).fill(prices, 1.0)
    assert [stock.content(counts) for counts in found.counts] == [(("cheap", 1), ("dear", 1))] * 2
    assert worth.tolist() == [4.0, 5.0] and found.kept.tolist() == [0.0, 1.0]


def test_without_a_case_nothing_is_filled():
    stock = Stock(Job((Gear("x", "x", "rack", 1, 500, units=1),), ()))
    worth, found = Greedy(stock, stock.sorts[0]).fill(np.ones(1), 1.0)
    assert worth.shape == (0,) and found.counts.shape == (0, 1)


def test_what_is_no_longer_waiting_is_filled_in_nowhere():
    stock = Stock(Job((Gear("x", "x", "rack", 5, 1_000, units=2),), (rack_case("R1", 6),)))
    greedy = Greedy(stock, stock.sorts[0])
    greedy.limit(np.array([1.0]))
    assert stock.content(greedy.fill(np.ones(1), 1.0)[1].counts[0]) == (("x", 1),)


@pytest.mark.parametrize("seed", range(1, 4))
def test_a_dive_loses_nothing_and_every_trunk_of_it_goes_in(seed):
    part = trunks(100, seed)
    fewest = Pooling(part).bound([0], 5, Stop()).bound
    columns = Columns(part, fewest, FULL, Stop())
    columns.relax(seconds(10))
    dived = columns.dive(seconds(10))
    assert 0 < len(dived.contents) <= fewest
    assert all(within(part, part.cases[case], content) for case, content in dived.contents.items())
    packed = {one.id: sum(dict(held).get(one.id, 0) for held in dived.contents.values()) for one in part.gear}
    assert all(packed[one.id] + dived.left.get(one.id, 0) == one.count for one in part.gear)
    assert made_to_fit(part, dived.contents, dived.left).contents == dived.contents


def test_the_same_dice_dive_the_same_way():
    part = trunks(100, 1)
    found = []
    for _ in range(2):
        columns = Columns(part, 9, FULL, Stop(), np.random.default_rng(3))
        columns.relax(seconds(20))
        found.append([columns.dive(seconds(20)) for _ in range(2)])
    assert found[0] == found[1]


@pytest.mark.parametrize("seed", [1, 2])
def test_dives_alone_reach_the_fewest_cases_and_move_less_than_hand_rules(seed):
    part = trunks(300, seed)
    fewest = Pooling(part).bound([0], 5, Stop()).bound
    columns = Columns(part, fewest, FULL, Stop())
    columns.relax(seconds(20))
    dives = [columns.dive(seconds(20)) for _ in range(3)]
    best = min(dives, key=lambda one: (sum(one.left.values()), moves(part, one.contents)))
    by_hand = at_once(part)
    assert sum(best.left.values()) <= 1 and len(best.contents) == fewest <= len(by_hand.contents)
    assert moves(part, best.contents) < moves(part, by_hand.contents)


def test_a_plan_gets_better_by_contents_chosen_for_a_few_cases():
    part = trunks(300, 1)
    plan = at_once(part)
    start = Held(plan.contents, {one.gear: one.count for one in plan.left}, plan.layouts)
    heard, stop = [start.goal(part)], Stop()

    def hear(one: Held) -> bool:
        heard.append(one.goal(part))
        if len(heard) > 2:
            stop.set()
        return True

    local = Local(part, seconds(30), stop, start, [0, 0, 0], hear, by_contents=True)
    local._planned_to_go_in = lambda _: None
    best = local.run()
    assert len(heard) == 3 and heard == sorted(set(heard), reverse=True) and best.goal(part) == heard[-1]


def search_of(job: Job) -> Search:
    return Search(job, Stop(), lambda: None, lambda _: None, Held(at_once(job).contents))


def test_contents_are_not_chosen_where_batteries_need_what_runs_on_them_beside_them():
    part = trunks(100, 1)
    lithium = tuple(replace(one, chemistry="lithium") if one.battery else one for one in part.gear)
    assert any(one.battery for one in part.gear)
    assert search_of(part)._by_contents()
    assert not search_of(replace(part, gear=lithium, air=Air()))._by_contents()


def test_contents_are_not_chosen_for_a_number_of_cases_where_moves_count_first():
    assert not search_of(replace(trunks(100, 1), moves_first=True))._by_contents()
