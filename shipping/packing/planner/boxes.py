"""Does it really go in? Puts the things of one trunk down in blocks of one kind, and says where each stands.

Every free room is kept as large as it can be (rooms overlap). Fragile things take the top, one layer of them. Several
ways are tried, the same ones each time; an engine is asked (exact.py) where the quick ones do not work.
"""

from __future__ import annotations

from collections import Counter
from functools import lru_cache

from shipping.packing.planner import exact
from shipping.packing.planner.fitting import takes_room, turns
from shipping.packing.wanted import Content, Gear, Job, Placed, Shell, Size

Room = tuple[int, int, int, int, int, int]
Things = tuple[tuple[Gear, int], ...]
Layout = tuple[Placed, ...]
Count = tuple[int, int, int]
Block = tuple[Gear, Size, Count]
WAYS, QUICK = 60, 6


def lay_out(job: Job, shell: Shell, content: Content, ways: int = WAYS) -> Layout | None:
    """Places of all things in a trunk, nothing over fragile ones; None when no try found a way."""
    layout, over = as_many(job, shell, content, ways)
    return None if over else layout


def as_many(job: Job, shell: Shell, content: Content, ways: int = WAYS) -> tuple[Layout, Counter[str]]:
    """The best of the tries: where things stand, and how many of which kind found no place (none, if all did)."""
    things = tuple((job.kinds[ident], count) for ident, count in content if takes_room(job.kinds[ident]))
    layout, over = _laid(things, shell.inside_mm or (0, 0, 0), ways)
    return layout, Counter(dict(over))


@lru_cache(maxsize=65536)
def _laid(things: Things, inside: Size, ways: int) -> tuple[Layout, tuple[tuple[str, int], ...]]:
    if ways > QUICK:
        if not (quick := _laid(things, inside, QUICK))[1]:
            return quick
        asked = exact.placed(things, inside)
        if asked.layout is not None:
            return _settled(asked.layout), ()
        if asked.impossible:
            return quick
    best: tuple[Layout, Counter[str]] = ((), Counter({gear.id: count for gear, count in things}))
    volume = {gear.id: _volume(gear) for gear, _ in things}
    for way in range(0 if ways == QUICK else QUICK, ways):
        layout, over = _Trunk(inside, way).fill(things)
        if not over:
            return _settled(layout), ()
        if sum(volume[i] * n for i, n in over.items()) < sum(volume[i] * n for i, n in best[1].items()):
            best = (layout, over)
    return _settled(best[0]), tuple(sorted(best[1].items()))


def _volume(gear: Gear) -> int:
    length, width, height = gear.size_mm or (0, 0, 0)
    return length * width * height


class _Trunk:
    """One way of filling one trunk. The way is in how rooms are chosen, and how kinds are favoured."""

    def __init__(self, inside: Size, way: int) -> None:
        self.inside, self.way = inside, way
        self.rooms: list[Room] = [(0, 0, 0, *inside)]
        self.placed: list[Placed] = []

    def fill(self, things: Things) -> tuple[Layout, Counter[str]]:
        over = Counter({gear.id: count for gear, count in things})
        favour = {gear.id: _shaken(at, self.way) for at, (gear, _) in enumerate(things)}
        for fragile in (True, False):
            waiting = [gear for gear, _ in things if gear.fragile == fragile]
            self._stage(waiting, over, favour)
        return tuple(self.placed), +over

    def _stage(self, waiting: list[Gear], over: Counter[str], favour: dict[str, float]) -> None:
        options = [(gear, size, favour[gear.id]) for gear in waiting for size in sorted(turns(gear))]
        rooms = self.rooms
        closed: set[Room] = set()
        while options and (open_rooms := [room for room in rooms if room not in closed]):
            room = min(open_rooms, key=self._order)
            block = self._best(room, options, over)
            if block is None:
                closed.add(room)
                continue
            rooms = self.rooms = self._put(room, block, over)
            options = [one for one in options if over[one[0].id]]

    def _order(self, room: Room) -> tuple[int, ...]:
        """Which room is filled next: the lowest, the one furthest in, the narrowest, or the smallest."""
        style = self.way % 4
        if style == 0:
            return (room[2], room[0], room[1])
        if style == 1:
            return (room[0], room[1], room[2])
        sides = (room[3] - room[0], room[4] - room[1], room[5] - room[2])
        return (min(sides), *room[:3]) if style == 2 else (sides[0] * sides[1] * sides[2], *room[:3])

    def _best(self, room: Room, options: list[tuple[Gear, Size, float]], over: Counter[str]) -> Block | None:
        """The block that fills most of the room; a side filled to the brim counts extra."""
        free = (room[3] - room[0], room[4] - room[1], room[5] - room[2])
        best, most = None, 0.0
        for gear, size, favour in options:
            if size[0] > free[0] or size[1] > free[1] or size[2] > free[2]:
                continue
            if gear.fragile and room[5] != self.inside[2]:
                continue
            filled, count = _fullest(size, free, over[gear.id], gear.fragile, self.way % 3 == 0)
            if filled * favour > most:
                best, most = (gear, size, count), filled * favour
        return best

    def _put(self, room: Room, block: Block, over: Counter[str]) -> list[Room]:
        gear, size, count = block
        x, y, z = room[:3]
        if gear.fragile:
            z = self.inside[2] - size[2]
        over[gear.id] -= count[0] * count[1] * count[2]
        for across in range(count[0]):
            for along in range(count[1]):
                for up in range(count[2]):
                    at = (x + across * size[0], y + along * size[1], z + up * size[2])
                    self.placed.append(Placed(gear.id, at, size))
        ends = (x + count[0] * size[0], y + count[1] * size[1], z + count[2] * size[2])
        return _without(self.rooms, (x, y, z, *ends))


