"""Checking in what comes back: by the thing or by the case, with condition, fault and photo; closing by decision."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from inventory import ledger
from inventory.answers.places import rooms_around
from inventory.answers.whereabouts import whereabouts_of
from inventory.enumerating import some_of
from inventory.ledger import Fact, Witness
from inventory.models import Entry, Item, Person, Photo, Place, PlaceKind, Verb
from shipping.models import Return, ReturnException, Show
from shipping.outcomes import DAMAGE, UNSEEN, Line
from shipping.planning.cases import seals_of
from shipping.reconcile import Reconciliation, still_out

CONDITIONS = ("good", "worn", "dirty", *DAMAGE)


class ReturnRefusal(ValueError):
    """What was asked for would say more than anybody knows. Carries a sentence to show."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What somebody found of one thing on its return."""

    condition: str = ""
    note: str = ""
    quantity: int | None = None
    photo: Photo | None = None
    place: Place | None = None
    faulty: bool = False


@transaction.atomic
def open_return(show: Show, *, by: Witness, at: datetime) -> Return:
    """The return of a show: opened by whatever of it is handled first, kept open for days, closed by a decision."""
    fields = {"opened_at": at, "opened_by": by.name}
    return Return.objects.select_for_update().get_or_create(show=show, defaults=fields)[0]


@transaction.atomic
def check_in(show: Show, item: Item, seen: Seen, *, in_store: bool, by: Witness, at: datetime) -> list[Entry]:
    """One thing is here: seen where the book has it, or received at the place given; a fault in the same act.

    `in_store` says that the book already has it in a store; if not, a place is needed, for a scan in a venue
    brings nothing back.
    """
    _refuse_closed(show)
    if seen.place is None and not in_store:
        raise ReturnRefusal(f"By the book {item} is not in a store. Say where you have it now.")
    if item.type.is_lot and seen.quantity is None:
        raise ReturnRefusal(f"{item} is counted: write how many came back, of {item.quantity}.")
    open_return(show, by=by, at=at)
    return ledger.record(list(_facts(show, item, seen)), by=by, at=at)


def _facts(show: Show, item: Item, seen: Seen) -> Iterable[Fact]:
    more = {"condition": seen.condition, "note": seen.note, "photo": seen.photo, "reference": show.code}
    verb = Verb.RECEIVED if seen.place is not None else Verb.SEEN
    yield Fact(verb, item, place=seen.place, **more)
    if item.type.is_lot:
        yield Fact(Verb.COUNTED, item, quantity=seen.quantity, reference=show.code)
    if seen.faulty or seen.condition in DAMAGE:
        yield Fact(Verb.FAULTED, item, **more)


@transaction.atomic
def check_in_case(show: Show, case: Item, lines: Sequence[Line], *, by: Witness, at: datetime) -> list[Entry]:
    """Somebody opened a case, looked at each of these things, and every one is in it."""
    _refuse_closed(show)
    items = list(Item.objects.filter(pk__in=[line.item.id for line in lines]).select_related("type"))
    lots = [item for item in items if item.type.is_lot]
    if not items:
        raise ReturnRefusal(f"Everything that left in {case} is checked in already, or is not in it.")
    open_return(show, by=by, at=at)
    facts = [Fact(Verb.SEEN, item, place=case.inside, reference=show.code) for item in items]
    facts += [Fact(Verb.COUNTED, item, quantity=item.quantity, reference=show.code) for item in lots]
    return ledger.record(facts, by=by, at=at)


@transaction.atomic
def look_at_seal(show: Show, case: Item, number: str, *, place: Place | None, by: Witness, at: datetime) -> str:
    """Keep the number found on a case and say whether it is the one expected. The seal itself is left alone."""
    _refuse_closed(show)
    expected = seals_of([case.pk], at).get(case.pk, "")
    open_return(show, by=by, at=at)
    verb = Verb.RECEIVED if place is not None else Verb.SEEN
    ledger.record([Fact(verb, case, place=place, seal=number.strip(), reference=show.code)], by=by, at=at)
    if not expected:
        return f"{case} had no seal in the book; {number} is kept as found. Look at everything in it."
    if expected == number.strip():
        return f"{case}: seal {expected} as expected. What is in it came back sealed."
    return f"{case}: seal {expected} expected, {number} found. Somebody opened it: look at everything in it."


