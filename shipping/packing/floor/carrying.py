"""An earlier floor plan carried over to another freight: what still stands as it stood, and the rest by hand rules."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby

from shipping.packing.floor.deck import Deck, FloorPlan, Spot
from shipping.packing.floor.firstfit import rows_at_once, stack_up
from shipping.packing.floor.rows import Lane, Row, in_turn
from shipping.packing.floor.stacks import Kind, Stack

Standing = tuple[Spot, Stack]


def carried(deck: Deck, kinds: Sequence[Kind], stacks: Sequence[Stack], plan: FloorPlan) -> list[Row]:
    """Its rows with the stacks that are still allowed, then rows of all that they do not hold. However long."""
    waiting = [Counter(kind.ids) for kind in kinds]
    allowed = {one.kinds: one for one in stacks}
    rows = [row for _, spots in _rows(plan) if (row := _row(deck, spots, waiting, allowed)) is not None]
    rest = [replace(kind, ids=tuple(left.elements())) for kind, left in zip(kinds, waiting, strict=True)]
    return in_turn([*rows, *rows_at_once(deck, stack_up(stacks, rest))])


def _rows(plan: FloorPlan) -> Iterator[tuple[int, list[Spot]]]:
    ordered = sorted(plan.spots, key=lambda one: (one.row, one.place, one.tier))
    for row, spots in groupby(ordered, key=lambda one: one.row):
        yield row, list(spots)


def _row(
    deck: Deck, spots: Sequence[Spot], waiting: list[Counter[str]], allowed: dict[tuple[int, ...], Stack]
) -> Row | None:
    before, lanes = [Counter(one) for one in waiting], list[list[Standing]]()
    for _, members in groupby(spots, key=lambda one: one.place):
        standing = _stack(list(members), waiting, allowed)
        if standing is None:
            continue
        if lanes and _behind(lanes[-1][-1][0], standing[0]):
            lanes[-1].append(standing)
        else:
            lanes.append([standing])
    made = [_lane(lane) for lane in lanes]
    if not made or sum(lane.across for lane in made) > deck.width_mm:
        waiting[:] = before  # too wide for this deck: what stood in it waits again
        return None
    row = Row((), made)
    row.zone = tuple(sorted({stack.turn for stack in row.stacks}))
    for lane in made:
        lane.stacks.sort(key=lambda one: -one.turn)
    return row


def _stack(
    spots: Sequence[Spot], waiting: list[Counter[str]], allowed: dict[tuple[int, ...], Stack]
) -> Standing | None:
    """What of a stack is still to go, if it may stand so; it waits no longer then."""
    kinds = {ident: at for at, left in enumerate(waiting) for ident, many in left.items() if many > 0}
    here = [spot for spot in spots if spot.cargo in kinds]
    members = tuple(kinds[spot.cargo] for spot in here)
    stack = allowed.get(members)
    if stack is None or any(many > waiting[at].total() for at, many in Counter(members).items()):
        return None
    for spot in here:
        waiting[kinds[spot.cargo]][spot.cargo] -= 1
    return here[0], stack


def _behind(one: Spot, other: Spot) -> bool:
    """Does the other stand behind it, in one lane?"""
    return one.at_mm[1] < other.at_mm[1] + other.size_mm[1] and other.at_mm[1] < one.at_mm[1] + one.size_mm[1]


def _lane(lane: Sequence[Standing]) -> Lane:
    rooms = [_as_it_lay(stack, spot) for spot, stack in lane]
    return Lane(max(across for _, across in rooms), max(along for along, _ in rooms), [stack for _, stack in lane])


def _as_it_lay(stack: Stack, spot: Spot) -> tuple[int, int]:
    """(along, across): turned as it was, if it may be."""
    length, width, turns = stack.foot
    crosswise = (length > width) != (spot.size_mm[0] > spot.size_mm[1])
    return (width, length) if turns and crosswise else (length, width)
