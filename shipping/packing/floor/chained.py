"""The shortest rows of up to three turns, exactly, from a table for each turn and what may share a row at each border.

Turns touch only in the row that two of them may share. So for every way to part such a row the tables say the least
that the turns need beside it. Ways are looked at in the order of a bound on them. What the tables count are stacks by
foot; whether the cases can be stacked so is asked of the engine only for the best way, and a "no" comes with a rule
that holds for every way to stack, and so lifts the bounds of the others.
"""

from __future__ import annotations

import heapq
from collections import Counter, defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shipping.packing.floor.cutting import CUT, cut, stacking
from shipping.packing.floor.pricing import FUZZ, relaxed, unit_of
from shipping.packing.floor.rows import Rows, Zone
from shipping.packing.floor.stacks import Foot
from shipping.packing.floor.tables import NEVER, Numbers, Places, Table, Vector
from shipping.packing.planner.engines import highs
from shipping.packing.planner.model import INFINITE, Found, Model
from shipping.packing.planner.model import Row as Limit

LARGEST, MOST_TURNS, SHORT_S, KEPT = 250_000, 3, 5.0, 100  # cells of a table, turns, tables kept at hand
NAME, FINE = "row tables", 1000
Taken = list[tuple[Foot, Foot]]
Made = tuple[dict[int, int], list[Taken], list[tuple[int, Taken]]]  # stacks, what shared places take, own rows


