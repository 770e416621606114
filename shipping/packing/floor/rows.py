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
from shipping.packing.floor.stacks import Foot, Kind, Stack, goes_in, lies
from shipping.packing.planner.model import INFINITE, Model

Zone = tuple[int, ...]
DECK = "deck"
ROOMY_MM = 1300  # a turn that needs less of the deck than this may lie in one row between its neighbours


@dataclass
class Lane:
    """Stacks one behind another, from the headboard; `across` and `each` are the room of one in mm.

    `room`: how many stacks it was made for, of this foot or of feet that go in its place.
    """

    across: int
    each: int
    stacks: list[Stack] = field(default_factory=list)
    foot: Foot = (0, 0, False)
    room: int = 0

    @property
    def depth(self) -> int:
        return self.each * len(self.stacks)

    def tighten(self) -> None:
        """No more room than its stacks take."""
        taken = [lies(stack.foot, self.each, self.across) for stack in self.stacks]
        self.each, self.across = max(along for along, _ in taken), max(across for _, across in taken)


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
        self.sent: dict[tuple[Foot, Foot, int], int] = {}
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
        """At most so many stacks that a place of each foot may serve, were nothing set on anything else."""
        bases: dict[Foot, set[int]] = defaultdict(set)
        for stack in self.stacks:
            if stack.turn in zone:
                bases[stack.foot].add(stack.kinds[0])
        served = {room: {at for foot, kinds in bases.items() if goes_in(foot, room) for at in kinds} for room in bases}
        return {room: sum(len(self.kinds[at].ids) for at in kinds) for room, kinds in served.items()}

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
        places = {(foot, turn) for foot, zone in room for turn in zone}
        for (foot, turn), terms in wanted.items():
            rooms = sorted(one for one, there in places if there == turn and goes_in(foot, one))
            most = sum(self.model.upper[var] for var in terms)
            to = {self._send(foot, one, turn, most): -1 for one in rooms}
            self.model.row({**terms, **to}, 0, 0, stacks_tag(foot, turn))
        for foot, turn in sorted(places):
            come = {var: 1 for (_, room_foot, t), var in self.sent.items() if room_foot == foot and t == turn}
            pure = {var: -many for var, many in room.get((foot, (turn,)), {}).items()}
            lent = {var: -1 for (f, _, t), var in self.share.items() if f == foot and t == turn}
            self.model.row({**come, **pure, **lent}, -INFINITE, 0, f"slots {foot} {turn}")
        for foot, zone in {(f, z) for f, z, _ in self.share}:
            taken = {self.share[foot, zone, turn]: 1 for turn in zone}
            given = {var: -many for var, many in room.get((foot, zone), {}).items()}
            self.model.row({**taken, **given}, -INFINITE, 0, f"shared {foot} {zone}")

    def _send(self, foot: Foot, room: Foot, turn: int, most: int) -> int:
        """How many stacks of a foot stand in places for another."""
        self.sent[foot, room, turn] = var = self.model.var(0, most)
        return var

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
        waiting = self._sorted_out(values)
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
            for lane in row.lanes:
                lane.tighten()
            row.zone = tuple(sorted({stack.turn for stack in row.stacks}))
        return in_turn([row for row in found if row.lanes])

    def _sorted_out(self, values: Sequence[int]) -> dict[tuple[Foot, int], list[Stack]]:
        """The stacks that stand, by the foot their place is made for and by their turn, the heaviest first."""
        standing: dict[tuple[Foot, int], list[Stack]] = defaultdict(list)
        for var, stack in zip(self.used, self.stacks, strict=True):
            standing[stack.foot, stack.turn] += [stack] * values[var]
        waiting: dict[tuple[Foot, int], list[Stack]] = defaultdict(list)
        for (foot, room, turn), var in self.sent.items():
            queue = standing[foot, turn]
            waiting[room, turn] += queue[: values[var]]
            del queue[: values[var]]
        for queue in waiting.values():
            queue.sort(key=lambda one: (-one.mass_g, one.kinds))
        return waiting

    def _set_down(self, rows: Sequence[Row]) -> None:
        """What was lifted though there is room for it on the deck, in a row of its own turn, is set down there."""
        high = [(lane, at) for row in rows for lane in row.lanes for at, one in enumerate(lane.stacks) if one.lifted]
        free = [(row, lane) for row in rows for lane in row.lanes for _ in range(lane.room - len(lane.stacks))]
        for lane, at in high:
            stack = lane.stacks[at]
            top = self.kinds[stack.kinds[-1]]
            for spare in free:
                row, other = spare
                if row.zone == (stack.turn,) and goes_in(top.foot, other.foot):
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
            covering = self._covering(row, zone)
            if covering is None or any(stack not in numbers for stack in row.stacks):
                return None
            at, rooms = covering
            values[self.x[zone, at]] += 1
            for stack, room in zip(row.stacks, rooms, strict=True):
                values[self.used[numbers[stack]]] += 1
                values[self.sent[stack.foot, room, stack.turn]] += 1
                counts.update(stack.kinds)
                if len(zone) > 1:
                    values[self.share[room, zone, stack.turn]] += 1
        for at, kind in enumerate(self.kinds):
            values[self.left[at]] = len(kind.ids) - counts[at]
        return values

    def _covering(self, row: Row, zone: Zone) -> tuple[int, list[Foot]] | None:
        """The shallowest pattern with a place for every stack of the row, and the foot that each place is made for."""
        shapes = self.shapes.get(zone, ())
        for at in sorted(range(len(shapes)), key=lambda one: shapes[one].depth):
            rooms = [foot for foot, many in shapes[at].slots for _ in range(many)]
            if found := _placed([stack.foot for stack in row.stacks], rooms):
                return at, found
        return None


def stacks_tag(foot: Foot, turn: int) -> str:
    """The row that says where the stacks of a foot and turn stand."""
    return f"stacks {foot} {turn}"


def _placed(feet: Sequence[Foot], rooms: Sequence[Foot]) -> list[Foot] | None:
    """A place for each foot, no place twice, by making room along chains; None if that cannot be."""
    holder: dict[int, int] = {}

    def place(at: int, tried: set[int]) -> bool:
        for room, made_for in enumerate(rooms):
            if room not in tried and goes_in(feet[at], made_for):
                tried.add(room)
                if room not in holder or place(holder[room], tried):
                    holder[room] = at
                    return True
        return False

    if len(feet) > len(rooms) or not all(place(at, set()) for at in range(len(feet))):
        return None
    by_foot = {at: rooms[room] for room, at in holder.items()}
    return [by_foot[at] for at in range(len(feet))]


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
