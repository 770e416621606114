"""What people do to things by hand: put, receive, hand over, report, mend, count, swap. The ledger writes it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db import transaction

from inventory import ledger
from inventory.ledger import Fact, LedgerRefusal, Witness
from inventory.models import Entry, Grade, Item, Kind, Person, Photo, Place, PlaceKind, SystemPart, Verb
from inventory.models.places import Purpose


class HandlingRefusal(LedgerRefusal):
    """This cannot be done to this thing. Carries a sentence to show."""


@dataclass(frozen=True, slots=True)
class Remarks:
    """What goes with any act: condition, words, a photo, the show it is for, and when it was if not now."""

    note: str = ""
    condition: str = ""
    photo: Photo | None = None
    reference: str = ""
    happened_at: datetime | None = None
    grade: str = Grade.TICK

    @property
    def fields(self) -> dict[str, Any]:
        return {
            "note": self.note,
            "condition": self.condition,
            "photo": self.photo,
            "reference": self.reference,
            "happened_at": self.happened_at,
            "stated": self.happened_at is not None,
            "grade": self.grade,
        }


PLAIN = Remarks()


def verb_into(place: Place) -> str:
    """How people say that a thing goes here: fitted in a frame, loaded on a vehicle, packed in a case, else placed."""
    if place.kind != PlaceKind.INSIDE or place.item is None:
        return Verb.PLACED
    verbs: dict[str, str] = {Kind.FRAME: Verb.FITTED, Kind.VEHICLE: Verb.LOADED}
    return verbs.get(place.item.type.kind, Verb.PACKED)


def put(
    items: Sequence[Item], place: Place, *, by: Witness, at: datetime, bay: str = "", remarks: Remarks = PLAIN
) -> list[Entry]:
    """Record that these things are in this place now; a bay is for one thing at a time."""
    if bay and len(items) > 1:
        raise HandlingRefusal("A bay is for one thing. Put them in one by one.")
    for item in items:
        _can_go(item, place)
    facts = [Fact(verb_into(place), item, place=place, bay=bay, **remarks.fields) for item in items]
    return ledger.record(facts, by=by, at=at)


def check_in(
    items: Sequence[Item], place: Place, *, by: Witness, at: datetime, remarks: Remarks = PLAIN
) -> list[Entry]:
    """Take things back into a place of ours, each looked at: the verb is received."""
    if place.kind not in {PlaceKind.STORE, PlaceKind.SHELF, PlaceKind.ROOM}:
        raise HandlingRefusal(f"{place} is no place to check in at. Choose a store, a shelf or a room.")
    return ledger.record(
        [Fact(Verb.RECEIVED, item, place=place, **remarks.fields) for item in items], by=by, at=at
    )  # fmt: skip


def hand_over(
    items: Sequence[Item],
    person: Person,
    *,
    by: Witness,
    at: datetime,
    due_at: datetime | None = None,
    remarks: Remarks = PLAIN,
) -> list[Entry]:
    """Check things out into a person's hands, due back at `due_at` if one was agreed."""
    place = hands_of(person)
    facts = [
        Fact(Verb.HANDED_OVER, item, place=place, person=person, due_at=due_at, **remarks.fields) for item in items
    ]
    return ledger.record(facts, by=by, at=at)


def hands_of(person: Person) -> Place:
    """The place that is a person's hands; made the first time it is asked for."""
    return Place.objects.get_or_create(person=person, defaults={"name": person.name, "kind": PlaceKind.PERSON})[0]


def gone() -> Place:
    """Where consumed and written-off things go."""
    return Place.objects.get_or_create(kind=PlaceKind.GONE, defaults={"name": "gone"})[0]


def _can_go(item: Item, place: Place) -> None:
    if place.kind != PlaceKind.INSIDE or place.item is None:
        return
    if place.item_id == item.pk:
        raise HandlingRefusal(f"{item} cannot be inside itself. Choose another place.")
    if item.type.kind == Kind.VEHICLE and place.item.type.kind != Kind.VEHICLE:
        raise HandlingRefusal(f"{item} is a vehicle: it can stand on another vehicle or at a place, not in {place}.")


def report_fault(
    item: Item, what: str, *, by: Witness, at: datetime, photo: Photo | None = None, shelf: Place | None = None
) -> list[Entry]:
    """Open a fault; with `shelf`, the thing goes to that quarantine shelf in the same act."""
    facts = [Fact(Verb.FAULTED, item, note=_said(what, "what is wrong with it"), photo=photo)]
    if shelf is not None:
        facts.append(_quarantined(item, shelf, what))
    return ledger.record(facts, by=by, at=at)


def quarantine(item: Item, shelf: Place, why: str, *, by: Witness, at: datetime) -> list[Entry]:
    return ledger.record([_quarantined(item, shelf, _said(why, "why it goes there"))], by=by, at=at)