class Turn:
    """One turn: its table, and which counts of stacks its cases can be put into, as far as is known."""

    def __init__(self, rows: Rows, turn: int, unit: int) -> None:
        self.number, self.rows = turn, rows
        self.stacks = {var: one for var, one in zip(rows.used, rows.stacks, strict=True) if one.turn == turn}
        bases: dict[Foot, set[int]] = defaultdict(set)
        for one in self.stacks.values():
            bases[one.foot].add(one.kinds[0])
        most = {foot: sum(len(rows.kinds[at].ids) for at in kinds) for foot, kinds in bases.items()}
        self.table = Table(most, rows.shapes[turn,], unit)
        self.never: Numbers = np.zeros(0, np.int32)
        self.worths: list[tuple[list[float], float]] = []
        self._known: dict[tuple[Places, ...], int] = {}
        self._kept: dict[Places, Numbers] = {}

    def begin(self, known: Sequence[Limit]) -> None:
        """Learn which counts are no way to stack, until what is shortest by itself is one."""
        self.never = np.zeros(self.table.size, np.int32)
        for row in known:
            if row.tag == f"{CUT} {self.number}":
                price = {one.foot: row.terms.get(var, 0) for var, one in self.stacks.items()}
                held = np.array([price[foot] for foot in self.table.feet], np.int64) @ self.table.grid
                self.never[held < row.low] = NEVER
        while self._stacks_of(self._shortest(())) is None:
            pass
        self._weigh(self._shortest(()))

    def _shortest(self, places: Sequence[Places]) -> Vector:
        beside = self._beside(places)
        at = int(beside.argmin())
        if beside[at] >= NEVER:
            raise Unproven
        return tuple(int(one) for one in self.table.grid[:, at])

    def _stacks_of(self, counts: Vector) -> dict[int, int] | None:
        """A way to stack with these counts; or None, and then it is known of these and of others that they are none."""
        small, spare = self._stacking(counts)
        found = highs(small, SHORT_S)
        if found.values is None or found.bound < small.value(small.goal, found.values):
            raise Unproven
        if not found.bound:
            return {var: found.values[at] for at, var in enumerate(self.stacks) if found.values[at]}
        more = np.maximum(self.table.grid - np.array(counts, np.int32)[:, None], 0).sum(axis=0)
        self.never[more < found.bound] = NEVER
        told = relaxed(small, SHORT_S)
        tags = {row.tag: at for at, row in enumerate(small.rows)}
        if told is not None and told.value > FUZZ:
            self._learn([max(0.0, -told.prices[tags[f"most {foot}"]]) for foot in self.table.feet])
        self._weigh(counts)
        self._known.clear()
        return None

    def _weigh(self, counts: Vector) -> None:
        """Learn from what stacks are worth where these counts stand, and keep it as a bound."""
        worth = self._worth(counts)
        self.worths.append((worth, self._learn(worth)))

    def _learn(self, worth: Sequence[float]) -> float:
        """No way to stack is worth less than the least of them is; which is returned."""
        least = self._least_worth(worth)
        self.never[np.array(worth) @ self.table.grid < least - FUZZ] = NEVER
        return least

    def _stacking(self, counts: Vector) -> tuple[Model, dict[Foot, int]]:
        small = stacking(self.rows, self.rows.model, self.stacks, self.number)
        spare = {foot: small.var(0, INFINITE) for foot in self.table.feet}
        for foot, most in zip(self.table.feet, counts, strict=True):
            terms = {at: 1 for at, one in enumerate(self.stacks.values()) if one.foot == foot}
            small.row({**terms, spare[foot]: -1}, -INFINITE, most, f"most {foot}")
        small.goal = dict.fromkeys(spare.values(), 1)
        return small, spare

    def alike(self, places: Places) -> Places:
        """These places as far as this turn tells them apart, by what of it stands in them; useless ones fall away."""
        return tuple(sorted(self._alike[place] for place in places if self.table.fitting(place)))

    @cached_property
    def _alike(self) -> dict[Foot, Foot]:
        first: dict[tuple[int, ...], Foot] = {}
        every = sorted({foot for shapes in self.rows.shapes.values() for one in shapes for foot, _ in one.slots})
        return {foot: first.setdefault(tuple(self.table.fitting(foot)), foot) for foot in every}

    def least(self, *places: Places) -> int:
        """The least that its own rows need beside these places of shared ones, in units, as far as is known."""
        if places not in self._known:
            self._known[places] = int(self._beside(places).min())
        return self._known[places]

    def _worth(self, counts: Vector) -> list[float]:
        """What a stack of each foot adds to the rows that hold it, where these counts stand.

        No row is shorter than what its places hold.
        """
        model = Model()
        feet = [model.var(0, NEVER) for _ in self.table.feet]
        places = {foot: model.var(0, NEVER) for foot in sorted({one for _, held in self.table.shapes for one in held})}
        for place, var in places.items():
            for at in self.table.fitting(place):
                model.row({feet[at]: 1, var: -1}, -INFINITE, 0, "fits")
        for depth, held in self.table.shapes:
            model.row({places[one]: many for one, many in Counter(held).items()}, -INFINITE, depth, "row")
        model.goal = {var: -many for var, many in zip(feet, counts, strict=True) if many}
        told = relaxed(model, SHORT_S)
        return [0.0 for _ in feet] if told is None else [max(0.0, told.values[var] - FUZZ) for var in feet]

    def worths_of(self, places: Places) -> list[float]:
        """At most so much stands in these places, by each of the worths that are known."""
        fitting = [self.table.fitting(place) for place in places]
        return [sum(max(worth[at] for at in feet) for feet in fitting) for worth, _ in self.worths]

    def _least_worth(self, worth: Sequence[float]) -> float:
        """At least so much has to stand somewhere, however the cases are stacked."""
        small = stacking(self.rows, self.rows.model, self.stacks, self.number)
        each = dict(zip(self.table.feet, worth, strict=True))
        small.goal = {at: int(FINE * each[one.foot]) for at, one in enumerate(self.stacks.values())}
        return max(0, highs(small, SHORT_S).bound) / FINE

    def leasts(self, every: Sequence[Places]) -> dict[Places, int]:
        """The same for many, in an order in which neighbours begin alike."""
        done: list[tuple[Foot, Numbers]] = []
        for places in sorted(every):
            same = 0
            while same < min(len(done), len(places)) and done[same][0] == places[same]:
                same += 1
            del done[same:]
            for place in places[same:]:
                before = done[-1][1] if done else self.table.length
                done.append((place, self.table.with_places(before, (place,))))
            self._known[places,] = int(((done[-1][1] if done else self.table.length) + self.never).min())
        return {places: self._known[places,] for places in every}

    def _beside(self, places: Sequence[Places]) -> Numbers:
        """What own rows need for each count, once these places have taken theirs; NEVER for what is no way to stack."""
        found = self.table.length
        for at, part in enumerate(places):
            found = self.table.with_places(found, part) if at else self._beside_one(part)
        return found + self.never

    def _beside_one(self, places: Places) -> Numbers:
        if places not in self._kept:
            if len(self._kept) >= KEPT:
                self._kept.clear()
            self._kept[places] = self.table.with_places(self.table.length, places)
        return self._kept[places]

    def stacked(self, known_as: Sequence[Places], places: Sequence[Places]) -> Made | None:
        """A way to stack that comes to the least: its stacks, what each of the shared places takes, and its own rows.

        None if there is no such way; then it is known better from here on.
        """
        counts = self._shortest(known_as)
        stacks = self._stacks_of(counts)
        if stacks is None:
            return None
        rest, taken = self._parted(counts, places, self.least(*known_as))
        return stacks, taken, self.table.traced(rest)

    def _parted(self, counts: Vector, places: Sequence[Places], value: int) -> tuple[Vector, list[Taken]]:
        ways: dict[Vector, list[Taken]] = {counts: []}
        for part in places:
            ways = {rest: [*before, taken] for held, before in ways.items()
                    for rest, taken in self.table.ways(held, part)}  # fmt: skip
        return next((rest, taken) for rest, taken in ways.items() if self.table.of(rest) == value)


