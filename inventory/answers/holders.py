"""Who holds drives tonight: by person, with a telephone number, what is due when, and what is overdue."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime

from django.db.models import QuerySet

from inventory.answers.refs import item_ref
from inventory.answers.values import ItemRef
from inventory.models import Holding, Kind, Person, PlaceKind, Role, Verb

MOST = 400
LATEST = datetime.max.replace(tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class HeldThing:
    """A drive in somebody's hands, or in a case (`via`) that is."""

    drive: ItemRef
    via: str
    since: datetime | None
    due_at: datetime | None
    late: bool
    purpose: str


@dataclass(frozen=True, slots=True)
class Holder:
    """A person with drives. `outside`: no hands of ours."""

    person: Person
    outside: bool
    things: tuple[HeldThing, ...]

    @property
    def late(self) -> bool:
        return any(thing.late for thing in self.things)

    @property
    def due_at(self) -> datetime | None:
        return min((thing.due_at for thing in self.things if thing.due_at), default=None)

    @property
    def deputy(self) -> Person | None:
        """Whom to ask when the holder is late or cannot be reached."""
        return self.person.deputy


def holders(at: datetime, drives: Collection[int] | None = None) -> tuple[Holder, ...]:
    """Everybody who holds drives now, the overdue first; only these drives if they are named."""
    found: dict[Person, list[HeldThing]] = defaultdict(list)
    for row, handed in _held(drives):
        found[handed.place.person].append(_thing(row, handed, at))
    told = [Holder(person, _is_outside(person), tuple(things)) for person, things in found.items()]
    return tuple(sorted(told, key=lambda one: (not one.late, one.due_at or LATEST, one.person.name)))


def _thing(row: Holding, handed: Holding, at: datetime) -> HeldThing:
    entry = handed.entry
    due = entry.due_at if entry is not None and entry.verb == Verb.HANDED_OVER else None
    via = "" if handed is row else str(handed.item)
    since, purpose = (entry.happened_at, entry.purpose) if entry is not None else (None, "")
    return HeldThing(item_ref(row.item), via, since, due, due is not None and due < at, purpose)


def _held(drives: Collection[int] | None) -> Iterator[tuple[Holding, Holding]]:
    """Each drive's row and the row of what is in the hands: the drive itself, or the case it is in."""
    rows = _rows().filter(item__type__kind=Kind.DRIVE, item__retired_at=None)
    if drives is not None:
        rows = rows.filter(item__in=drives)
    yield from ((row, row) for row in rows.filter(place__kind=PlaceKind.PERSON)[:MOST])
    boxed = list(rows.filter(place__item__holding__place__kind=PlaceKind.PERSON)[:MOST])
    cases = {one.item_id: one for one in _rows().filter(item__in={row.place.item_id for row in boxed})}
    yield from ((row, cases[row.place.item_id]) for row in boxed)


def _rows() -> QuerySet[Holding]:
    rows = Holding.objects.select_related("item__type", "entry", "place__person__organisation", "place__person__deputy")
    return rows.prefetch_related("item__labels").order_by("item__serial", "pk")


def _is_outside(person: Person) -> bool:
    return person.role == Role.CLIENT or (person.organisation is not None and not person.organisation.is_ours)
