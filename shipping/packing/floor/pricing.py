"""A smaller model with the same optimum: what the relaxation prices out of every better plan is left out.

A whole variable that stands at 0 with reduced cost d makes every plan that uses it cost the relaxed optimum and d more,
at least. So the best plan among the cheap variables is the best of all, if it beats what the dear ones would cost.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import reduce
from typing import NamedTuple

import highspy

from shipping.packing.planner.engines import Quiet, Stop, highs, lp_of
from shipping.packing.planner.model import INFINITE, Found, Model

Start = list[int] | None
MARGIN, PART = 3.0, 0.25  # units of the goal above the relaxed optimum for the first look, and its share of the time
LARGE = 2500  # variables; a smaller model is quicker asked whole and as it is
FUZZ = 1e-6


def unit_of(model: Model) -> int:
    """The whole number that divides every weight of the goal: no two plans differ by less."""
    return reduce(math.gcd, model.goal.values(), 0) or 1


class Relaxed(NamedTuple):
    """The optimum with parts of things allowed: its values, reduced costs, and what each row is worth."""

    value: float
    values: list[float]
    reduced: list[float]
    prices: list[float]


def relaxed(model: Model, seconds: float) -> Relaxed | None:
    """None if there was no time."""
    solver, lp = Quiet(), lp_of(model)  # type: ignore[no-untyped-call]
    solver.silent()
    lp.integrality_ = [highspy.HighsVarType.kContinuous] * lp.num_col_
    for name, value in {"time_limit": max(0.05, seconds), "threads": 1}.items():
        solver.setOptionValue(name, value)
    solver.passModel(lp)
    solver.run()
    if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return None
    found = solver.getSolution()
    return Relaxed(solver.getObjectiveValue(), list(found.col_value), list(found.col_dual), list(found.row_dual))


def cheapest(model: Model, remaining: Callable[[], float], *, start: Start, stop: Stop, seed: int = 0) -> Found:
    """HiGHS on the cheap part of the model first, then on more of it: value and bound hold for the whole model."""
    unit = unit_of(model)
    small = _copy(model, unit)
    told = relaxed(small, remaining())
    best = Found(start if start is not None and model.holds(start) else None, -INFINITE, "first fit")
    if told is None:
        return _merged(model, best, _scaled(highs(small, remaining(), start=best.values, stop=stop, seed=seed), unit))
    floor, prices = told.value, told.reduced
    best = replace(best, bound=_up(floor) * unit)
    large = len(model.lower) > LARGE
    steps = ((MARGIN, PART), (None, 1.0)) if large else ((None, 1.0),)
    for margin, part in steps:
        if settled(model, best) or remaining() < 0.05 or stop.is_set:
            break
        edge = MARGIN if margin else _room(model, best, unit, floor)
        cheap = _without_dear(small, prices, edge, best.values)
        found = highs(cheap, remaining() * part, start=best.values, stop=stop, seed=seed, reduce=large)
        whole = math.isinf(edge)
        found = found if whole else replace(found, bound=min(found.bound, _up(floor + edge)), impossible=False)
        best = _merged(model, best, _scaled(found, unit))
    return best


def _room(model: Model, best: Found, unit: int, floor: float) -> float:
    """How much dearer than the relaxed optimum a plan may be and still beat the best known."""
    return math.inf if best.values is None else model.value(model.goal, best.values) / unit - floor


def _scaled(found: Found, unit: int) -> Found:
    return found if abs(found.bound) >= INFINITE else replace(found, bound=found.bound * unit)


def settled(model: Model, found: Found) -> bool:
    return found.impossible or (found.values is not None and model.value(model.goal, found.values) <= found.bound)


def _copy(model: Model, unit: int) -> Model:
    goal = {var: weight // unit for var, weight in model.goal.items()}
    return Model(list(model.lower), list(model.upper), list(model.rows), goal)


def _up(value: float) -> int:
    return INFINITE if math.isinf(value) else math.ceil(value - FUZZ)


def _without_dear(model: Model, prices: list[float], margin: float, start: Start) -> Model:
    """The model with every variable held at 0 that costs more than the margin, save those of the plan at hand."""
    upper = [
        0 if price > margin + FUZZ and low == 0 and not (start and start[at]) else high
        for at, (low, high, price) in enumerate(zip(model.lower, model.upper, prices, strict=True))
    ]
    return Model(model.lower, upper, model.rows, model.goal)


def _merged(model: Model, one: Found, other: Found) -> Found:
    """The better plan of two, with the better bound of two."""
    known = [each for each in (one, other) if each.values is not None]
    bound = max(one.bound, other.bound)
    if not known:
        return Found(None, bound, other.engine, impossible=other.impossible)
    best = min(known, key=lambda each: (model.value(model.goal, each.values or []), each is one))
    value = model.value(model.goal, best.values or [])
    return Found(best.values, min(bound, value), "HiGHS")
