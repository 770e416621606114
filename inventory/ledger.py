"""The only writer of Entry and Holding."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from operator import attrgetter
from typing import Any
from uuid import UUID

import uuid_utils
from django.contrib.auth.models import User
from django.db import IntegrityError, transaction
from django.db.models import Model

from inventory import settling
from inventory.models import (
    DayPass,
    Device,
    DriveSet,
    Entry,
    Grade,
    Item,
    Label,
    Person,
    Photo,
    Place,
    Role,
    Verb,
    slim,
)


class LedgerRefusal(ValueError):
    """What was asked for cannot be a fact. Carries a sentence to show."""


@dataclass(frozen=True, slots=True)
class Witness:
    """Who says so: the name and role are kept on the entry for ever."""

    name: str
    role: str = Role.KIT_MANAGER
    user: User | None = None
    day_pass: DayPass | None = None
    device: Device | None = None


@dataclass(frozen=True, slots=True)
class Fact:
    """One observation about to be recorded. `thing` is an Item, a Label, or None where the verb allows it."""

    verb: str
    thing: Item | Label | None = None
    place: Place | None = None
    bay: str = ""
    drive_set: DriveSet | None = None
    person: Person | None = None
    quantity: int | None = None
    mass_g: int | None = None
    seal: str = ""
    serial: str = ""
    condition: str = ""
    note: str = ""
    photo: Photo | None = None
    grade: str = Grade.TICK
    rule: str = ""
    value: str = ""
    field: str = ""
    before: str = ""
    after: str = ""
    due_at: datetime | None = None
    purpose: str = ""
    happened_at: datetime | None = None
    stated: bool = False
    reference: str = ""
    corrects: UUID | None = None
    id: UUID | None = None


TRIES = 5  # deliveries of one id that may cross
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_newest: OrderedDict[int, UUID] = OrderedDict()  # the largest id of each recent millisecond
_id_lock = threading.Lock()


def new_id(at: datetime) -> UUID:
    """A UUIDv7 (RFC 9562) whose time is `at`; within one millisecond each is larger than the one before."""
    made = UUID(int=uuid_utils.uuid7(nanoseconds=(at - EPOCH) // timedelta(microseconds=1) * 1000).int)
    millisecond = made.int >> 80
    with _id_lock:
        before = _newest.get(millisecond)
        if before is not None and made <= before:
            made = UUID(int=before.int + 1)
        _newest[millisecond] = made
        _newest.move_to_end(millisecond)
        if len(_newest) > 1000:
            _newest.popitem(last=False)
    return made


def label_of(thing: Item | Label | None) -> Label | None:
    """The code that stands for a thing: its newest one in use."""
    return _labels_of([thing])[0]


def _labels_of(things: Sequence[Item | Label | None]) -> list[Label | None]:
    """The codes of many things, in one query."""
    items = {thing.pk for thing in things if isinstance(thing, Item)}
    newest: dict[int | None, Label] = {}
    for label in Label.objects.filter(item__in=items).order_by("pk") if items else ():
        if label.retired_at is None or label.item_id not in newest or newest[label.item_id].retired_at is not None:
            newest[label.item_id] = label
    for thing in things:
        if isinstance(thing, Item) and thing.pk not in newest:
            raise LedgerRefusal(f"{thing} has no code yet. Give it one, then record this.")
    return [newest[thing.pk] if isinstance(thing, Item) else thing for thing in things]


# What an entry keeps of a fact as it was said, and what else it is linked to.
PLAIN = (
    "verb", "bay", "quantity", "mass_g", "seal", "serial", "condition", "note", "grade", "rule", "value", "field",
    "before", "after", "due_at", "purpose", "stated", "reference",
)  # fmt: skip
LINKED = ("place", "drive_set", "person", "photo")
_plain, _linked = attrgetter(*PLAIN), attrgetter(*LINKED)


def _entry(fact: Fact, label: Label | None, by: Witness, act: UUID, at: datetime) -> Entry:
    happened = min(fact.happened_at or at, at)
    linked: dict[str, Model | None] = dict(zip(LINKED, _linked(fact), strict=True))
    linked |= {"label": label, "user": by.user, "day_pass": by.day_pass, "device": by.device}
    columns = dict(zip(PLAIN, _plain(fact), strict=True)) | {
        "id": fact.id or new_id(happened), "act": act, "happened_at": happened, "received_at": at, "by": by.name,
        "role": by.role, "corrects": _act(fact.corrects),
    }  # fmt: skip
    columns |= {f"{name}_id": _key(row) for name, row in linked.items()}
    return slim.new(Entry, columns, **linked)


def _act(corrects: UUID | str | None) -> UUID | None:
    """As the ledger writes it: an id in letters would be written as it stands, and name no act."""
    return UUID(corrects) if isinstance(corrects, str) else corrects


def _key(row: Model | None) -> Any:
    if row is not None and row.pk is None:
        raise ValueError(f"{row!r} is not in the book yet, so no entry can name it")
    return row.pk if row is not None else None


@transaction.atomic
def record(facts: Sequence[Fact], *, by: Witness, at: datetime, act: UUID | None = None) -> list[Entry]:
    """Append one act's facts and settle what they touch. `at` is the server's now; nothing happens later than it."""
    act = act or new_id(at)
    labels = _labels_of([fact.thing for fact in facts])
    entries = [_entry(fact, label, by, act, at) for fact, label in zip(facts, labels, strict=True)]
    Entry.objects.append(entries)
    _settle_after(entries)
    return entries


def append(entries: Sequence[Entry], received_at: datetime) -> set[UUID]:
    """Add what phones made, in one transaction, and say which ids were new; known ids are left as they stand.

    Nothing happens later than it is received: happened_at becomes min(its stamp, received_at), once and for ever.
    """
    wanted = {entry.id: entry for entry in reversed(entries)}  # of two with one id, the first stands
    known: set[UUID] = set()  # most uploads hold nothing known; the database says so where one does
    for _ in range(TRIES - 1):
        try:
            with transaction.atomic():
                return append_new([wanted[pk] for pk in sorted(wanted.keys() - known)], received_at)
        except IntegrityError:  # an id was here before, or another delivery of it was committed in between: look
            known = set(Entry.objects.filter(pk__in=wanted).values_list("pk", flat=True))
            if not known:
                raise
    return append_new([wanted[pk] for pk in sorted(wanted.keys() - known)], received_at)


@transaction.atomic(savepoint=False)
def append_new(entries: Sequence[Entry], received_at: datetime) -> set[UUID]:
    """Add what phones made, none of it known: IntegrityError, and nothing added, where one is."""
    for entry in entries:
        entry.received_at = received_at
        entry.happened_at = min(entry.happened_at, received_at)
    Entry.objects.append(entries)
    _settle_after(entries)
    return {entry.id for entry in entries}


@transaction.atomic
def adopt(label: Label, item: Item, *, at: datetime) -> Label:
    """Bind a blank or unknown code to an item: what was recorded of the code counts for the item from then on."""
    label = Label.objects.select_for_update().get(pk=label.pk)
    if label.item_id not in {None, item.pk}:
        raise LedgerRefusal(f"{label.code} is on {label.item} already, for ever. Put another label on {item}.")
    if label.item_id is None:
        label.item, label.bound_at = item, at
        label.save(update_fields=["item", "bound_at"])
        settle([item.pk])
    return label


def correct(act: UUID, *, reason: str, by: Witness, at: datetime) -> Entry:
    """Take one act back, for ever. Who may: the device that made it, or a kit manager."""
    return record([Fact(Verb.CORRECTED, corrects=act, note=reason)], by=by, at=at)[0]


@transaction.atomic
def amend(item: Item, reason: str, *, by: Witness, at: datetime, **changes: Any) -> list[Entry]:
    """Change a thing's row and write the entry of it, one per field, in one transaction."""
    item = Item.objects.select_for_update().get(pk=item.pk)
    facts = []
    for name, value in changes.items():
        before = getattr(item, name)
        if before == value:
            continue
        facts.append(Fact(Verb.AMENDED, item, field=name, before=_words(before), after=_words(value), note=reason))
        setattr(item, name, value)
    if not facts:
        return []
    item.save(update_fields=list(changes))
    return record(facts, by=by, at=at)


