"""Whether the things of one trunk go in at all, by an engine: where each stands, or the proof that they never do.

Boxes turned along the axes, none within another, nothing above a fragile one at any height. Said of few things only:
with many the engine would think for long. After so much work, in its own count, it gives up: the same each time.
"""

from __future__ import annotations

from dataclasses import dataclass

from ortools.sat.python import cp_model

from shipping.packing.planner.fitting import turns
from shipping.packing.wanted import Gear, Placed, Size

MOST, WORK = 14, 0.01


@dataclass(frozen=True, slots=True)
class Answer:
    """A layout, in which things may still hang in the air; or, if `impossible`, the proof that there is none."""

    layout: tuple[Placed, ...] | None
    impossible: bool = False


@dataclass(frozen=True)
class _Box:
    gear: Gear
    turned: list[tuple[Size, cp_model.IntVar]]
    low: list[cp_model.IntVar]
    high: list[cp_model.LinearExprT]


def placed(things: tuple[tuple[Gear, int], ...], inside: Size, work: float = WORK) -> Answer:
    """Places for all of these, or that there are none; neither if it gave up."""
    if sum(count for _, count in things) > MOST:
        return Answer(None)
    ways = {gear.id: [size for size in sorted(turns(gear)) if _within(size, inside)] for gear, _ in things}
    if not all(ways.values()):
        return Answer(None, impossible=True)
    model = cp_model.CpModel()
    boxes = [_box(model, gear, ways[gear.id], inside) for gear, count in things for _ in range(count)]
    for at, one in enumerate(boxes):
        for other in boxes[:at]:
            _beside(model, other, one)
    for one, following in zip(boxes, boxes[1:], strict=False):
        if one.gear.id == following.gear.id:
            model.add(one.low[0] <= following.low[0])
    return _solved(model, boxes, work)


def _solved(model: cp_model.CpModel, boxes: list[_Box], work: float) -> Answer:
    solver = cp_model.CpSolver()
    solver.parameters.num_workers, solver.parameters.max_deterministic_time = 1, work
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Answer(None, impossible=status == cp_model.INFEASIBLE)
    return Answer(tuple(_where(solver, box) for box in boxes))


def _where(solver: cp_model.CpSolver, box: _Box) -> Placed:
    x, y, z = (solver.value(low) for low in box.low)
    return Placed(box.gear.id, (x, y, z), next(size for size, way in box.turned if solver.value(way)))


def _within(size: Size, inside: Size) -> bool:
    return all(side <= room for side, room in zip(size, inside, strict=True))


def _box(model: cp_model.CpModel, gear: Gear, ways: list[Size], inside: Size) -> _Box:
    turned = [(size, model.new_bool_var("")) for size in ways]
    model.add_exactly_one(way for _, way in turned)
    low = [model.new_int_var(0, room, "") for room in inside]
    high = [low[axis] + sum(size[axis] * way for size, way in turned) for axis in range(3)]
    for axis, room in enumerate(inside):
        model.add(high[axis] <= room)
    return _Box(gear, turned, low, high)


def _beside(model: cp_model.CpModel, one: _Box, other: _Box) -> None:
    """One ends before the other begins along some axis; above a fragile one there is nothing."""
    found = []
    for axis in range(3):
        for first, second in ((one, other), (other, one)):
            if axis < 2 or not first.gear.fragile:
                apart = model.new_bool_var("")
                model.add(first.high[axis] <= second.low[axis]).only_enforce_if(apart)
                found.append(apart)
    model.add_bool_or(found)
