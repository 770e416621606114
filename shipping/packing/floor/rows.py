"""The integer model of a deck in rows: which stacks, which rows, so that every stop is reached last in, first out.

A zone is one turn, or two or three neighbouring turns that share a row. Every boundary between two turns lies in one
shared row at most, so that whatever stands nearer the headboard gets off no earlier than what stands nearer the door.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field

from shipping.packing.floor.deck import LEFT, LENGTH, STACKED, Deck
from shipping.packing.floor.patterns import Pattern, patterns
from shipping.packing.floor.stacks import Foot, Kind, Stack
from shipping.packing.planner.model import INFINITE, Model

Zone = tuple[int, ...]
DECK = "deck"
ROOMY_MM = 1300  # a turn that needs less of the deck than this may lie in one row between its neighbours


@dataclass
class Lane:
    """Stacks one behind another, from the headboard; `across` and `each` are the room of one in mm.

    `room`: how many stacks of this foot it was made for.
    """

    across: int
    each: int
    stacks: list[Stack] = field(default_factory=list)
    foot: Foot = (0, 0, False)
    room: int = 0

    @property
    def depth(self) -> int:
        return self.each * len(self.stacks)


@dataclass
class Row:
    """Lanes from the left. `flush_right`: the room left over is on the left."""

    zone: Zone
    lanes: list[Lane]
    flush_right: bool = False

    @property
    def depth(self) -> int:
        return max((lane.depth for lane in self.lanes), default=0)

    @property
    def stacks(self) -> list[Stack]:
        return [stack for lane in self.lanes for stack in lane.stacks]


class Rows:
    """The model of these kinds and stacks on this deck."""

    def __init__(self, deck: Deck, kinds: Sequence[Kind], stacks: Sequence[Stack]) -> None:
        self.deck, self.kinds, self.stacks = deck, kinds, stacks
        self.model = Model()
        self.turns = sorted({kind.turn for kind in kinds})
        self.left = [self.model.var(0, len(kind.ids)) for kind in kinds]
        self.used = [self.model.var(0, self._most(stack)) for stack in stacks]
        self.x: dict[tuple[Zone, int], int] = {}
        self.shapes: dict[Zone, list[Pattern]] = {}
        self.share: dict[tuple[Foot, Zone, int], int] = {}
        self.stand: dict[tuple[Foot, int], int] = {}
        self.complete = True
        self._stacked = {stack.kinds: stack for stack in stacks}
        self._cover()
        for zone in self._zones():
            self._zone(zone)
        self._slots()
        self._borders()
        self._limits()

    def _most(self, stack: Stack) -> int:
        return min(len(self.kinds[at].ids) // times for at, times in Counter(stack.kinds).items())

    def _cover(self) -> None:
        """Every case stands somewhere, or stays behind."""
        rows: dict[int, dict[int, int]] = {at: {self.left[at]: 1} for at in range(len(self.kinds))}
        for var, stack in zip(self.used, self.stacks, strict=True):
            for at, times in Counter(stack.kinds).items():
                rows[at][var] = times
        for at, terms in rows.items():
            count = len(self.kinds[at].ids)
            self.model.row(terms, count, count, f"cover {at}")

    def _zones(self) -> list[Zone]:
        found: list[Zone] = [(turn,) for turn in self.turns]
        found += [tuple(self.turns[at : at + 2]) for at in range(len(self.turns) - 1)]
        for at in range(len(self.turns) - 2):
            if self._floor_of(self.turns[at + 1]) <= ROOMY_MM * self.deck.width_mm:
                found.append(tuple(self.turns[at : at + 3]))
        return found

    def _floor_of(self, turn: int) -> int:
        return sum(len(kind.ids) * kind.foot[0] * kind.foot[1] for kind in self.kinds if kind.turn == turn)

    def needs(self, zone: Zone) -> dict[Foot, int]:
        """At most so many stacks of each foot, were nothing set on anything else."""
        need: dict[Foot, int] = defaultdict(int)
        bases: dict[Foot, set[int]] = defaultdict(set)
        for stack in self.stacks:
            if stack.turn in zone:
                bases[stack.foot].add(stack.kinds[0])
        for foot, kinds in bases.items():
            need[foot] = sum(len(self.kinds[at].ids) for at in kinds)
        return dict(need)

    def _zone(self, zone: Zone) -> None:
        need = self.needs(zone)
        self.shapes[zone], whole = patterns(self.deck.width_mm, self.deck.length_mm, need)
        self.complete &= whole
        most = 1 if len(zone) > 1 else sum(need.values())
        for at, _ in enumerate(self.shapes[zone]):
            self.x[zone, at] = self.model.var(0, most)
        if len(zone) > 1:
            for foot, many in need.items():
                for turn in zone:
                    self.share[foot, zone, turn] = self.model.var(0, many)

    def _slots(self) -> None:
        room: dict[tuple[Foot, Zone], dict[int, int]] = defaultdict(dict)
        for (zone, at), var in self.x.items():
            for foot, many in self.shapes[zone][at].slots:
                room[foot, zone][var] = many
        wanted: dict[tuple[Foot, int], dict[int, int]] = defaultdict(dict)
        for var, stack in zip(self.used, self.stacks, strict=True):
            wanted[stack.foot, stack.turn][var] = 1
        for (foot, turn), terms in wanted.items():
            stand = self.stand[foot, turn] = self.model.var(0, sum(self.model.upper[var] for var in terms))
            self.model.row({**terms, stand: -1}, 0, 0, f"stacks {foot} {turn}")
            pure = {var: -many for var, many in room.get((foot, (turn,)), {}).items()}
            lent = {var: -1 for (f, _, t), var in self.share.items() if f == foot and t == turn}
            self.model.row({stand: 1, **pure, **lent}, -INFINITE, 0, f"slots {foot} {turn}")
        for foot, zone in {(f, z) for f, z, _ in self.share}:
            taken = {self.share[foot, zone, turn]: 1 for turn in zone}
            given = {var: -many for var, many in room.get((foot, zone), {}).items()}
            self.model.row({**taken, **given}, -INFINITE, 0, f"shared {foot} {zone}")

    def _borders(self) -> None:
        """One row at most lies across the border of two turns; a turn inside a shared row has no row of its own."""
        for before, after in zip(self.turns, self.turns[1:], strict=False):
            across = {var: 1 for (zone, _), var in self.x.items() if before in zone and after in zone}
            self.model.row(across, 0, 1, f"border {before}")
        for zone in self.shapes:
            if len(zone) == 3:
                shared = {var: 1 for (z, _), var in self.x.items() if z == zone}
                own = {var: 1 for (z, _), var in self.x.items() if z == (zone[1],)}
                most = sum(len(kind.ids) for kind in self.kinds if kind.turn == zone[1])
                self.model.row({**own, **dict.fromkeys(shared, most)}, 0, most, f"inside {zone}")

    def _limits(self) -> None:
        floor = {
            var: -(stack.foot[0] * stack.foot[1] // 1000) for var, stack in zip(self.used, self.stacks, strict=True)
        }
        area = {var: -(-self.deck.width_mm * depth // 1000) for var, depth in self.depths.items()}
        self.model.row({**floor, **area}, 0, INFINITE, "area")  # implied; it lifts the bound
        if self.deck.payload_g is not None:
            whole = sum(kind.mass_g * len(kind.ids) for kind in self.kinds)
            saved = {var: kind.mass_g for var, kind in zip(self.left, self.kinds, strict=True)}
            if whole > self.deck.payload_g:
                self.model.row(saved, whole - self.deck.payload_g, INFINITE, "payload")

    @property
    def depths(self) -> dict[int, int]:
        """What each row adds to the length."""
        return {var: self.shapes[zone][at].depth for (zone, at), var in self.x.items()}

    def hold_to_deck(self) -> None:
        """From here on no plan is longer than the deck."""
        self.model.row(self.depths, 0, self.deck.length_mm, DECK)

    def leave_nothing(self, nothing: bool) -> None:
        """Forbid that anything stays behind, or allow it again."""
        for var, kind in zip(self.left, self.kinds, strict=True):
            self.model.upper[var] = 0 if nothing else len(kind.ids)

    def goals(self) -> list[tuple[str, dict[int, int]]]:
        """In order; each is a name and what to make small. Few stacks are a goal only where they come first."""
        lifted = {var: stack.lifted for var, stack in zip(self.used, self.stacks, strict=True) if stack.lifted}
        stacked = [(STACKED, lifted)] if self.deck.floor_first else []
        return [(LEFT, dict.fromkeys(self.left, 1)), *stacked, (LENGTH, self.depths)]

    def behind(self, values: Sequence[int]) -> list[str]:
        """The ids of what stays behind, the last of each kind."""
        return [ident for var, kind in zip(self.left, self.kinds, strict=True) for ident in _last(kind, values[var])]

    def rows(self, values: Sequence[int]) -> list[Row]:
        """Rows with their stacks, from the headboard to the door, last turn first."""
        waiting: dict[tuple[Foot, int], list[Stack]] = defaultdict(list)
        for var, stack in zip(self.used, self.stacks, strict=True):
            waiting[stack.foot, stack.turn] += [stack] * values[var]
        for queue in waiting.values():
            queue.sort(key=lambda one: (-one.mass_g, one.kinds))
        found = []
        for (zone, at), var in sorted(self.x.items(), key=lambda one: (-len(one[0][0]), one[0])):
            for _ in range(values[var]):
                allowed = {
                    (foot, turn): values[self.share[foot, zone, turn]] if len(zone) > 1 else 10**6
                    for foot, _ in self.shapes[zone][at].slots
                    for turn in zone
                }
                found.append(_filled(self.shapes[zone][at], zone, waiting, allowed))
        self._set_down(found)
        for row in found:
            row.lanes = [lane for lane in row.lanes if lane.stacks]
            row.zone = tuple(sorted({stack.turn for stack in row.stacks}))
        return in_turn([row for row in found if row.lanes])

    def _set_down(self, rows: Sequence[Row]) -> None:
        """What was lifted though there is room for it on the deck, in a row of its own turn, is set down there."""
        high = [(lane, at) for row in rows for lane in row.lanes for at, one in enumerate(lane.stacks) if one.lifted]
        free = [(row, lane) for row in rows for lane in row.lanes for _ in range(lane.room - len(lane.stacks))]
        for lane, at in high:
            stack = lane.stacks[at]
            top = self.kinds[stack.kinds[-1]]
            for spare in free:
                row, other = spare
                if row.zone == (stack.turn,) and other.foot == top.foot:
                    lane.stacks[at] = self._stacked[stack.kinds[:-1]]
                    other.stacks.append(self._stacked[stack.kinds[-1:]])
                    free.remove(spare)
                    break

    def start(self, rows: Sequence[Row]) -> list[int] | None:
        """A plan as values of the model, whether they hold or not; None if a row is no pattern of it."""
        values = list(self.model.lower)
        counts: Counter[int] = Counter()
        numbers = {stack: at for at, stack in enumerate(self.stacks)}
        for row in rows:
            zone = tuple(sorted({stack.turn for stack in row.stacks}))
            at = self._covering(row, zone)
            if at is None:
                return None
            values[self.x[zone, at]] += 1
            for stack in row.stacks:
                if stack not in numbers:
                    return None
                values[self.used[numbers[stack]]] += 1
                values[self.stand[stack.foot, stack.turn]] += 1
                counts.update(stack.kinds)
                if len(zone) > 1:
                    values[self.share[stack.foot, zone, stack.turn]] += 1
        for at, kind in enumerate(self.kinds):
            values[self.left[at]] = len(kind.ids) - counts[at]
        return values

    def _covering(self, row: Row, zone: Zone) -> int | None:
        wanted = Counter(stack.foot for stack in row.stacks)
        fits = [
            (one.depth, at)
            for at, one in enumerate(self.shapes.get(zone, ()))
            if all(dict(one.slots).get(foot, 0) >= many for foot, many in wanted.items())
        ]
        return min(fits, default=(0, None))[1]


def _last(kind: Kind, many: int) -> tuple[str, ...]:
    return kind.ids[len(kind.ids) - many :] if many else ()


def in_turn(rows: Sequence[Row]) -> list[Row]:
    """Last off nearest the headboard; among rows of the same turns the heaviest for its depth first."""
    return sorted(rows, key=lambda row: (tuple(-turn for turn in reversed(row.zone)), -_density(row)))


def _density(row: Row) -> float:
    return sum(stack.mass_g for stack in row.stacks) / max(1, row.depth)


def _filled(
    shape: Pattern, zone: Zone, waiting: dict[tuple[Foot, int], list[Stack]], allowed: dict[tuple[Foot, int], int]
) -> Row:
    """Take the stacks that wait, the last turn first, lane by lane; a lane that stays empty falls away."""
    lanes = [Lane(kind.across, kind.each, [], kind.foot, many) for kind, many in shape.lanes]
    for turn in sorted(zone, reverse=True):
        for lane in lanes:
            queue = waiting.get((lane.foot, turn), [])
            while queue and allowed[lane.foot, turn] > 0 and len(lane.stacks) < lane.room:
                lane.stacks.append(queue.pop(0))
                allowed[lane.foot, turn] -= 1
    return Row(zone, lanes)
