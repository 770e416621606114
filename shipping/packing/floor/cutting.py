"""Rows that the relaxed model breaks and no plan does: so much floor, at given prices, every way to stack must cover.

The relaxation sets halves of cases on each other. At its own prices for places the cheapest way to stack one turn's
cases whole is a small question; its answer is a bound on those places in every plan.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from shipping.packing.floor.pricing import Relaxed, relaxed
from shipping.packing.floor.rows import Rows, stacks_tag
from shipping.packing.floor.stacks import Foot, Stack
from shipping.packing.planner.engines import highs
from shipping.packing.planner.model import INFINITE, Model
from shipping.packing.planner.model import Row as Limit

ROUNDS, FINE, SHORT_S = 3, 100, 0.5
CUT = "stacking"
Feet = Mapping[Foot, int]


def cut(rows: Rows, model: Model, remaining: Callable[[], float]) -> Model:
    """The model with such rows. Only for one in which nothing may stay behind; any other comes back as it is."""
    if any(model.upper[var] for var in rows.left):
        return model
    found = Model(model.lower, model.upper, list(model.rows), model.goal)
    for _ in range(ROUNDS):
        told = relaxed(found, remaining())
        broken = [] if told is None else [one for turn in rows.turns if (one := _broken(rows, found, told, turn))]
        if not broken or remaining() < SHORT_S:
            break
        found.rows += broken
    return found


def _broken(rows: Rows, model: Model, told: Relaxed, turn: int) -> Limit | None:
    """The row for one turn, if the relaxation stands on less."""
    stacks = {var: one for var, one in zip(rows.used, rows.stacks, strict=True) if one.turn == turn}
    price = _prices(model, told, stacks)
    small = stacking(rows, model, stacks, turn)
    small.goal = {at: price[one.foot] for at, one in enumerate(stacks.values())}
    found = highs(small, SHORT_S)
    stands = sum(price[one.foot] * told.values[var] for var, one in stacks.items())
    if abs(found.bound) >= INFINITE or found.bound <= stands * 1.001 + 1:
        return None
    terms = {var: price[one.foot] for var, one in stacks.items() if price[one.foot]}
    return Limit(terms, found.bound, INFINITE, f"{CUT} {turn}")


def _prices(model: Model, told: Relaxed, stacks: Mapping[int, Stack]) -> dict[Foot, int]:
    """What one place for each foot is worth to the goal, in hundredths."""
    tags = {row.tag: at for at, row in enumerate(model.rows)}
    return {
        one.foot: max(0, round(-FINE * told.prices[tags[stacks_tag(one.foot, one.turn)]])) for one in stacks.values()
    }


def stacking(rows: Rows, model: Model, stacks: Mapping[int, Stack], turn: int) -> Model:
    """Every case of a turn in one stack."""
    small = Model()
    for var in stacks:
        small.var(0, model.upper[var])
    for at, kind in enumerate(rows.kinds):
        if kind.turn == turn:
            terms = {var: one.kinds.count(at) for var, one in enumerate(stacks.values())}
            small.row(terms, len(kind.ids), len(kind.ids), f"cover {at}")
    return small
