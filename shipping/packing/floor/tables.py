"""The shortest rows of one turn for every count of stacks at once: a table with a side for each foot.

Filled pattern by pattern, as a knapsack is: a row takes from the count what its places take, and what it costs is its
depth. Where the counts are few enough for the table to be small this is quicker than a search, and it is exact.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from shipping.packing.floor.patterns import Pattern
from shipping.packing.floor.stacks import Foot, goes_in

NEVER = 10**8  # mm, more than any deck has; a few times it still fits the table's numbers
Vector = tuple[int, ...]
Numbers = NDArray[np.int32]
Places = tuple[Foot, ...]


class Table:
    """One turn: `most` stacks of each foot at most, and the patterns of rows that hold nothing else."""

    def __init__(self, most: dict[Foot, int], shapes: Sequence[Pattern], unit: int) -> None:
        self.feet = sorted(most)
        self.most = np.array([most[foot] for foot in self.feet], np.int32)
        self.shapes = [(shape.depth // unit, places_of(shape)) for shape in shapes]
        sides = [int(one) + 1 for one in self.most]
        self.strides = np.array([math.prod(sides[at + 1 :]) for at in range(len(sides))], np.int64)
        self.size = math.prod(sides)
        self._fitting: dict[Foot, list[int]] = {}
        self._by_itself: dict[Places, int] = {}

    @cached_property
    def grid(self) -> NDArray[np.int32]:
        """The count of each foot at each place of the table: one row a foot."""
        at = np.arange(self.size)
        return np.array(
            [(at // step) % (most + 1) for step, most in zip(self.strides, self.most, strict=True)], np.int32
        )

    @cached_property
    def _none(self) -> list[Numbers]:
        """For each foot what it costs to take one of it where there is none."""
        return [np.where(side == 0, NEVER, 0).astype(np.int32) for side in self.grid]

    def fitting(self, place: Foot) -> list[int]:
        """Numbers of the feet that go in a place."""
        if place not in self._fitting:
            self._fitting[place] = [at for at, foot in enumerate(self.feet) if goes_in(foot, place)]
        return self._fitting[place]

    @cached_property
    def length(self) -> Numbers:
        """The least sum of depths of rows with places for so many stacks, in units; NEVER where there are none."""
        found = np.full(self.size, NEVER, np.int32)
        found[0] = 0
        for depth, places in self.shapes:
            while True:
                better = np.minimum(found, self.with_places(found, places) + np.int32(depth))
                if np.array_equal(better, found):
                    break
                found = better
        return found

    def with_places(self, found: Numbers, places: Places) -> Numbers:
        """What is left to be covered costs, once each of these places has taken a stack that goes in it, or none."""
        for place in places:
            taken = found.copy()
            for at in self.fitting(place):
                step = int(self.strides[at])
                np.minimum(taken[step:], found[:-step] + self._none[at][step:], out=taken[step:])
            found = taken
        return found

    def by_itself(self, places: Places) -> int:
        """The most length that what stands in these places needs in rows of its own."""
        if places not in self._by_itself:
            self._by_itself[places] = int(self.length[self._held(places)].max())
        return self._by_itself[places]

    def _held(self, places: Places) -> NDArray[np.bool_]:
        """Which counts may stand in these places."""
        held = np.zeros(self.size, bool)
        held[0] = True
        for place in places:
            more = held.copy()
            for at in self.fitting(place):
                step = int(self.strides[at])
                more[step:] |= held[:-step] & (self.grid[at][step:] > 0)
            held = more
        return held

    def of(self, counts: Vector) -> int:
        """The least length for these counts."""
        return int(self.length[int(np.array(counts, np.int64) @ self.strides)])

    def traced(self, counts: Vector) -> list[tuple[int, list[tuple[Foot, Foot]]]]:
        """Rows that are as short as the table says: (number of its pattern, [(foot, the place it stands in)])."""
        rows, left = [], counts
        while any(left):
            at, taken, left = self._one_row(left)
            rows.append((at, taken))
        return rows

    def _one_row(self, left: Vector) -> tuple[int, list[tuple[Foot, Foot]], Vector]:
        value = self.of(left)
        for at, (depth, places) in enumerate(self.shapes):
            for held, taken in self.ways(left, places):
                if held != left and self.of(held) + depth == value:
                    return at, taken, held
        raise AssertionError("a table that no row of its own explains")

    def ways(self, left: Vector, places: Places) -> Iterator[tuple[Vector, list[tuple[Foot, Foot]]]]:
        """Every different rest after a row with these places, with one way to come to it."""
        found: dict[Vector, list[tuple[Foot, Foot]]] = {left: []}
        for place in places:
            for held, taken in list(found.items()):
                for at in self.fitting(place):
                    if held[at]:
                        rest = (*held[:at], held[at] - 1, *held[at + 1 :])
                        found.setdefault(rest, [*taken, (self.feet[at], place)])
        yield from found.items()


def places_of(shape: Pattern) -> Places:
    return tuple(foot for foot, many in shape.slots for _ in range(many))
