"""What changed hands in one act, in which condition, for what and until when, with the signature that was drawn."""

from __future__ import annotations

from dataclasses import dataclass

from inventory.answers.custody_lines import HANDINGS
from inventory.answers.loading import live
from inventory.hands import RECEIPT
from inventory.models import Entry, Person, Verb
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
    text: tuple[str, ...]


def _full(person: Person | None) -> str:
    if person is None:
        return ""
    parts = [person.name, str(person.organisation or ""), person.phone]
    return ", ".join(part for part in parts if part)


def _sides(entry: Entry) -> tuple[str, str]:
    """Who gave and who took: a hand-over names the receiver, a receipt at a place of ours the giver."""
    if entry.verb == Verb.HANDED_OVER:
        return entry.value or entry.by, _full(entry.person)
    return _full(entry.person) or entry.value or "nobody named", f"{entry.by}, at {entry.place}"


def _thing(entry: Entry) -> Handed:
    item = entry.label.item
    words = item.number or item.name or str(item.type)
    return Handed(str(item.id), words, item.serial or "", item.code, item.quantity)


def build(handing: Handing, medium: str, around: Around) -> Draft:
    rows = live().filter(act=handing.act, verb__in=HANDINGS, label__item__isnull=False)
    rows = rows.select_related("label__item__type", "person__organisation", "place").order_by("id")
    entries = list(rows.prefetch_related("label__item__labels"))
    if not entries:
        body = Receipt("taken back: it did not happen", "", (), 0, "", "", "", "", "", "", "", "", "", "", ())
        return Draft(FORM, medium, str(handing.act), "Hand-over receipt, taken back", body)
    first, signed = entries[0], Entry.objects.filter(act=handing.act, verb=Verb.SIGNED, rule=RECEIPT).first()
    giver, receiver = _sides(first)
    things = tuple(_thing(entry) for entry in entries)
    body = Receipt(
        giver=giver, receiver=receiver, things=things, pieces=sum(one.quantity for one in things),
        when=moment(first.happened_at), place="" if first.place is None or first.place.person_id else str(first.place),
        purpose=first.purpose, due=moment(first.due_at) if first.due_at else "", condition=first.condition,
        seal=first.seal, note=first.note, reference=first.reference, signed_by=signed.value if signed else "",
        signature=(signed.photo_id or "") if signed else "",
        text=tuple(signed.note.splitlines()) if signed else (),
    )  # fmt: skip
    return Draft(FORM, medium, str(handing.act), "Hand-over receipt", body, first.reference)