@transaction.atomic
def mark(show: Show, item: Item, what: str, *, mark: Marking, by: Witness, at: datetime) -> Entry:
    """Say what became of a thing that is not here: missed, left in place under a promise, or with the client."""
    _refuse_closed(show)
    open_return(show, by=by, at=at)
    if what == "missed":
        fact = Fact(Verb.MISSED, item, note=mark.note, reference=show.code)
    elif what == "left":
        fact = _left(show, item, mark)
    elif what == "client":
        fact = _with_client(show, item, mark)
    else:
        raise ReturnRefusal("Say whether it is missed, left in place, or with the client.")
    return ledger.record([fact], by=by, at=at)[0]


@dataclass(frozen=True, slots=True)
class Marking:
    """Where a thing is said to be, who answers for it, until when."""

    place: Place | None = None
    person: Person | None = None
    due_at: datetime | None = None
    note: str = ""


def _left(show: Show, item: Item, mark: Marking) -> Fact:
    if mark.place is None or mark.person is None:
        raise ReturnRefusal(f"Say where {item} was left and who promised it, or nobody can ask for it.")
    return Fact(
        Verb.LEFT, item, place=mark.place, person=mark.person, due_at=mark.due_at, note=mark.note, reference=show.code
    )


def _with_client(show: Show, item: Item, mark: Marking) -> Fact:
    if mark.person is None:
        raise ReturnRefusal(f"Say in whose hands {item} is.")
    hands = Place.objects.get_or_create(
        person=mark.person, defaults={"name": mark.person.name, "kind": PlaceKind.PERSON}
    )[0]
    return Fact(
        Verb.HANDED_OVER, item, place=hands, person=mark.person, due_at=mark.due_at, note=mark.note,
        reference=show.code,
    )  # fmt: skip


@transaction.atomic
def close(show: Show, *, words: str, why: Mapping[int, str], by: Witness, at: datetime) -> Return:
    """Close the return by decision: each thing still owed is named with why that is all right."""
    coming_back = open_return(show, by=by, at=at)
    if coming_back.closed_at:
        raise ReturnRefusal(f"The return of {show} was closed by {coming_back.closed_by} already.")
    owed = still_out(show.code, at)
    unnamed = [line for line in owed if not why.get(line.item.id, "").strip()]
    if unnamed:
        names = some_of(line.item.words for line in unnamed)
        raise ReturnRefusal(f"Still owed without a word: {names}. Say of each why the return may close.")
    ReturnException.objects.bulk_create(_exception(coming_back, line, why[line.item.id], by, at) for line in owed)
    coming_back.closed_at, coming_back.closed_by, coming_back.closing_words = at, by.name, words.strip()
    coming_back.save(update_fields=["closed_at", "closed_by", "closing_words"])
    return coming_back


def _exception(coming_back: Return, line: Line, why: str, by: Witness, at: datetime) -> ReturnException:
    return ReturnException(
        coming_back=coming_back, item_id=line.item.id, outcome=str(line.outcome), why=why.strip()[:250],
        named_by=by.name, named_at=at,
    )  # fmt: skip


def _refuse_closed(show: Show) -> None:
    closed = Return.objects.filter(show=show, closed_at__isnull=False).first()
    if closed is not None:
        raise ReturnRefusal(
            f"The return of {show} was closed by {closed.closed_by} on {closed.closed_at:%-d %B}. Record what turns up "
            "now on the thing's own page."
        )


def to_look_at(told: Reconciliation, case: Item) -> list[Line]:
    """What left in a case and could still be in it: not yet seen, and not known to be anywhere else."""
    return [
        line for line in told.lines
        if line.left_in is not None and line.left_in.id == case.pk and line.outcome in UNSEEN
    ]  # fmt: skip


def is_in_store(item: Item, at: datetime) -> bool:
    """By the book, as far as it knows: inside a store of ours."""
    where = whereabouts_of([item.pk], at)[item.pk]
    rooms = rooms_around([where])
    last = where.fixed_place
    return last is not None and rooms[last.id].is_store