@lru_cache(maxsize=262144)
def _fullest(size: Size, free: Size, has: int, flat: bool, every: bool) -> tuple[float, Count]:
    """The block of one kind that fills most of a room, and how much: what is filled to the brim counts extra."""
    best, most = (0, 0, 0), 0.0
    for count in _counts(size, free, has, flat, every):
        filled = 1.0
        for many, side, whole in zip(count, size, free, strict=True):
            filled *= many * side * (1.25 if many * side == whole else 1.0)
        if filled > most:
            best, most = count, filled
    return most, best


def _counts(size: Size, free: Size, has: int, flat: bool, every: bool) -> set[Count]:
    """How a block may be built of so many: along the length, the width or the height first."""
    most = (free[0] // size[0], free[1] // size[1], 1 if flat else free[2] // size[2])
    found = set()
    for order in ((0, 1, 2), (1, 0, 2), (2, 0, 1), (2, 1, 0)) if every else ((0, 1, 2), (2, 0, 1)):
        count, left = [1, 1, 1], has
        for axis in order:
            count[axis] = min(most[axis], left)
            left //= count[axis]
        found.add((count[0], count[1], count[2]))
    return found


def _shaken(at: int, way: int) -> float:
    """A factor of 0.5 to 1.5, the same each time; 1 in the first tries."""
    return 1.0 if way < 4 else 0.5 + ((at * 7919 + way * 104729 + 12345) * 1103515245 % 2**31) / 2**31


def _without(rooms: list[Room], box: Room) -> list[Room]:
    """The free rooms after a box was put down: each room it touches falls into the rooms around it."""
    a, b, c, d, e, f = box
    kept, new = [], []
    for room in rooms:
        if a >= room[3] or d <= room[0] or b >= room[4] or e <= room[1] or c >= room[5] or f <= room[2]:
            kept.append(room)
        else:
            new += _around(room, box)
    for one in new:
        if one not in kept and not _within_any(one, kept) and not _within_any(one, new):
            kept.append(one)
    return kept


def _around(room: Room, box: Room) -> list[Room]:
    found = []
    for axis in range(3):
        if room[axis] < box[axis]:
            found.append((*room[: axis + 3], box[axis], *room[axis + 4 :]))
        if box[axis + 3] < room[axis + 3]:
            found.append((*room[:axis], box[axis + 3], *room[axis + 1 :]))
    return found  # type: ignore[return-value]


def _within_any(one: Room, others: list[Room]) -> bool:
    """Is it a part of another one? A room is no part of itself."""
    a, b, c, d, e, f = one
    for u, v, w, x, y, z in others:
        if u <= a and v <= b and w <= c and d <= x and e <= y and f <= z and (u, v, w, x, y, z) != one:
            return True
    return False


def _settled(layout: Layout) -> Layout:
    """Everything let down until it stands on the floor or on something."""
    done: list[Placed] = []
    for one in sorted(layout, key=lambda each: (each.at_mm[2], each.at_mm, each.gear)):
        under = [each.at_mm[2] + each.size_mm[2] for each in done if _over(one, each)]
        done.append(Placed(one.gear, (one.at_mm[0], one.at_mm[1], max(under, default=0)), one.size_mm))
    return tuple(done)


def _over(one: Placed, other: Placed) -> bool:
    (x, y, _), (length, width, _) = one.at_mm, one.size_mm
    (a, b, _), (long, wide, _) = other.at_mm, other.size_mm
    return x < a + long and a < x + length and y < b + wide and b < y + width
