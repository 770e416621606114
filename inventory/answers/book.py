"""What a set of entries says, read by one order: pure functions over small frozen rows.

No database and no clock here. `loading.py` brings the rows: live entries (none that a correction took back) up to
one moment. K is (happened_at, id), the only order there is. A *placing* moves its item; a *stay* is an item's time
in one place without a break.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import cached_property
from itertools import takewhile
from operator import attrgetter
from typing import NamedTuple
from uuid import UUID

from inventory.answers.values import ItemRef, PlaceRef

Key = tuple[datetime, UUID]
SIGHT = frozenset({"scan", "tick"})
NO_EVIDENCE = frozenset({"missed", "amended", "signed", "corrected"})
DISPUTED_VERBS = frozenset({"loaded", "fitted", "packed"})
SETTLING_VERBS = frozenset({"pulled", "unloaded", "placed"})
DISPUTE_WITHIN = timedelta(minutes=30)
SAME_HANDS_WITHIN = timedelta(seconds=60)


class Row(NamedTuple):
    """One entry, as far as a place depends on it."""

    id: UUID
    verb: str
    item: int
    place: int | None
    bay: str
    quantity: int | None
    seal: str
    grade: str
    at: datetime
    stated: bool
    device: UUID | None
    by: str
    note: str

    @property
    def key(self) -> Key:
        return (self.at, self.id)

    @property
    def is_sight(self) -> bool:
        """Somebody scanned it or ticked it by eye, so it was there."""
        return self.grade in SIGHT and self.verb not in NO_EVIDENCE


_at = attrgetter("at")


class Thing(NamedTuple):
    """An item as the answers need it. `inside` is the place inside it; `single` its bays and slots that hold one."""

    ref: ItemRef
    kind: str
    holds: bool
    inside: int | None
    home_case: int | None
    is_lot: bool
    quantity: int
    single: frozenset[str]

    @property
    def is_moved_open(self) -> bool:
        """Does carrying it about unsealed weaken what is in it? Not a frame's bays, not a vehicle's deck."""
        return self.kind not in {"frame", "vehicle"}


class Spot(NamedTuple):
    """A place. `item` is the container it is the inside of."""

    ref: PlaceRef
    parent: str
    purpose: str

    @property
    def item(self) -> int | None:
        return self.ref.item_id


class Doubt(NamedTuple):
    """Why an entry's time is doubtful: its phone's clock turned out to differ by so much at the next contact."""

    by: timedelta
    entry: UUID


@dataclass(frozen=True, slots=True)
class WorkedOut:
    """What books of the same things and places share: what fits where, and the placings among rows told of a thing."""

    fits: dict[tuple[int, int], bool] = field(default_factory=dict)
    placings: dict[int, tuple[tuple[Row, ...], list[Row]]] = field(default_factory=dict)


@dataclass(frozen=True)
class Book:
    """Rows of some things up to one moment. `planned` says where a thing without any placing should be."""

    things: Mapping[int, Thing]
    spots: Mapping[int, Spot]
    rows: Mapping[int, tuple[Row, ...]]
    planned: Mapping[int, int] = field(default_factory=dict)
    doubts: Mapping[UUID, Doubt] = field(default_factory=dict)
    worked_out: WorkedOut = field(default_factory=WorkedOut, compare=False, repr=False)

    def until(self, moment: datetime) -> Book:
        """The same book before anything later was told."""
        rows = {item: told[: bisect_right(told, moment, key=_at)] for item, told in self.rows.items()}
        return Book(self.things, self.spots, rows, self.planned, self.doubts, self.worked_out)

    def is_placing(self, row: Row) -> bool:
        """Can it be there? Not inside itself, not in what holds nothing, a vehicle only in a vehicle."""
        if row.place is None or row.verb in NO_EVIDENCE:
            return False
        fits = self._fits.get((row.item, row.place))  # asked of every entry many times over
        return self.fits(row.item, row.place) if fits is None else fits

    def fits(self, item: int, place: int) -> bool:
        """Can this thing be in that place at all?"""
        fits = self._fits.get((item, place))
        if fits is None:
            fits = self._fits[item, place] = self._can_be_in(item, self.spots[place].item)
        return fits

    @property
    def _fits(self) -> dict[tuple[int, int], bool]:
        return self.worked_out.fits

    def _can_be_in(self, item: int, container: int | None) -> bool:
        if container is None:
            return True
        holder, thing = self.things[container], self.things[item]
        return container != item and holder.holds and (thing.kind != "vehicle" or holder.kind == "vehicle")

    def is_evidence(self, row: Row) -> bool:
        return row.is_sight and (row.place is None or self.is_placing(row))

    def placings(self, item: int) -> list[Row]:
        """The placings that count, oldest first: imports only while there is nothing else."""
        told = self.rows.get(item, ())
        known = self.worked_out.placings.get(item)
        if known is not None and known[0] is told:
            return known[1]
        found = [row for row in told if self.is_placing(row)]
        found = [row for row in found if row.grade != "import"] or found
        self.worked_out.placings[item] = told, found
        return found

    @cached_property
    def named_bays(self) -> dict[tuple[int, str], list[Row]]:
        """Every counting placing that named a bay, by place and bay."""
        found: dict[tuple[int, str], list[Row]] = {}
        for row in (row for item in self.rows for row in self.placings(item) if row.bay):
            found.setdefault((row.place or 0, row.bay), []).append(row)
        return found

    @cached_property
    def put_into(self) -> dict[int, set[int]]:
        """What was ever put straight into each container, by the container's item."""
        found: dict[int, set[int]] = {}
        moved = (row for rows in self.rows.values() for row in rows if row.place is not None)
        pairs = {(row.place, row.item): row for row in moved if row.verb not in NO_EVIDENCE}
        for (place, item), row in pairs.items():
            holder = self.spots[place or 0].item
            if holder is not None and self.is_placing(row):
                found.setdefault(holder, set()).add(item)
        return found

    def stay(self, item: int) -> list[Row]:
        """The placings of the present stay, oldest first."""
        found = self.placings(item)
        start = len(found)
        while start and found[start - 1].place == found[-1].place:
            start -= 1
        return found[start:]

    def sight(self, item: int) -> Row | None:
        """The newest scan or tick of the item itself in its present stay."""
        stay = self.stay(item)
        if not stay:
            return None
        since = takewhile(lambda row: row.key >= stay[0].key, reversed(self.rows[item]))
        return next(filter(self.is_evidence, since), None)

    def holders(self) -> dict[int, Row]:
        """The newest counting placing of every loaded thing."""
        return {item: found[-1] for item in self.rows if (found := self.placings(item))}


