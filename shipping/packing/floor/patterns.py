"""Rows as patterns of lanes across the deck: every way to fill one that no other way of the same depth beats.

A place made for one foot serves every smaller one too. So of two lanes that leave the same room beside them only the
one for the larger foot is looked at, which leaves about one pattern in eight.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from shipping.packing.floor.stacks import Foot, goes_in

MOST_PATTERNS = 20_000
DEEP_MM = 1200  # small cases one behind another make rows up to this, or up to the longest case


@dataclass(frozen=True, slots=True, order=True)
class LaneKind:
    """A lane of stacks one behind another: `across` of the deck's width, `each` along it for one stack."""

    across: int
    each: int
    foot: Foot


@dataclass(frozen=True, slots=True)
class Pattern:
    """A row: its depth, its lanes from the left with how many stacks each holds, and the sum of them by foot."""

    depth: int
    lanes: tuple[tuple[LaneKind, int], ...]
    slots: tuple[tuple[Foot, int], ...]


def lane_kinds(foot: Foot) -> Iterator[LaneKind]:
    along, across, turns = foot
    yield LaneKind(across, along, foot)
    if turns and along != across:
        yield LaneKind(along, across, foot)


def patterns(width: int, most_depth: int, need: Mapping[Foot, int]) -> tuple[list[Pattern], bool]:
    """All that are worth having for so many stacks that a place of each foot may serve, and whether that is all."""
    lanes = sorted((lane for foot in need for lane in lane_kinds(foot) if lane.across <= width), reverse=True)
    found: dict[tuple[tuple[Foot, int], ...], Pattern] = {}
    deepest = min(most_depth, max([DEEP_MM, *(lane.each for lane in lanes)]))
    for depth in sorted({many * lane.each for lane in lanes for many in range(1, deepest // lane.each + 1)}):
        useful = _useful(depth, [one for one in lanes if one.each <= depth], need)
        for taken in _fills(width, depth, useful, dict(need)):
            one = _pattern(taken)
            if one.slots not in found or one.depth < found[one.slots].depth:
                found[one.slots] = one
            if len(found) >= MOST_PATTERNS:
                return list(found.values()), False
    return _worth_having([one for one in found.values() if not _beaten(width, one, lanes, need)]), True


def _useful(depth: int, lanes: Sequence[LaneKind], need: Mapping[Foot, int]) -> list[LaneKind]:
    """Without lanes beside which another is no wider and has as many places, each for a larger foot."""
    room = {lane: min(depth // lane.each, need[lane.foot]) for lane in lanes}

    def beats(other: LaneKind, lane: LaneKind) -> bool:
        return other.across <= lane.across and room[other] >= room[lane] and _larger(other, lane)

    return [lane for lane in lanes if not any(beats(other, lane) for other in lanes)]


def _beaten(width: int, one: Pattern, lanes: Sequence[LaneKind], need: Mapping[Foot, int]) -> bool:
    """Would a lane for a larger foot fit in the place of one of its lanes, in the width and depth there are?

    Only where so many places for that foot are wanted at all: else no such pattern is made.
    """
    free, slots = width - sum(lane.across for lane, _ in one.lanes), dict(one.slots)
    return any(
        other.across <= lane.across + free and many * other.each <= one.depth and _larger(other, lane)
        and slots.get(other.foot, 0) + many <= need[other.foot]
        for lane, many in one.lanes
        for other in lanes
    )  # fmt: skip


def _larger(other: LaneKind, lane: LaneKind) -> bool:
    return other.foot != lane.foot and goes_in(lane.foot, other.foot)


def _fills(
    width: int, depth: int, lanes: list[LaneKind], need: dict[Foot, int]
) -> Iterator[list[tuple[LaneKind, int]]]:
    """Every choice of lanes that leaves no room, or no need, for one more."""
    if not lanes:
        return
    stack: list[tuple[int, int, list[tuple[LaneKind, int]], dict[Foot, int]]] = [(0, width, [], need)]
    while stack:
        at, free, taken, wanted = stack.pop()
        if at == len(lanes):
            if taken and not any(lane.across <= free and wanted[lane.foot] > 0 for lane in lanes):
                yield taken
            continue
        stack.append((at + 1, free, taken, wanted))
        lane = lanes[at]
        if lane.across <= free and wanted[lane.foot] > 0:
            many = min(depth // lane.each, wanted[lane.foot])
            stack.append(
                (at, free - lane.across, [*taken, (lane, many)], {**wanted, lane.foot: wanted[lane.foot] - many})
            )


def _pattern(taken: list[tuple[LaneKind, int]]) -> Pattern:
    slots: dict[Foot, int] = {}
    for lane, many in taken:
        slots[lane.foot] = slots.get(lane.foot, 0) + many
    return Pattern(max(lane.each * many for lane, many in taken), tuple(taken), tuple(sorted(slots.items())))


def _worth_having(found: list[Pattern]) -> list[Pattern]:
    """Without those that another of the same depth or less covers foot by foot."""
    feet = {foot: at for at, foot in enumerate(sorted({foot for one in found for foot, _ in one.slots}))}
    kept: list[Pattern] = []
    has = np.zeros((len(found), len(feet)), int)
    for one in sorted(found, key=lambda p: (p.depth, -sum(many for _, many in p.slots), p.slots)):
        slots = np.zeros(len(feet), int)
        for foot, many in one.slots:
            slots[feet[foot]] = many
        if not (has[: len(kept)] >= slots).all(axis=1).any():
            has[len(kept)] = slots
            kept.append(one)
    return kept
