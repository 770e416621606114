"""Does it really go in? Puts the things of one trunk down one by one, and says where each stands.

Every free room is kept as large as it can be (rooms overlap); a thing goes to the lowest, then the nearest corner.
Several orders are tried, the same ones each time. That none of them works does not show that no way exists.
"""

from __future__ import annotations

from functools import lru_cache

from shipping.packing.planner.fitting import takes_room, turns
from shipping.packing.wanted import Content, Gear, Job, Placed, Shell, Size

Room = tuple[int, int, int, int, int, int]
TRIES = 48


def lay_out(job: Job, shell: Shell, content: Content) -> tuple[Placed, ...] | None:
    """Places of all things in a trunk, nothing over fragile ones; None when no try found a way."""
    if shell.inside_mm is None:
        return None
    things = [(job.kinds[ident], count) for ident, count in content if takes_room(job.kinds[ident])]
    return _laid(tuple(things), shell.inside_mm)


@lru_cache(maxsize=4096)
def _laid(things: tuple[tuple[Gear, int], ...], inside: Size) -> tuple[Placed, ...] | None:
    every = [gear for gear, count in things for _ in range(count)]
    if sum(_volume(gear) for gear in every) > inside[0] * inside[1] * inside[2]:
        return None
    for way in range(TRIES):
        placed = _pack(_in_order(every, way), inside, way)
        if placed is not None:
            return placed
    return None


def _volume(gear: Gear) -> int:
    length, width, height = gear.size_mm or (0, 0, 0)
    return length * width * height


def _in_order(every: list[Gear], way: int) -> list[Gear]:
    """Fragile last, so on top; then by volume, foot, longest or shortest side; later tries shake that a little."""
    kinds = sorted({gear.id for gear in every})
    shake = {ident: _shaken(at, way) for at, ident in enumerate(kinds)}

    def key(gear: Gear) -> tuple[bool, float, str]:
        sides = sorted(gear.size_mm or (0, 0, 0))
        measure = (_volume(gear), sides[1] * sides[2], sides[2], sides[0])[way % 4]
        return (gear.fragile, -measure * shake[gear.id], gear.id)

    return sorted(every, key=key)


def _shaken(at: int, way: int) -> float:
    """A factor of 0.5 to 1.5, the same each time; 1 in the first tries."""
    return 1.0 if way < 4 else 0.5 + ((at * 7919 + way * 104729 + 12345) * 1103515245 % 2**31) / 2**31


def _pack(things: list[Gear], inside: Size, way: int) -> tuple[Placed, ...] | None:
    rooms: list[Room] = [(0, 0, 0, *inside)]
    placed: list[Placed] = []
    for gear in things:
        best = _choose(gear, rooms, inside[2], way // 4)
        if best is None:
            return None
        at, size = best
        placed.append(Placed(gear.id, at, size))
        top = inside[2] if gear.fragile else at[2] + size[2]
        rooms = _without(rooms, (*at, at[0] + size[0], at[1] + size[1], top))
    return tuple(placed)


def _choose(gear: Gear, rooms: list[Room], ceiling: int, style: int) -> tuple[Size, Size] | None:
    """The lowest corner that takes it, turned to leave the narrowest gap; fragile only where nothing is over."""
    best: tuple[tuple[int, ...], Size, Size] | None = None
    for room in rooms:
        free = (room[3] - room[0], room[4] - room[1], room[5] - room[2])
        if gear.fragile and room[5] != ceiling:
            continue
        for size in turns(gear):
            gaps = [side - mine for side, mine in zip(free, size, strict=True)]
            if min(gaps) < 0:
                continue
            found = (_score(room, gaps, style), (room[0], room[1], room[2]), size)
            if best is None or found < best:
                best = found
    return (best[1], best[2]) if best else None


def _score(room: Room, gaps: list[int], style: int) -> tuple[int, ...]:
    low = sorted(gaps)
    if style % 3 == 0:
        return (room[2], low[0], low[1], room[0] + room[1])
    if style % 3 == 1:
        return (low[0], low[1], low[2], room[2])
    return (room[0], room[2], low[0], room[1])


def _without(rooms: list[Room], box: Room) -> list[Room]:
    """The free rooms after a box was put down: each room it touches falls into the rooms around it."""
    kept, new = [], []
    for room in rooms:
        if any(box[axis] >= room[axis + 3] or box[axis + 3] <= room[axis] for axis in range(3)):
            kept.append(room)
        else:
            new += _around(room, box)
    found = list(dict.fromkeys(kept + new))
    return [one for one in found if not any(other != one and _within(one, other) for other in found)]


def _around(room: Room, box: Room) -> list[Room]:
    found = []
    for axis in range(3):
        if room[axis] < box[axis]:
            found.append((*room[: axis + 3], box[axis], *room[axis + 4 :]))
        if box[axis + 3] < room[axis + 3]:
            found.append((*room[:axis], box[axis + 3], *room[axis + 1 :]))
    return found  # type: ignore[return-value]


def _within(one: Room, other: Room) -> bool:
    return all(other[axis] <= one[axis] and one[axis + 3] <= other[axis + 3] for axis in range(3))