class Unproven(Exception):
    """The engine did not come to the end of a small question, or no rows hold a turn's stacks at all."""


@dataclass(frozen=True, order=True)
class Way:
    """A shared row: its depth in units, its number among the patterns, and its places for the turn beyond and for the
    middle; `own`: those of the turn beyond as far as it can tell them apart."""

    depth: int
    own: Places
    number: int
    beyond: Places
    middle: Places


NO_ROW = Way(0, (), -1, (), ())


@dataclass
class Side:
    """What lies on one side of the middle turn: a turn and the row it may share, by the places that the middle gets."""

    turn: Turn | None
    zone: Zone
    ways: Mapping[Places, Sequence[Way]]

    def best(self, places: Places) -> tuple[int, Way]:
        """The least of the row and of all beyond it, in units, as far as is known."""
        return min((way.depth + (self.turn.least(way.own) if self.turn else 0), way) for way in self.ways[places])


def chained(rows: Rows, remaining: Callable[[], float]) -> Found | None:
    """The shortest rows of all cases, however long the deck, with proof; None where this is not the way to ask."""
    if not _suits(rows):
        return None
    model, unit = rows.model, unit_of(rows.model)
    turns = [Turn(rows, turn, unit) for turn in rows.turns]
    if max(turn.table.size for turn in turns) > LARGEST:
        return None
    try:
        known = cut(rows, model, remaining).rows
        for turn in turns:
            turn.begin(known)
        values = Chain(rows, turns, unit, remaining).values()
    except Unproven:
        return None
    if values is None or not model.holds(values):
        return None
    return Found(values, model.value(rows.depths, values), NAME)


def _suits(rows: Rows) -> bool:
    """Nothing may stay behind, every pattern is known, and no row lies across more than one border."""
    whole = all(rows.model.upper[var] == 0 for var in rows.left) and rows.complete
    light = not any(row.tag == "payload" for row in rows.model.rows)
    return whole and light and len(rows.turns) <= MOST_TURNS and all(len(zone) <= 2 for zone in rows.shapes)


class Told(NamedTuple):
    """Of each way on one side, in units: the least of row and turn beyond, what the middle needs beside it, what stands
    in its places of the middle by itself, and what that is worth."""

    beyond: NDArray[np.int64]
    alone: NDArray[np.int64]
    itself: NDArray[np.int64]
    worth: NDArray[np.float64]


