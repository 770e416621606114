"""What was kept aside, and a kit manager's one tap on it."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.db.models import QuerySet

from inventory import ledger
from inventory.codebook import CodeBook, keep_unknown, open_book
from inventory.joblines import place_words
from inventory.ledger import Witness
from inventory.models import Entry, Role, SetAside, Verb
from inventory.scanning import entry_of, why_unresolved
from inventory.uploads import RawScan, Scan, Unreadable, read_scan


class AcceptRefused(ValueError):
    """It cannot become an entry. Carries a sentence to show; the row stays as it is."""


def waiting(reference: str | None = None, most: int | None = None) -> list[SetAside]:
    """What nobody has looked at yet, oldest first; `reference` keeps to phones of one show's passes."""
    rows = _unsettled().select_related("device__day_pass").order_by("received_at", "pk")
    return list((rows if reference is None else rows.filter(device__day_pass__reference=reference))[:most])


def count_waiting() -> int:
    return _unsettled().count()


def _unsettled() -> QuerySet[SetAside]:
    return SetAside.objects.filter(settled_at=None)


@dataclass(frozen=True, slots=True)
class Kept:
    """One upload that is kept aside, and what it says, in words; "" where it cannot be read."""

    row: SetAside
    words: str


def in_words(rows: Iterable[SetAside]) -> list[Kept]:
    """What each of these would record. The same few queries for any number of them."""
    read = [(row, _readable(row)) for row in rows]
    book = open_book(scan for _, scan in read if scan is not None)
    return [Kept(row, _words(scan, book) if scan is not None else "") for row, scan in read]


def _readable(row: SetAside) -> Scan | None:
    try:
        return _read_again(row)
    except (AcceptRefused, ValueError):
        return None


def _words(scan: Scan, book: CodeBook) -> str:
    label, place = book.label(scan), book.place(scan)
    thing = str(label.item) if label and label.item else scan.code or "no thing"
    where = f", {place_words(place)}" if place else f", {scan.place}" if scan.place else ""
    more = [f"bay {scan.bay}" if scan.bay else "", f"seal {scan.seal}" if scan.seal else "", scan.note]
    return ", ".join([f"{thing}: {Verb(scan.verb).label}{where}", *(part for part in more if part)])


@transaction.atomic
def accept(aside: SetAside, *, by: Witness, at: datetime) -> Entry:
    """Let a held scan count, at its own moment. An unreadable one is read again: its place may be known by now."""
    if by.role != Role.KIT_MANAGER:
        raise AcceptRefused("Only a kit manager accepts what was held.")
    aside = SetAside.objects.select_for_update().get(pk=aside.pk)
    if aside.settled_at is not None:
        raise AcceptRefused(f"{aside.settled_by} has settled this already.")
    if aside.why == SetAside.Why.ID_REUSED:
        raise AcceptRefused(
            "The first body under this id stands. Note it as seen, and record the fact anew if it is one."
        )
    entry = _entry(aside, at)
    if entry.pk not in ledger.append([entry], at):
        raise AcceptRefused("An entry with this id is in the ledger already.")
    _settle(aside, by, at, accepted=True)
    return entry


def _entry(aside: SetAside, at: datetime) -> Entry:
    scan = _read_again(aside)
    book = open_book([scan])
    maker = aside.device if scan.device in (None, aside.device_id) else book.makers.get(scan.device)
    if why := why_unresolved(scan, book, maker):
        raise AcceptRefused(f"{why} Add it first, then accept this again.")
    if scan.code and book.label(scan) is None:
        book.labels.update(keep_unknown({scan.code}, at))
    return entry_of(scan, book, maker=maker, carrier=aside.device, sent_at=None, at=at)


def _read_again(aside: SetAside) -> Scan:
    try:
        return read_scan(RawScan(0, aside.body, json.loads(aside.body)))
    except Unreadable as why:
        raise AcceptRefused(f"It still cannot be read: {why} Record the fact anew if it is one.") from None


@transaction.atomic
def decline(aside: SetAside, *, by: Witness, at: datetime) -> None:
    """Note it as seen. It stays kept and is no entry."""
    aside = SetAside.objects.select_for_update().get(pk=aside.pk)
    if aside.settled_at is None:
        _settle(aside, by, at, accepted=False)


def _settle(aside: SetAside, by: Witness, at: datetime, *, accepted: bool) -> None:
    aside.settled_at, aside.settled_by, aside.accepted = at, by.name, accepted
    aside.save(update_fields=["settled_at", "settled_by", "accepted"])
