"""The order of rows, the order across them, and which stack stands in which like place: axles, middle, nose and tail.

Rows change places only within their turns, so the order of stops holds. A bounded search, always the same.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from shipping.packing.floor.axles import can_reckon, halves
from shipping.packing.floor.deck import Axle, Deck, Spot
from shipping.packing.floor.rows import Row
from shipping.packing.floor.stacks import Kind, Stack, lies
from shipping.packing.wanted import Size

PASSES, STEP_MM, NEAR_MM = 6, 50, 25
Cost = tuple[int, int, int]
Sums = list[tuple[int, int, int]]


@dataclass(frozen=True)
class Support:
    """One of the two ends a vehicle stands on: grams of each axle that are still free, None where not entered."""

    at_mm: float
    axles: int
    room_g: tuple[int | None, ...]
    empty_g: int | None


class Scale:
    """What an arrangement costs: grams over the axles' limits after every stop, middle off the deck's, nose heavy."""

    def __init__(self, deck: Deck) -> None:
        self.deck = deck
        self.ends = [_support(group) for group in halves(deck.axles)] if can_reckon(deck) else []

    def sums(self, row: Row) -> Sums:
        """Per stage: mass, doubled moment about the row's own start, doubled moment about the left side."""
        found = [[0, 0, 0] for _ in self.deck.stops]
        for x, y, each, across, stack in standing(self.deck, row):
            for stage in range(min(stack.turn // 2, len(found))):
                found[stage][0] += stack.mass_g
                found[stage][1] += stack.mass_g * (2 * x + each)
                found[stage][2] += stack.mass_g * (2 * y + across)
        return [(mass, along, aside) for mass, along, aside in found]

    def cost(self, sums: Sequence[Sums], depths: Sequence[int], gap: int) -> Cost:
        over, worst, nose = 0, 0, 0
        for stage in range(len(self.deck.stops)):
            start, mass, along, aside = gap, 0, 0, 0
            for row, depth in zip(sums, depths, strict=True):
                mass += row[stage][0]
                along += row[stage][1] + 2 * start * row[stage][0]
                aside += row[stage][2]
                start += depth
            if mass:
                over += self._over(mass, along)
                worst = max(worst, abs(aside - mass * self.deck.size_mm[1]) // (2 * mass))
                nose = nose or abs(along // (2 * mass) - (gap + start) // 2)
        return over, max(worst, NEAR_MM), nose // 10

    def _over(self, mass: int, along: int) -> int:
        if not self.ends:
            return 0
        front, rear = self.ends
        on_rear = (along / 2 - mass * front.at_mm) / (rear.at_mm - front.at_mm)
        over = _too_much(rear, on_rear) + _too_much(front, mass - on_rear)
        if self.deck.front_pct and front.empty_g is not None and rear.empty_g is not None:
            whole = mass + front.empty_g + rear.empty_g
            over += max(0.0, whole * self.deck.front_pct / 100 - (mass - on_rear + front.empty_g))
        return round(over)


def _support(group: Sequence[Axle]) -> Support:
    rooms = tuple(None if one.limit_g is None or one.empty_g is None else one.limit_g - one.empty_g for one in group)
    empties = [one.empty_g for one in group if one.empty_g is not None]
    empty = sum(empties) if len(empties) == len(group) else None
    return Support(sum(one.at_mm for one in group) / len(group), len(group), rooms, empty)


def _too_much(end: Support, load: float) -> float:
    return sum(max(0.0, load / end.axles - room) for room in end.room_g if room is not None)


def standing(deck: Deck, row: Row) -> Iterator[tuple[int, int, int, int, Stack]]:
    """(x from the row's start, y, length, width, stack) of each stack of a row."""
    y = deck.size_mm[1] - sum(lane.across for lane in row.lanes) if row.flush_right else 0
    for lane in row.lanes:
        for at, stack in enumerate(lane.stacks):
            yield at * lane.each, y, lane.each, lane.across, stack
        y += lane.across


@dataclass
class Arranging:
    """Rows being put in order. Every trial is undone unless it costs less."""

    deck: Deck
    rows: list[Row]
    gap: int = 0

    def __post_init__(self) -> None:
        self.scale = Scale(self.deck)
        self.sums = [self.scale.sums(row) for row in self.rows]
        self.now = self._cost()

    def _cost(self) -> Cost:
        return self.scale.cost(self.sums, [row.depth for row in self.rows], self.gap)

    def run(self) -> None:
        for _ in range(PASSES):
            before = self.now
            self._places()
            self._across()
            if self.now[0] or self.now[1] > NEAR_MM:
                self._exchange()
            if self.now == before:
                break
        if self.now[0]:
            self._back_off()

    def _keep(self, touched: Collection[int]) -> bool:
        """Is it better now? Then that is where we stand."""
        for at in touched:
            self.sums[at] = self.scale.sums(self.rows[at])
        cost = self._cost()
        if cost < self.now:
            self.now = cost
            return True
        return False

    def _places(self) -> None:
        for one, other in combinations(range(len(self.rows)), 2):
            if self.rows[one].zone == self.rows[other].zone:
                self._swap_rows(one, other)
                if not self._keep(()):
                    self._swap_rows(one, other)

    def _swap_rows(self, one: int, other: int) -> None:
        self.rows[one], self.rows[other] = self.rows[other], self.rows[one]
        self.sums[one], self.sums[other] = self.sums[other], self.sums[one]

    def _across(self) -> None:
        for at, row in enumerate(self.rows):
            self._try_side(at, row)
            for one, other in combinations(range(len(row.lanes)), 2):
                lanes = row.lanes
                lanes[one], lanes[other] = lanes[other], lanes[one]
                if not self._keep([at]):
                    lanes[one], lanes[other] = lanes[other], lanes[one]
                    self.sums[at] = self.scale.sums(row)

    def _try_side(self, at: int, row: Row) -> None:
        for mirrored in (False, True):
            row.flush_right = not row.flush_right
            if mirrored:
                row.lanes.reverse()
            if self._keep([at]):
                continue
            row.flush_right = not row.flush_right
            if mirrored:
                row.lanes.reverse()
            self.sums[at] = self.scale.sums(row)

    def _exchange(self) -> None:
        """Stacks of one foot and turn may change places: neither the rows nor the order of stops change."""
        places: dict[tuple[object, int], list[tuple[int, int, int]]] = {}
        for at, row in enumerate(self.rows):
            for lane_at, lane in enumerate(row.lanes):
                for index, stack in enumerate(lane.stacks):
                    places.setdefault((stack.foot, stack.turn), []).append((at, lane_at, index))
        for alike in places.values():
            for one, other in combinations(alike, 2):
                if self.now[0] == 0 and self.now[1] <= NEAR_MM:
                    return
                self._try_exchange(one, other)

    def _try_exchange(self, one: tuple[int, int, int], other: tuple[int, int, int]) -> None:
        first, second = (self.rows[at].lanes[lane].stacks for at, lane, _ in (one, other))
        i, j = one[2], other[2]
        if first[i].mass_g == second[j].mass_g:
            return
        first[i], second[j] = second[j], first[i]
        if not self._keep({one[0], other[0]}):
            first[i], second[j] = second[j], first[i]
            for at in {one[0], other[0]}:
                self.sums[at] = self.scale.sums(self.rows[at])

    def _back_off(self) -> None:
        """Where no order helps, room left free at the headboard may: the least that does, or that helps most."""
        free = self.deck.length_mm - sum(row.depth for row in self.rows)
        best, kept = self.now, 0
        for gap in range(STEP_MM, free + 1, STEP_MM):
            self.gap = gap
            if (cost := self._cost()) < best:
                best, kept = cost, gap
            if best[0] == 0:
                break
        self.gap, self.now = kept, best


def spots_of(deck: Deck, rows: Sequence[Row], gap: int, kinds: Sequence[Kind]) -> tuple[Spot, ...]:
    """Every case at its place, in the order of loading. Which of several alike cases stands where is by their ids."""
    waiting = {at: list(kind.ids) for at, kind in enumerate(kinds)}
    found, start = [], gap
    for number, row in enumerate(rows, 1):
        for place, (x, y, each, across, stack) in enumerate(standing(deck, row), 1):
            near, room = (start + x, y, 0), (*lies(stack.foot, each, across), 0)
            for tier, at in enumerate(stack.kinds, 1):
                size = _turned(kinds[at], room)
                near = (near[0] + (room[0] - size[0]) // 2, near[1] + (room[1] - size[1]) // 2, near[2] + room[2])
                found.append(Spot(waiting[at].pop(0), near, size, number, place, tier))
                room = size
        start += row.depth
    return tuple(found)


def _turned(kind: Kind, room: Size) -> Size:
    """The way it stands on what is under it: as that does where it fits so, else crosswise."""
    length, width, height = kind.size_mm
    ways = [(length, width, height)] + ([(width, length, height)] if kind.turns else [])
    ways = sorted(ways, key=lambda way: (way[0] > way[1]) != (room[0] > room[1]))
    return next(way for way in ways if way[0] <= room[0] and way[1] <= room[1])