class Chain:
    """The middle turn, or the only one, with what lies before and behind it."""

    def __init__(self, rows: Rows, turns: Sequence[Turn], unit: int, remaining: Callable[[], float]) -> None:
        self.rows, self.unit, self.remaining = rows, unit, remaining
        at = len(turns) // 2
        self.middle = turns[at]
        self.sides = (
            self._side(turns[at - 1]) if at else NO_SIDE,
            self._side(turns[at + 1]) if at + 1 < len(turns) else NO_SIDE,
        )

    def _side(self, turn: Turn) -> Side:
        """Every way to part the places of each pattern between the middle and this turn; or no shared row."""
        zone = tuple(sorted((turn.number, self.middle.number)))
        found: dict[Places, dict[tuple[int, Places], Way]] = defaultdict(dict, {(): {(0, ()): NO_ROW}})
        for at, shape in enumerate(self.rows.shapes[zone]):
            for mine in product(*(range(many + 1) for _, many in shape.slots)):
                middle = _so_many(shape.slots, mine)
                beyond = _so_many(shape.slots, [many - one for (_, many), one in zip(shape.slots, mine, strict=True)])
                key, own = self.middle.alike(middle), turn.alike(beyond)
                if key and own:
                    way = Way(shape.depth // self.unit, own, at, beyond, middle)
                    found[key].setdefault((way.depth, own), way)
        turn.leasts(sorted({own for ways in found.values() for _, own in ways}))
        return Side(turn, zone, {middle: sorted(ways.values()) for middle, ways in found.items()})

    def values(self) -> list[int] | None:
        """Values of the model for the shortest, or None if time ran out."""
        first, last = (list(side.ways) for side in self.sides)
        bounds = self._bounds(first, last)
        order, at = np.argsort(bounds, axis=None, kind="stable"), 0
        looked_at: list[tuple[int, Places, Places]] = []
        while self.remaining() > 0:
            if at < len(order) and (not looked_at or bounds.flat[order[at]] < looked_at[0][0]):
                one, other = divmod(int(order[at]), len(last))
                heapq.heappush(looked_at, (self._sum(first[one], last[other]), first[one], last[other]))
                at += 1
                continue
            bound, before, behind = heapq.heappop(looked_at)
            if self._sum(before, behind) <= bound and (found := self._built(before, behind)) is not None:
                return found
            heapq.heappush(looked_at, (self._sum(before, behind), before, behind))
        return None

    def _bounds(self, first: Sequence[Places], last: Sequence[Places]) -> NDArray[np.int64]:
        """For every pair of ways: what takes places of the middle could as well stand by itself, or has its worth."""
        one, other = self._told(self.sides[0], first), self._told(self.sides[1], last)
        found = np.maximum(one.alone[:, None] - other.itself[None, :], other.alone[None, :] - one.itself[:, None])
        for at, (_, least) in enumerate(self.middle.worths):
            by_worth = np.ceil(least - one.worth[:, None, at] - other.worth[None, :, at] - FUZZ)
            np.maximum(found, by_worth.astype(np.int64), out=found)
        bounds: NDArray[np.int64] = one.beyond[:, None] + other.beyond[None, :] + found
        return bounds

    def _told(self, side: Side, every: Sequence[Places]) -> Told:
        alone = self.middle.leasts(every)
        return Told(
            np.array([side.best(one)[0] for one in every], np.int64),
            np.array([alone[one] for one in every], np.int64),
            np.array([self.middle.table.by_itself(one) for one in every], np.int64),
            np.array([self.middle.worths_of(one) for one in every], float),
        )

    def _sum(self, first: Places, last: Places) -> int:
        beyond = self.sides[0].best(first)[0] + self.sides[1].best(last)[0]
        return beyond + self.middle.least(first, last)

    def _built(self, first: Places, last: Places) -> list[int] | None:
        """None if some turn's cases cannot be stacked so."""
        values = list(self.rows.model.lower)
        chosen = [side.best(places)[1] for side, places in zip(self.sides, (first, last), strict=True)]
        made = self.middle.stacked([first, last], [one.middle for one in chosen])
        if made is None:
            return None
        self._place(values, self.middle, made, [side.zone for side in self.sides])
        for side, way in zip(self.sides, chosen, strict=True):
            if side.turn is None:
                continue
            if (beyond := side.turn.stacked([way.own], [way.beyond])) is None:
                return None
            self._place(values, side.turn, beyond, [side.zone])
            if way.number >= 0:
                values[self.rows.x[side.zone, way.number]] += 1
        return values

    def _place(self, values: list[int], turn: Turn, made: Made, zones: Sequence[Zone]) -> None:
        """The stacks of one turn into its share of shared rows and into rows of its own."""
        stacks, parts, own = made
        waiting = Counter[Foot]()
        for var, many in stacks.items():
            values[var] += many
            waiting[turn.stacks[var].foot] += many
        for number, taken in own:
            values[self.rows.x[(turn.number,), number]] += 1
            self._send(values, turn, taken, waiting, ())
        for zone, taken in zip(zones, parts, strict=True):
            self._send(values, turn, taken, waiting, zone)

    def _send(self, values: list[int], turn: Turn, taken: Taken, waiting: Counter[Foot], zone: Zone) -> None:
        for foot, place in taken:
            if not waiting[foot]:
                continue  # the table had a place to spare
            waiting[foot] -= 1
            values[self.rows.sent[foot, place, turn.number]] += 1
            if zone:
                values[self.rows.share[place, zone, turn.number]] += 1


NO_SIDE = Side(None, (), {(): [NO_ROW]})


def _so_many(slots: Sequence[tuple[Foot, int]], many: Sequence[int]) -> Places:
    return tuple(foot for (foot, _), one in zip(slots, many, strict=True) for _ in range(one))
