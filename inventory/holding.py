"""Holds: nobody wipes while one stands, whatever else is true."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from inventory.answers.content import drives_of
from inventory.answers.drive_loading import book_for
from inventory.answers.wiping import drives_of_set, open_book
from inventory.deciding import Refused, lock, said
from inventory.ledger import Witness
from inventory.models import DriveSet, Hold, HoldLift, Item, Role


@transaction.atomic
def hold(subject: Item | DriveSet | str, why: str, *, by: Witness, at: datetime) -> Hold:
    """Hold a drive, a set, or a show's content by its code, wherever that is found later."""
    reason = said(why, "why it is held")
    moment = lock(_reached(subject, at), at)
    fields = {
        Item: {"drive": subject}, DriveSet: {"drive_set": subject}, str: {"reference": subject},
    }[type(subject)]  # fmt: skip
    return Hold.objects.create(**fields, why=reason, entered_by=by.name, entered_at=moment)


def _reached(subject: Item | DriveSet | str, at: datetime) -> list[Item]:
    if isinstance(subject, Item):
        return [subject]
    if isinstance(subject, DriveSet):
        wipe_book = open_book(book_for(sets=[subject.pk]), at)
        return list(Item.objects.filter(pk__in=drives_of_set(wipe_book, subject.pk)))
    said(subject, "which show is held, by its code")
    content = open_book(book_for(references=[subject]), at).content
    return list(Item.objects.filter(pk__in=drives_of(content, subject)))


@transaction.atomic
def lift(row: Hold, why: str, *, by: Witness, at: datetime) -> HoldLift:
    """End a hold: by whoever set it, or a kit manager."""
    if by.role != Role.KIT_MANAGER and by.name != row.entered_by:
        raise Refused(f"Only {row.entered_by} or a kit manager lifts this hold.")
    moment = lock(_reached(row.drive or row.drive_set or row.reference, at), at)
    if HoldLift.objects.filter(hold=row).exists():
        raise Refused("This hold was lifted already.")
    reason = said(why, "why it may be lifted")
    return HoldLift.objects.create(hold=row, why=reason, entered_by=by.name, entered_at=moment)
