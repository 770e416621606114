"""The frozen rows that content and the wipe answer are derived from, and how a set of them is read."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import cached_property
from uuid import UUID

from inventory.answers.bench_rules import BenchLimits
from inventory.answers.values import ItemRef
from inventory.models import Grade, Kind, Verb

Key = tuple[datetime, int]
LAST_ID = 1 << 128
ALWAYS: Key = (datetime(1, 1, 2, tzinfo=UTC), 0)
NEVER: Key = (datetime(9999, 12, 30, tzinfo=UTC), LAST_ID)


@dataclass(frozen=True, slots=True)
class Undoing:
    """A correction that voids an entry: which, and who made it."""

    entry: UUID
    by: str


@dataclass(frozen=True, slots=True)
class EntryRow:
    """One ledger entry as content reads it. `told` is when the book received it; `undone` who took it back."""

    id: UUID
    act: UUID
    verb: str
    time: datetime
    told: datetime
    by: str
    role: str
    grade: str = Grade.TICK
    stated: bool = False
    item: int | None = None
    place: int | None = None
    bay: str = ""
    drive_set: int | None = None
    person: int | None = None
    person_name: str = ""
    seal: str = ""
    serial: str = ""
    note: str = ""
    value: str = ""
    rule: str = ""
    condition: str = ""
    field: str = ""
    before: str = ""
    after: str = ""
    reference: str = ""
    due_at: datetime | None = None
    purpose: str = ""
    undone: tuple[Undoing, ...] = ()

    @property
    def key(self) -> Key:
        return (self.time, self.id.int)


@dataclass(frozen=True, slots=True)
class ThingRow:
    ref: ItemRef
    kind: str
    serial_key: str
    unreadable: bool
    owner: str
    ours: bool
    system: int | None
    solid_state: bool = False

    @property
    def words(self) -> str:
        return f"drive {self.ref.serial}" if self.ref.serial and self.kind == Kind.DRIVE else self.ref.words


@dataclass(frozen=True, slots=True)
class PlaceRow:
    """`item` is the container it is inside of, `person` whose hands it is; `outside` means no hands of ours."""

    id: int
    name: str
    kind: str
    item: int | None = None
    holds: bool = True
    person: str = ""
    person_id: int | None = None
    outside: bool = False
    parent: int | None = None


@dataclass(frozen=True, slots=True)
class SetRow:
    id: int
    name: str
    host: int | None


@dataclass(frozen=True, slots=True)
class MandateRow:
    id: int
    reference: str
    owner: str
    persons: frozenset[int]
    names: tuple[str, ...]
    copies: int
    media: int
    elsewhere: int
    owners_document: str
    in_force_from: datetime
    entered_at: datetime


@dataclass(frozen=True, slots=True)
class ReleaseRow:
    id: int
    reference: str
    person: int
    person_name: str
    serials: frozenset[int]
    drive_set: int | None
    no_copies_wanted: bool
    evidence: str
    date: datetime
    entered_at: datetime
    withdrawn_at: datetime | None = None
    withdrawn_why: str = ""

    @property
    def effective(self) -> datetime:
        return min(self.date, self.entered_at)


@dataclass(frozen=True, slots=True)
class HoldRow:
    id: int
    drive: int | None
    drive_set: int | None
    reference: str
    why: str
    by: str
    entered_at: datetime
    lifted_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class CopyRow:
    """One copy as its newest row by then says it; `replaced_at` is when a later row about it was entered."""

    id: int
    first: int
    reference: str
    made_at: datetime
    entered_at: datetime
    medium: str
    place: int | None
    place_words: str
    on_drive: int | None
    verified_at: datetime | None
    reported_bad: bool
    serials: frozenset[int]
    replaced_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class WipeRow:
    id: int
    job: UUID
    drive: int
    step: str
    method: str
    by: str
    at: datetime
    answer_at_step: str


@dataclass(frozen=True, slots=True)
class AcceptanceRow:
    drive: int
    digest: str
    by: str
    why: str
    entered_at: datetime


@dataclass(frozen=True)
class Book:
    """Everything that a question about some drives may need. `drives` are the ids whose rows are complete."""

    entries: tuple[EntryRow, ...]
    things: dict[int, ThingRow]
    places: dict[int, PlaceRow]
    sets: dict[int, SetRow]
    drives: frozenset[int]
    mandates: tuple[MandateRow, ...] = ()
    releases: tuple[ReleaseRow, ...] = ()
    holds: tuple[HoldRow, ...] = ()
    copies: tuple[CopyRow, ...] = ()
    wipes: tuple[WipeRow, ...] = ()
    acceptances: tuple[AcceptanceRow, ...] = ()
    limits: BenchLimits = BenchLimits()

    @cached_property
    def by_serial(self) -> dict[str, int]:
        return {row.serial_key: pk for pk, row in self.things.items() if row.serial_key and row.kind == Kind.DRIVE}

    def frames_of(self, system: int | None) -> set[int]:
        """The frames at home in a system."""
        if system is None:
            return set()
        return {pk for pk, row in self.things.items() if row.kind == Kind.FRAME and row.system == system}

    def sets_of(self, system: int | None) -> set[int]:
        return set() if system is None else {row.id for row in self.sets.values() if row.host == system}

    def words(self, item: int | None) -> str:
        return self.things[item].words if item in self.things else "a thing"


@dataclass(frozen=True, slots=True)
class Stay:
    """A time without a break: of a drive in a set, or of a thing in a place. `end` is NEVER while it lasts."""

    item: int
    where: int
    start: Key
    end: Key
    first: EntryRow
    last: EntryRow | None = None


def _is_placing(row: EntryRow, book: Book) -> bool:
    if row.place is None or row.item is None:
        return False
    place = book.places.get(row.place)
    return place is None or place.item is None or (place.item != row.item and place.holds)


@dataclass(frozen=True)
class Scene:
    """The entries that stand at one moment, read by thing and by set. Corrections of any time count (P4)."""

    book: Book
    at: datetime
    entries: tuple[EntryRow, ...]
    of_item: dict[int, list[EntryRow]] = field(default_factory=dict)
    near: dict[int, tuple[EntryRow, ...]] = field(default_factory=dict)  # see custody.around
    in_sets: dict[tuple[int, Key], dict[int, str]] = field(default_factory=dict)  # see content.members

    @classmethod
    def live(cls, book: Book, at: datetime) -> Scene:
        return cls.of(book, at, [row for row in book.entries if not row.undone])

    @classmethod
    def of(cls, book: Book, at: datetime, rows: list[EntryRow]) -> Scene:
        kept = tuple(sorted((row for row in rows if row.time <= at), key=lambda row: row.key))
        scene = cls(book, at, kept)
        for row in kept:
            if row.item is not None:
                scene.of_item.setdefault(row.item, []).append(row)
        return scene

    def verbs(self, *verbs: str) -> list[EntryRow]:
        if len(verbs) == 1:
            return self._of_verb.get(verbs[0], [])
        return [row for row in self.entries if row.verb in verbs]

    @cached_property
    def _of_verb(self) -> dict[str, list[EntryRow]]:
        found: dict[str, list[EntryRow]] = {}
        for row in self.entries:
            found.setdefault(row.verb, []).append(row)
        return found

    def placings(self, item: int) -> list[EntryRow]:
        """Its placings in order; imports count only if all are imports (P5)."""
        rows = [row for row in self.of_item.get(item, ()) if _is_placing(row, self.book)]
        return [row for row in rows if row.grade != Grade.IMPORT] or rows

    @cached_property
    def _stays(self) -> dict[int, list[Stay]]:
        return {item: list(_place_stays(self.placings(item))) for item in self.of_item}

    def stays(self, item: int) -> list[Stay]:
        return self._stays.get(item, [])

    def holder(self, item: int, key: Key) -> Stay | None:
        """The stay that `item` was in at `key`."""
        return next((stay for stay in self.stays(item) if stay.start <= key < stay.end), None)

    def chain(self, item: int, key: Key) -> list[Stay]:
        """The stays outward from `item` at `key`; a loop ends the chain (P6)."""
        found: list[Stay] = []
        seen = {item}
        stay = self.holder(item, key)
        while stay is not None:
            found.append(stay)
            place = self.book.places.get(stay.where)
            if place is None or place.item is None:
                break
            if place.item in seen:
                return []
            seen.add(place.item)
            stay = self.holder(place.item, key)
        return found

    def outermost(self, item: int, key: Key) -> PlaceRow | None:
        """The fixed place, vehicle or hands that `item` was in at `key`; None if nobody said."""
        chain = self.chain(item, key)
        return self.book.places.get(chain[-1].where) if chain else None

    @cached_property
    def membership(self) -> tuple[Stay, ...]:
        return tuple(_set_stays(self.verbs(Verb.JOINED, Verb.DROPPED)))

    def fitted(self, item: int | None = None) -> list[Stay]:
        """Stays in frames, of one thing or of every drive."""
        return self._all_fitted if item is None else self._fitted.get(item, [])

    @cached_property
    def _fitted(self) -> dict[int, list[Stay]]:
        return {
            item: [stay for stay in stays if self.frame_of(stay) is not None] for item, stays in self._stays.items()
        }

    @cached_property
    def _all_fitted(self) -> list[Stay]:
        return [stay for stays in self._fitted.values() for stay in stays]

    def frame_of(self, stay: Stay) -> int | None:
        place = self.book.places.get(stay.where)
        holder = self.book.things.get(place.item) if place and place.item else None
        return place.item if place and holder and holder.kind == Kind.FRAME else None


def _place_stays(rows: list[EntryRow]) -> Iterator[Stay]:
    opened: EntryRow | None = None
    for row in rows:
        if opened is not None and row.place == opened.place:
            continue
        if opened is not None:
            yield Stay(opened.item or 0, opened.place or 0, opened.key, row.key, opened, row)
        opened = row
    if opened is not None:
        yield Stay(opened.item or 0, opened.place or 0, opened.key, NEVER, opened)


def _set_stays(rows: list[EntryRow]) -> Iterator[Stay]:
    opened: dict[tuple[int, int], EntryRow] = {}
    for row in rows:
        if row.item is None or row.drive_set is None:
            continue
        pair = (row.item, row.drive_set)
        if row.verb == Verb.JOINED:
            opened.setdefault(pair, row)
        elif pair in opened:
            first = opened.pop(pair)
            yield Stay(*pair, first.key, row.key, first, row)
    for pair, first in opened.items():
        yield Stay(*pair, first.key, NEVER, first)
