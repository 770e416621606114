"""What changed hands in one act, in which condition, for what and until when, with the signature that was drawn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from inventory.answers.custody_lines import HANDINGS
from inventory.answers.loading import live
from inventory.answers.whereabouts import whereabouts_of
from inventory.hands import RECEIPT
from inventory.models import Entry, Kind, Person, PlaceKind, Verb
from inventory.papers import Draft, Form, moment
from shipping.documents.around import Around
from shipping.documents.subjects import Handing

FORM = Form("receipt", "hand-over receipt", "hand-over", ("a4", "letter", "100x150"), values=True)


@dataclass(frozen=True, slots=True)
class Handed:
    key: str
    words: str
    serial: str
    code: str
    quantity: int


@dataclass(frozen=True, slots=True)
class Receipt:
    giver: str
    receiver: str
    things: tuple[Handed, ...]
    pieces: int
    cases: int
    lists: tuple[str, ...]
    when: str
    place: str
    purpose: str
    due: str
    condition: str
    seal: str
    note: str
    reference: str
    signed_by: str
    signature: str
    photo: str
    text: tuple[str, ...]


def _full(person: Person | None) -> str:
    if person is None:
        return ""
    parts = [person.name, str(person.organisation or ""), person.phone]
    return ", ".join(part for part in parts if part)


def _full_name(name: str) -> str:
    """A name as it was entered, with firm and telephone where the book knows exactly one person of that name."""
    people = list(Person.objects.filter(name=name).select_related("organisation")[:2])
    return _full(people[0]) if len(people) == 1 else name


def _sides(entry: Entry) -> tuple[str, str]:
    """Who gave and who took: a hand-over names the receiver, a receipt at a place of ours the giver."""
    if entry.verb == Verb.HANDED_OVER:
        return _full_name(entry.value or entry.by), _full(entry.person)
    return _full(entry.person) or _full_name(entry.value) or "nobody named", _full_name(entry.by)


def _place(entry: Entry, at: datetime) -> str:
    """Where it was: the place of ours it came to, else the fixed place it was in until then."""
    if entry.place is not None and entry.place.person_id is None:
        return str(entry.place)
    drive = entry.label.item
    before = whereabouts_of([drive.pk], entry.happened_at - timedelta(microseconds=1), known_at=at)[drive.pk]
    place = before.fixed_place
    return place.name if place is not None and place.kind not in (PlaceKind.PERSON, PlaceKind.GONE) else ""


def _lists(entries: Sequence[Entry]) -> tuple[str, ...]:
    """The lists that say what these things are: the custody sheet of each drive's set, the case list of each case."""
    sets = {entry.label.item.home_set.name for entry in entries if entry.label.item.home_set}
    cases = {entry.label.item.number for entry in entries if _is_case(entry) and entry.label.item.number}
    lists = [f"custody sheet of {name}" for name in sorted(sets)]
    return tuple(lists + [f"case list of {number}" for number in sorted(cases)])


def _is_case(entry: Entry) -> bool:
    return entry.label.item.type.kind == Kind.CASE


def _thing(entry: Entry) -> Handed:
    item = entry.label.item
    words = ", ".join(dict.fromkeys(filter(None, [item.number or item.name, str(item.type)])))
    return Handed(str(item.id), words, item.serial or "", item.code, item.quantity)


def build(handing: Handing, medium: str, around: Around) -> Draft:
    rows = live().filter(act=handing.act, verb__in=HANDINGS, label__item__isnull=False)
    rows = rows.select_related("label__item__type", "label__item__home_set", "person__organisation", "place")
    entries = list(rows.order_by("id").prefetch_related("label__item__labels"))
    if not entries:
        body = Receipt("taken back: it did not happen", "", (), 0, 0, (), *[""] * 11, ())
        return Draft(FORM, medium, str(handing.act), "Hand-over receipt, taken back", body)
    first, signed = entries[0], Entry.objects.filter(act=handing.act, verb=Verb.SIGNED, rule=RECEIPT).first()
    giver, receiver = _sides(first)
    things = tuple(_thing(entry) for entry in entries)
    body = Receipt(
        giver=giver, receiver=receiver, things=things, pieces=sum(one.quantity for one in things),
        cases=sum(map(_is_case, entries)), lists=_lists(entries), when=moment(first.happened_at),
        place=_place(first, around.at), photo=first.photo_id or "",
        purpose=first.purpose, due=moment(first.due_at) if first.due_at else "", condition=first.condition,
        seal=first.seal, note=first.note, reference=first.reference, signed_by=signed.value if signed else "",
        signature=(signed.photo_id or "") if signed else "",
        text=tuple(signed.note.splitlines()) if signed else (),
    )  # fmt: skip
    return Draft(FORM, medium, str(handing.act), "Hand-over receipt", body, first.reference)