def _quarantined(item: Item, shelf: Place, why: str) -> Fact:
    if shelf.purpose != Purpose.QUARANTINE:
        raise HandlingRefusal(f"{shelf} is no quarantine shelf. Choose one that is.")
    return Fact(Verb.QUARANTINED, item, place=shelf, note=why)


def mend(item: Item, what: str, *, by: Witness, at: datetime, photo: Photo | None = None) -> list[Entry]:
    """Close the open faults of a thing, in words that say what was done and how it was tested."""
    return ledger.record(
        [Fact(Verb.MENDED, item, note=_said(what, "what was done and how it was tested"), photo=photo)], by=by, at=at
    )


@transaction.atomic
def inspect(
    item: Item, *, passed: bool, by: Witness, at: datetime, next_due: date | None = None, remarks: Remarks = PLAIN
) -> list[Entry]:
    """Record an inspection by a competent person; failed opens a fault, passed moves the next date."""
    facts = [Fact(Verb.INSPECTED, item, value="passed" if passed else "failed", **remarks.fields)]
    if not passed:
        facts.append(Fact(Verb.FAULTED, item, note=f"Failed its inspection. {remarks.note}".strip()))
    entries = ledger.record(facts, by=by, at=at)
    if passed and next_due is not None:
        entries += ledger.amend(item, "inspected", by=by, at=at, inspection_due=next_due)
    return entries


def miss(item: Item, *, by: Witness, at: datetime, note: str = "") -> list[Entry]:
    """Say that a thing was looked for and not found. It moves nothing."""
    return ledger.record([Fact(Verb.MISSED, item, note=note)], by=by, at=at)


def find(item: Item, place: Place, *, by: Witness, at: datetime, remarks: Remarks = PLAIN) -> list[Entry]:
    _can_go(item, place)
    return ledger.record([Fact(Verb.FOUND, item, place=place, **remarks.fields)], by=by, at=at)


@transaction.atomic
def write_off(item: Item, reason: str, *, by: Witness, at: datetime, consumed: bool = False) -> list[Entry]:
    """Take a thing out of stock for good. Its history, its codes and what it held stay in the book."""
    verb = Verb.CONSUMED if consumed else Verb.WRITTEN_OFF
    said = _said(reason, "why it leaves the stock")
    entries = ledger.record([Fact(verb, item, place=gone(), note=said)], by=by, at=at)
    return entries + ledger.amend(item, said, by=by, at=at, retired_at=at)


def count(item: Item, quantity: int, *, by: Witness, at: datetime, note: str = "") -> list[Entry]:
    """Say how many pieces of a lot there are. Counts are absolute."""
    if not item.is_lot:
        raise HandlingRefusal(f"{item} is one thing, told apart by its code: there is nothing to count.")
    return ledger.record([Fact(Verb.COUNTED, item, quantity=quantity, note=note)], by=by, at=at)


@transaction.atomic
def swap_homes(one: Item, other: Item, reason: str, *, by: Witness, at: datetime) -> list[Entry]:
    """Two alike things change homes: system, set and case, each with the reason."""
    if one.pk == other.pk or one.type_id != other.type_id:
        raise HandlingRefusal(f"{one} and {other} are not two of a kind. Only alike things swap homes.")
    said = _said(reason, "why they swap")
    homes = ("home_system", "home_set", "home_case")
    ones, others = ({name: getattr(item, name) for name in homes} for item in (one, other))
    _swap_parts(one, other)
    entries = ledger.amend(one, f"swapped with {other}: {said}"[:500], by=by, at=at, **others)
    return entries + ledger.amend(other, f"swapped with {one}: {said}"[:500], by=by, at=at, **ones)


def _swap_parts(one: Item, other: Item) -> None:
    """Lines of systems that name one of the two by itself name the other from now on."""
    lines = list(SystemPart.objects.select_for_update().filter(item__in=(one, other)))
    for line in lines:
        line.item = other if line.item_id == one.pk else one
        line.save(update_fields=["item"])


@transaction.atomic
def replace(old: Item, new: Item, reason: str, *, by: Witness, at: datetime) -> list[Entry]:
    """Another thing takes over the role of this one: its homes and its lines in systems."""
    if old.pk == new.pk:
        raise HandlingRefusal("A thing cannot replace itself. Choose the other one.")
    said = _said(reason, "why it is replaced")
    SystemPart.objects.filter(item=old).update(item=new)
    homes = {name: getattr(old, name) for name in ("home_system", "home_set", "home_case")}
    entries = ledger.amend(new, f"replaces {old}: {said}"[:500], by=by, at=at, **homes)
    empty = {"home_system": None, "home_set": None, "home_case": None, "replaced_by": new}
    return entries + ledger.amend(old, f"replaced by {new}: {said}"[:500], by=by, at=at, **empty)


def _said(words: str, what: str) -> str:
    said = words.strip()
    if not said:
        raise HandlingRefusal(f"Write {what}.")
    return said