def _words(value: object) -> str:
    return "" if value is None else str(value)[:250]


_waiting: ContextVar[list[Entry] | None] = ContextVar("waiting", default=None)


@contextmanager
def settled_once() -> Iterator[None]:
    """Record a long story of many acts in one transaction and settle what they touch once, at its end.

    Holding is behind the entries until then: whoever reads it in between settles each act as it comes instead.
    """
    with transaction.atomic():
        entries: list[Entry] = []
        token = _waiting.set(entries)
        try:
            yield
        finally:
            _waiting.reset(token)
        _settle_after(entries)


def _settle_after(entries: Sequence[Entry]) -> None:
    waiting = _waiting.get()
    if waiting is not None:
        waiting.extend(entries)
        return
    entries = [entry for entry in entries if entry.place_id or entry.corrects]  # nothing else moves a thing
    if not entries:
        return
    # A code that is being adopted this moment: wait for that, or let it wait for us, so that one of us settles it.
    codes = {entry.label_id for entry in entries if entry.label_id and not _bound(entry)}
    if codes:
        list(Label.objects.select_for_update(no_key=True).filter(pk__in=codes, item=None).order_by("pk"))
    moved = {entry.id: item for entry in entries if entry.place_id and not entry.corrects and (item := _bound(entry))}
    settling.settle(touched_by([entry for entry in entries if entry.id not in moved]), moved)


def _bound(entry: Entry) -> int | None:
    """The item this entry's code was on when it was read: a code stays with its item for ever."""
    label = entry.label if Entry.label.is_cached(entry) else None
    return label.item_id if label else None


def touched_by(entries: Iterable[Entry]) -> set[int]:
    """The ids of the items whose place may follow from these entries, corrected acts included."""
    items = {item for item in map(_bound, entries) if item}
    labels = {entry.label_id for entry in entries if entry.label_id and not _bound(entry)}
    acts = {entry.corrects for entry in entries if entry.corrects}
    if acts:
        labels |= set(Entry.objects.filter(act__in=acts, label__isnull=False).values_list("label_id", flat=True))
    if labels:
        items.update(Label.objects.filter(pk__in=labels, item__isnull=False).values_list("item_id", flat=True))
    return items


def settle(item_ids: Iterable[int]) -> None:
    """Bring the Holding rows of these items up to date from the live entries."""
    settling.settle(sorted(set(item_ids)))


def rebuild() -> None:
    """Compute every Holding row anew from the live entries."""
    settling.rebuild()