class Walk(NamedTuple):
    """Upward from one thing: the things on the way, and the cycle that had to be cut, if any."""

    path: tuple[int, ...]
    cycle: tuple[int, ...] = ()


def walk(book: Book, where: Mapping[int, Row], item: int, planned: Mapping[int, int] | None = None) -> Walk:
    """The containers round a thing, innermost first, the thing itself leading.

    If a thing comes round again, the link with the smallest K on that cycle does not count; a planned link is older
    than any entry. The path ends with the thing whose link was cut.
    """
    path = [item]
    while (up := _container(book, where, path[-1], planned or {})) is not None:
        if up in path:
            cycle = path[path.index(up) :]
            cut = min(cycle, key=lambda one: _age(where.get(one)))
            return Walk(tuple(path[: path.index(cut) + 1]), tuple(cycle))
        path.append(up)
    return Walk(tuple(path))


def _container(book: Book, where: Mapping[int, Row], item: int, planned: Mapping[int, int]) -> int | None:
    place = where[item].place if item in where else planned.get(item)
    return book.spots[place].item if place is not None else None


def _age(row: Row | None) -> tuple[bool, datetime | None, UUID | None]:
    return (False, None, None) if row is None else (True, row.at, row.id)


def insiders(book: Book, container: int) -> set[int]:
    """Every loaded thing that was ever in a container, at any depth."""
    found: set[int] = set()
    todo = [container]
    while todo:
        for item in book.put_into.get(todo.pop(), ()):
            if item not in found:
                found.add(item)
                todo.append(item)
    return found - {container}


def in_order(rows: Iterable[Row]) -> list[Row]:
    return sorted(rows, key=lambda row: (row.at, row.id.int))


def stories(book: Book, item: int) -> list[Row]:
    """The placings without repeats: the same device, verb and place again is not a later placing."""
    found: list[Row] = []
    for row in book.placings(item):
        before = found[-1] if found else None
        if not before or (row.device, row.verb, row.place) != (before.device, before.verb, before.place):
            found.append(row)
    return found


def dispute(book: Book, item: int) -> tuple[Row, Row] | None:
    """Two phones, two stories: the two newest placings, if they cannot both be meant. The newer comes last."""
    told = stories(book, item)
    if len(told) < 2:
        return None
    old, new = told[-2:]
    slack = sum((book.doubts[row.id].by for row in (old, new) if row.id in book.doubts), DISPUTE_WITHIN)
    cannot_both_be = old.device != new.device and old.place != new.place and new.at - old.at <= slack
    alike = old.verb == new.verb and new.verb in DISPUTED_VERBS
    settled = any(old.key < row.key < new.key and row.verb in SETTLING_VERBS for row in book.rows[item])
    return (old, new) if cannot_both_be and alike and not settled else None


def missing(book: Book, item: int) -> Row | None:
    """The `missed` entry, if nothing newer was heard of the item."""
    told = [
        row
        for row in book.rows.get(item, ())
        if row.verb in {"missed", "found"} or book.is_evidence(row) or book.is_placing(row)
    ]
    return told[-1] if told and told[-1].verb == "missed" else None


class Bay(NamedTuple):
    """The bay an item has (`label` empty: none), and the entries that decide it."""

    label: str
    named: Row | None = None
    taken_by: Row | None = None


def bay_of(book: Book, item: int) -> Bay:
    """The bay named last in the present stay, unless a later placing of another thing named it too."""
    named = next((row for row in reversed(book.stay(item)) if row.bay), None)
    if named is None or named.place is None:
        return Bay("")
    container = book.spots[named.place].item
    if container is None or named.bay not in book.things[container].single:
        return Bay(named.bay, named)
    rivals = book.named_bays[named.place, named.bay]
    later = [row for row in rivals if row.item != item and row.key > named.key]
    taken = max(later, key=lambda row: row.key, default=None)
    return Bay("" if taken else named.bay, named, taken)


def count_of(book: Book, item: int) -> tuple[int, Row | None]:
    """How many of a lot there are by the newest count, else how many there should be."""
    thing = book.things[item]
    if not thing.is_lot:
        return thing.quantity, None
    counted = [row for row in book.rows.get(item, ()) if row.verb == "counted" and row.quantity is not None]
    return (counted[-1].quantity or 0, counted[-1]) if counted else (thing.quantity, None)
