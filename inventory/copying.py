"""Copies of a show's content: made, verified, reported bad. Each change is a new row that names the one before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import transaction

from inventory.deciding import Refused, lock, must_be_drives, said
from inventory.ledger import Witness
from inventory.models import Copy, CopySerial, Item, Place

KEPT = ("reference", "made_at", "medium", "place", "place_words", "on_drive", "verified_at", "verified_how",
        "verified_by", "note")  # fmt: skip


@dataclass(frozen=True, slots=True)
class Carrier:
    """What a copy is on and where that is kept: a place of ours, a place in words, or one of our drives."""

    medium: str
    place: Place | None = None
    place_words: str = ""
    on_drive: Item | None = None


@transaction.atomic
def add_copy(
    reference: str,
    drives: Sequence[Item],
    carrier: Carrier,
    *,
    by: Witness,
    at: datetime,
    made_at: datetime | None = None,
    note: str = "",
) -> Copy:
    """Enter a copy that covers these serials. It counts once it is verified."""
    must_be_drives(drives)
    if carrier.on_drive in drives:
        raise Refused(f"{carrier.on_drive} cannot carry a copy of itself. Choose another drive.")
    if carrier.place is None and carrier.on_drive is None and not carrier.place_words.strip():
        raise Refused("Say where the copy is kept: a place, or one of our drives.")
    moment = lock([*drives, *([carrier.on_drive] if carrier.on_drive else [])], at)
    row = Copy.objects.create(
        reference=said(reference, "the show's code"), made_at=min(made_at or at, moment), place=carrier.place,
        medium=said(carrier.medium, "what it is on: a tape, a disk, a server")[:60], place_words=carrier.place_words,
        on_drive=carrier.on_drive, note=note, entered_by=by.name, entered_at=moment,
    )  # fmt: skip
    CopySerial.objects.bulk_create(CopySerial(copy=row, drive=drive) for drive in drives)
    return row


def verify_copy(
    row: Copy, how: str, *, by: Witness, at: datetime, verified_by: str = "", verified_at: datetime | None = None
) -> Copy:
    """Say that a copy was read back against its source: how, by whom and when if not by you and now."""
    how = said(how, "how it was verified: checksums compared, played through")[:120]
    when = verified_at or at
    if when > at or when < row.made_at:
        raise Refused("It can only have been verified after it was made, and not in the future. Mend the date.")
    return _after(row, by=by, at=at, verified_at=when, verified_how=how, verified_by=verified_by or by.name)


def report_bad(row: Copy, why: str, *, by: Witness, at: datetime) -> Copy:
    """Say that a copy does not read. It counts no more."""
    return _after(row, by=by, at=at, reported_bad=True, note=said(why, "what is wrong with it"))


@transaction.atomic
def _after(row: Copy, *, by: Witness, at: datetime, **changes: Any) -> Copy:
    drives = list(Item.objects.filter(copies__copy=row))
    moment = lock([*drives, *([row.on_drive] if row.on_drive else [])], at)
    if Copy.objects.filter(replaces=row).exists():
        raise Refused("Somebody has changed this copy since you opened the page. Look again, then decide.")
    fields = {name: getattr(row, name) for name in KEPT} | {"reported_bad": row.reported_bad} | changes
    newer = Copy.objects.create(**fields, replaces=row, entered_by=by.name, entered_at=moment)
    CopySerial.objects.bulk_create(CopySerial(copy=newer, drive=drive) for drive in drives)
    return newer
