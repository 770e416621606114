"""Where to look for a thing that nobody can find: places, ranked by a count in which every point has its reason.

The one scale and the one order for all who say where to look; a return adds what only its show can tell.

Pure: no database, no clock. `likely_loading.py` brings the rows. The points are few whole numbers, printed with the
answer, so that anybody can add them up and disagree.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import cached_property
from typing import NamedTuple

SAME_TIME = timedelta(hours=2)  # things packed side by side are packed within this
ENOUGH = 2  # so many other things looked at in a place make "it was looked through"
MOST = 8
A_CHECK = timedelta(hours=12)  # a case that was open this short before the thing was missed was being looked through
SEEN, OPENED, OPENED_LAST, BESIDE, TWIN_BESIDE, SWAPPED, HELD, HOME, LOOKED, PASSED = 4, 3, 2, 1, 1, 5, 3, 1, -3, -1
NEVER_PACKED, UNOPENED, STILL_OUT, LEFT_OFTEN = 5, 4, 3, 2  # of a show that came back


class Seen(NamedTuple):
    """One entry as this question reads it. `own`: the thing itself was scanned or ticked."""

    at: datetime
    item: int
    place: int | None
    own: bool
    verb: str
    by: str


class Spot(NamedTuple):
    """A place; `item` is the container it is the inside of."""

    name: str
    item: int | None = None
    is_hands: bool = False
    is_road: bool = False


@dataclass(frozen=True)
class Trail:
    """Everything that is known round one lost thing: rows of it, of its case, and of what was handled with it."""

    item: int
    rows: tuple[Seen, ...]
    spots: Mapping[int, Spot]
    home: int | None = None
    twins: Mapping[int, int | None] = field(default_factory=dict)  # each alike thing and the place where it is at home

    @cached_property
    def _by_item(self) -> dict[int, list[Seen]]:
        found: dict[int, list[Seen]] = defaultdict(list)
        for row in self.rows:
            found[row.item].append(row)
        return found

    def of(self, item: int) -> list[Seen]:
        return self._by_item.get(item, [])

    def place_at(self, item: int, at: datetime) -> int | None:
        """Where a thing was by its newest placing up to a moment."""
        found = (row.place for row in reversed(self.of(item)) if row.place is not None and row.at <= at)
        return next(found, None)


@dataclass(frozen=True, slots=True)
class Point:
    """One reason to look somewhere, or not to, and what it counts."""

    count: int
    why: str


@dataclass(frozen=True, slots=True)
class LookHere:
    """A place to look, with the points that put it there. `place` is None for what is only words."""

    place: int | None
    name: str
    points: tuple[Point, ...]

    @property
    def count(self) -> int:
        return sum(point.count for point in self.points)

    @property
    def why(self) -> str:
        return "; ".join(f"{point.why} ({point.count:+d})" for point in self.points)


def last_sight(trail: Trail) -> Seen | None:
    """The newest scan or tick of the thing itself; a word and a `missed` are none."""
    found = [row for row in trail.of(trail.item) if row.own and row.verb != "missed"]
    return found[-1] if found else None


def places_to_look(trail: Trail) -> list[LookHere]:
    """Best first; only places that something speaks for."""
    last = last_sight(trail)
    found: dict[int, list[Point]] = defaultdict(list)
    for place, point in _for(trail, last):
        if not trail.spots[place].is_road and point.why not in {one.why for one in found[place]}:
            found[place].append(point)
    if last is not None:
        for place, point in _against(trail, last, found):
            found[place].append(point)
    return ranked(LookHere(place, trail.spots[place].name, tuple(points)) for place, points in found.items() if points)


def ranked(looks: Iterable[LookHere]) -> list[LookHere]:
    """Most points first; of equals, the one with the strongest single point."""
    return sorted(looks, key=lambda one: (-one.count, -max(point.count for point in one.points), one.name))[:MOST]


def ranked_by_name(points: Iterable[tuple[str, Point]]) -> tuple[LookHere, ...]:
    """The same for places known by their names alone."""
    found: dict[str, list[Point]] = defaultdict(list)
    for name, point in points:
        if point not in found[name]:
            found[name].append(point)
    return tuple(ranked(LookHere(None, name, tuple(some)) for name, some in found.items()))


def _for(trail: Trail, last: Seen | None) -> Iterator[tuple[int, Point]]:
    if last is not None:
        place = trail.place_at(trail.item, last.at)
        if place is not None:
            yield place, Point(SEEN, f"{last.by} saw it there on {last.at:%d %b %H:%M}")
            inside = case_of(trail, place)
            if inside is not None:
                yield from _opened(trail, last, inside)
            yield from _beside(trail, last, place, inside)
    yield from _twins(trail)
    yield from _holders(trail)
    if trail.home is not None:
        yield trail.home, Point(HOME, "it lives there")


def case_of(trail: Trail, place: int) -> int | None:
    """The inside of the case it was seen in; of what was seen in a room or in hands, of the case it lives in."""
    return place if trail.spots[place].item is not None else trail.home


def _opened(trail: Trail, last: Seen, place: int) -> Iterator[tuple[int, Point]]:
    """Where its case stood each time that something went in or out of it since."""
    case = trail.spots[place].item
    if case is None:
        return
    told: set[int] = set()
    for row in _openings(trail, case, place, last.at):
        stood = trail.place_at(case, row.at)
        if stood is not None and stood not in told:
            told.add(stood)
            name = trail.spots[place].name
            words = f"{name} was open there on {row.at:%d %b}, after it was last seen"
            yield stood, Point(OPENED_LAST if _was_the_check(trail, row.at) else OPENED, words)


def _was_the_check(trail: Trail, at: datetime) -> bool:
    """Was this the opening at which it was missed? What goes astray there is still found soon."""
    return any(row.verb == "missed" and row.at - A_CHECK <= at <= row.at for row in trail.of(trail.item))


def _openings(trail: Trail, case: int, place: int, since: datetime) -> Iterator[Seen]:
    """What opened its case since. What was packed beside it in one sitting is no opening: it went in as that did."""
    for row in trail.rows:
        if row.at <= since or not row.own or (row.place == place and row.at - since <= SAME_TIME):
            continue
        broken = row.item == case and row.verb == "seal broken"
        if broken or (row.item not in (case, trail.item) and _touches(trail, row, place)):
            yield row


def _touches(trail: Trail, row: Seen, place: int) -> bool:
    """Did this entry put something into the place, take it out, or look at it in there?"""
    return row.place == place or trail.place_at(row.item, row.at - timedelta(microseconds=1)) == place


def _beside(trail: Trail, last: Seen, place: int, inside: int | None) -> Iterator[tuple[int, Point]]:
    """Cases that were packed where and when it was last handled, or where its own case was open since."""
    case = trail.spots[inside].item if inside is not None else None
    moments = {last.at: (_stood(trail, place, last.at), "beside it")}
    if case is not None and inside is not None:
        words = f"where {trail.spots[inside].name} was open"
        for row in _openings(trail, case, inside, last.at):
            moments[row.at] = (trail.place_at(case, row.at), words)
    for at, (where, words) in moments.items():
        for other in _packed_near(trail, at, where) - {place, inside}:
            yield other, Point(BESIDE, f"it was packed {words} on {at:%d %b}")
            if other in trail.twins.values():
                yield other, Point(TWIN_BESIDE, "an alike thing lives there")


def _packed_near(trail: Trail, at: datetime, where: int | None) -> set[int]:
    """The insides of cases into which something went at that time, while they stood in that room or store."""
    found = set()
    for row in trail.rows:
        case = trail.spots[row.place].item if row.place is not None else None
        near = row.own and case is not None and abs(row.at - at) <= SAME_TIME
        if near and where is not None and trail.place_at(case, row.at) == where:
            found.add(row.place)
    return found


def _stood(trail: Trail, place: int, at: datetime) -> int | None:
    """The room or store round a place at a moment."""
    case = trail.spots[place].item
    return place if case is None else trail.place_at(case, at)


def _twins(trail: Trail) -> Iterator[tuple[int, Point]]:
    """An alike thing that lies where ours should be: ours is likely where that one lives."""
    for twin, its_home in trail.twins.items():
        rows = [row for row in trail.of(twin) if row.place is not None]
        if rows and its_home is not None and rows[-1].place == trail.home != its_home:
            yield its_home, Point(SWAPPED, "an alike thing that lives there lies in its place")


def _holders(trail: Trail) -> Iterator[tuple[int, Point]]:
    """The last hands it was in, if it was seen nowhere else by itself since."""
    placed = [row for row in trail.of(trail.item) if row.place is not None]
    hands = [row for row in placed if trail.spots[row.place].is_hands]
    if hands:
        newer = [row for row in placed if row.at > hands[-1].at and row.own]
        if not newer or newer[-1].at - hands[-1].at <= SAME_TIME:
            yield hands[-1].place, Point(HELD, f"the last who held it, from {hands[-1].at:%d %b}")


def _against(trail: Trail, last: Seen, found: Mapping[int, list[Point]]) -> Iterator[tuple[int, Point]]:
    """Looked through since, and it was not seen."""
    for place in [one for one, points in found.items() if points]:
        others = {
            row.item
            for row in trail.rows
            if row.own and row.at > last.at and row.item != trail.item and _touches(trail, row, place)
            and trail.spots[place].item is not None
        }  # fmt: skip
        if len(others) >= ENOUGH and _missed_after(trail, last):
            count = LOOKED if place == trail.home else PASSED  # whoever checks a list looks for what stands on it
            yield place, Point(count, f"{len(others)} other things there were looked at since, and it was not")


def _missed_after(trail: Trail, last: Seen) -> bool:
    return any(row.verb == "missed" and row.at > last.at for row in trail.of(trail.item))
