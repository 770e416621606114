"""Rows from tables, turn by turn: as short as the engine finds on the whole model, and a plan that holds."""

from __future__ import annotations

from dataclasses import replace

import pytest

from shipping.packing.floor import planner
from shipping.packing.floor.chained import NAME, chained
from shipping.packing.floor.deck import LENGTH, Freight
from shipping.packing.floor.planner import Task
from shipping.packing.floor.rows import Rows
from shipping.packing.planner.engines import highs
from tests.shipping.packing.freights import at_random, filled, planned


def shortest(freight: Freight) -> Rows:
    """The model of all cases, however long the deck."""
    task = Task(freight, keep_first_off=True)
    rows = Rows(freight.deck, task.kinds, task.stacks)
    rows.leave_nothing(True)
    rows.model.goal = rows.depths
    return rows


def agree(freight: Freight) -> None:
    rows = shortest(freight)
    found, engine = chained(rows, lambda: 60.0), highs(rows.model, 60)
    assert found is not None and found.values is not None and engine.values is not None
    assert rows.model.holds(found.values)
    length = rows.model.value(rows.depths, found.values)
    assert length == found.bound == engine.bound == rows.model.value(rows.depths, engine.values)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("cases,stops", [(6, 1), (10, 2), (18, 3)])
def test_tables_and_engine_find_the_same_shortest_length(cases, stops, seed):
    agree(at_random(cases, stops, seed))


@pytest.mark.parametrize("seed", range(3))
def test_they_agree_where_some_cases_may_not_turn_and_three_stand_on_each_other(seed):
    freight = at_random(9, 2, seed, tiers=3)
    stiff = tuple(replace(one, turns=at % 3 > 0, on_top_g=200_000) for at, one in enumerate(freight.cargo))
    agree(Freight(freight.deck, stiff))


@pytest.mark.parametrize("stops", [2, 3])
def test_they_agree_on_rows_that_were_filled_from_wall_to_wall(stops):
    freight, length = filled(6, stops, seed=stops)
    agree(freight)
    rows = shortest(freight)
    found = chained(rows, lambda: 60.0)
    assert found is not None and found.bound <= length


def test_where_something_may_stay_behind_tables_are_not_the_way_to_ask():
    rows = shortest(at_random(8, 2, 1))
    rows.leave_nothing(False)
    assert chained(rows, lambda: 60.0) is None


def test_without_time_nothing_is_claimed():
    assert chained(shortest(at_random(10, 2, 1)), lambda: 0.0) is None


def test_a_plan_from_tables_passes_the_check_and_is_the_same_again(monkeypatch):
    monkeypatch.setattr(planner, "MANY", 20)
    freight = at_random(24, 3, 5)
    plan, again = planned(freight, 30), planned(Freight(freight.deck, freight.cargo[::-1]), 30)
    goal = next(one for one in plan.levels if one.name == LENGTH)
    assert (plan.proven, plan.breaches, plan.left, goal.engine) == (True, (), (), NAME)
    assert plan.spots == again.spots
    monkeypatch.setattr(planner, "MANY", 1000)
    by_engine = next(one for one in planned(freight, 30).levels if one.name == LENGTH)
    assert (by_engine.value, by_engine.bound) == (goal.value, goal.bound)
