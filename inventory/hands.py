"""Drives change hands: handed over and received, for what, until when, in which condition, and signed for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from inventory import ledger
from inventory.deciding import Refused, must_be_drives, said
from inventory.folding import fold
from inventory.handling import hands_of
from inventory.ledger import Fact, Witness
from inventory.models import Entry, Item, ItemType, Kind, Organisation, Person, Photo, Place, PlaceKind, Verb
from inventory.models.places import Purpose
from inventory.registering import register

RECEIPT = "receipt"  # Entry.rule of a signature for a hand-over; its note is the text that was signed
NOBODYS = "owner not known"


@dataclass(frozen=True, slots=True)
class Handing:
    """What is said when drives change hands; `photo` shows them as they were then.

    `drawn` is the picture of a signature, `signed_by` its name in letters.
    """

    purpose: str = ""
    due_at: datetime | None = None
    condition: str = ""
    seal: str = ""
    note: str = ""
    reference: str = ""
    signed_by: str = ""
    drawn: Photo | None = None
    photo: Photo | None = None

    @property
    def fields(self) -> dict[str, object]:
        names = ("purpose", "due_at", "condition", "seal", "note", "reference", "photo")
        return {name: getattr(self, name) for name in names}


PLAIN = Handing()


def hand_over(
    drives: Sequence[Item], person: Person, how: Handing = PLAIN, *, by: Witness, at: datetime,
    giver: Person | None = None,
) -> list[Entry]:  # fmt: skip
    """Drives go into a person's hands; `giver` is whose hands they came from, if not those of who says so."""
    must_be_drives(drives)
    name = giver.name if giver else ""
    facts = [
        Fact(Verb.HANDED_OVER, one, place=hands_of(person), person=person, value=name, **how.fields) for one in drives
    ]
    text = receipt_text(f"Handed over to {_full(person)}", drives, how)
    return ledger.record([*facts, *_signature(person, text, how)], by=by, at=at)


def receive(
    drives: Sequence[Item], place: Place, giver: Person | None, how: Handing = PLAIN, *, by: Witness, at: datetime
) -> list[Entry]:
    """Drives come back into a place of ours, from a named person."""
    must_be_drives(drives)
    if place.kind == PlaceKind.PERSON:
        raise Refused("Receive them into a place. To give them to a person, hand them over.")
    facts = [Fact(Verb.RECEIVED, drive, place=place, person=giver, **how.fields) for drive in drives]
    text = receipt_text(f"Received from {_full(giver) if giver else 'nobody named'} at {place}", drives, how)
    return ledger.record([*facts, *_signature(giver, text, how)], by=by, at=at)


def receipt_text(lead: str, drives: Sequence[Item], how: Handing) -> str:
    """What a signature stands under, word for word."""
    lines = [f"{lead}: {len(drives)} drive{'s' if len(drives) > 1 else ''}."]
    lines += [f"- {drive.type}, serial {drive.serial or 'not read'}" for drive in drives]
    if how.purpose:
        lines.append(f"For: {how.purpose}.")
    if how.due_at:
        lines.append(f"Due back: {timezone.localtime(how.due_at):%d %b %Y %H:%M}.")
    if how.condition:
        lines.append(f"Condition: {how.condition}.")
    if how.seal:
        lines.append(f"Seal: {how.seal}.")
    return "\n".join([*lines, *([how.note] if how.note else [])])


def _full(person: Person) -> str:
    return f"{person} ({person.organisation})" if person.organisation else str(person)


def _signature(person: Person | None, text: str, how: Handing) -> list[Fact]:
    """A name in letters is enough; a drawing without a name is not."""
    if how.drawn is not None and not how.signed_by:
        raise Refused("Write the name beside the signature too: a drawing alone cannot be read later.")
    if not how.signed_by:
        return []
    return [Fact(Verb.SIGNED, None, person=person, rule=RECEIPT, value=how.signed_by, note=text, photo=how.drawn)]


@transaction.atomic
def take_foreign(serial: str, giver: Person | None, why: str, *, by: Witness, at: datetime) -> Item:
    """A drive came that was not due: it goes to quarantine, is called foreign, and nobody mounts it.

    An unknown serial becomes a thing of the giver's organisation, so that it has a tag and can be given back.
    """
    serial, why = said(serial, "the serial that is on it"), said(why, "how it came")
    shelf = Place.objects.filter(purpose=Purpose.QUARANTINE).order_by("pk").first()
    if shelf is None:
        raise Refused("There is no quarantine shelf in the book. Add one under Places first, then receive this drive.")
    drive = Item.objects.filter(type__kind=Kind.DRIVE, serial_key=fold(serial)).first()
    if drive is None:
        owner = giver.organisation if giver and giver.organisation else _nobody()
        drive = register(_unknown_drive(), at=at, serial=serial, owner=owner)
    facts = [Fact(Verb.QUARANTINED, drive, place=shelf, person=giver, note=why), Fact(Verb.FOREIGN, drive, note=why)]
    ledger.record(facts, by=by, at=at)
    return drive


def _unknown_drive() -> ItemType:
    """The kind of a drive of which nothing but its serial is known."""
    key = ItemType.make_key("unknown", "drive")
    return ItemType.objects.get_or_create(key=key, defaults={"maker": "unknown", "name": "drive", "kind": Kind.DRIVE})[
        0
    ]


def _nobody() -> Organisation:
    return Organisation.objects.get_or_create(name=NOBODYS)[0]
