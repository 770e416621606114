"""Whose word ends the keeping of a show's content: mandates, releases and their withdrawal."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from inventory.deciding import Refused, lock, must_be_drives, said
from inventory.ledger import Witness
from inventory.models import (
    ClientReference,
    Item,
    Mandate,
    MandatePerson,
    Organisation,
    Person,
    Release,
    ReleaseSerial,
    Role,
    Withdrawal,
)


@dataclass(frozen=True, slots=True)
class Promise:
    """What was agreed for a show's content: copies besides the drives, on so many media, so many elsewhere."""

    copies: int = 2
    media: int = 2
    elsewhere: int = 1
    owners_document: str = ""
    discreet: bool = False


@transaction.atomic
def enter_mandate(
    reference: str,
    owner: Organisation,
    persons: Sequence[Person],
    why: str,
    *,
    by: Witness,
    at: datetime,
    promise: Promise | None = None,
) -> Mandate:
    """Say who may release a show's content for its owner, from now on. A change is a new row."""
    _must_be_manager(by, "enters who may release")
    if not persons:
        raise Refused(f"Name at least one person who may release for {owner}: an organisation cannot sign.")
    agreed = promise or Promise()
    fewer = agreed.copies < 2 or agreed.media < 2 or agreed.elsewhere < 1
    if fewer and not agreed.owners_document:
        raise Refused("Fewer copies than usual needs the owner's document. Say where it is kept.")
    row = Mandate.objects.create(
        reference=said(reference, "the show's code"), content_owner=owner, copies=agreed.copies, media=agreed.media,
        elsewhere=agreed.elsewhere, owners_document=agreed.owners_document, discreet=agreed.discreet,
        in_force_from=at, entered_by=by.name, entered_at=at,
    )  # fmt: skip
    why = said(why, "why these persons may release")[:200]
    MandatePerson.objects.bulk_create(MandatePerson(mandate=row, person=person, why=why) for person in persons)
    return row


@transaction.atomic
def release(
    reference: str,
    drives: Sequence[Item],
    person: Person,
    evidence: str,
    *,
    by: Witness,
    at: datetime,
    date: datetime | None = None,
    no_copies_wanted: bool = False,
) -> Release:
    """Enter the owner's word for exactly these serials. A person without authority is entered too, and is unsure."""
    must_be_drives(drives)
    _may_enter(reference, person, by)
    for drive in drives:
        if not drive.serial:
            raise Refused(f"{drive} has no serial, and a release names serials. Enter the serial first.")
    moment = lock(drives, at)
    if date is not None and date > moment:
        raise Refused("A release cannot be dated in the future. Enter it on its day.")
    row = Release.objects.create(
        reference=said(reference, "the show's code"), person=person, date=date or moment, entered_by=by.name,
        evidence=said(evidence, "how the release came: a letter, a message, a signature"), entered_at=moment,
        no_copies_wanted=no_copies_wanted,
    )  # fmt: skip
    ReleaseSerial.objects.bulk_create(ReleaseSerial(release=row, drive=drive) for drive in drives)
    return row


@transaction.atomic
def withdraw(row: Release, why: str, *, by: Witness, at: datetime) -> Withdrawal:
    """Take a release back. Before a wipe is verified the content is unreleased again; after, it changes nothing."""
    _may_enter(row.reference, row.person, by)
    moment = lock(Item.objects.filter(releases__release=row), at)
    if Withdrawal.objects.filter(release=row).exists():
        raise Refused("This release was withdrawn already.")
    reason = said(why, "why it is withdrawn")
    return Withdrawal.objects.create(release=row, why=reason, entered_by=by.name, entered_at=moment)


def _may_enter(reference: str, person: Person, by: Witness) -> None:
    """A kit manager enters anybody's word; a client only her own, for her own shows."""
    if by.role == Role.KIT_MANAGER:
        return
    own = getattr(by.user, "person", None)
    hers = own is not None and ClientReference.objects.filter(person=own, reference=reference).exists()
    if by.role != Role.CLIENT or own != person or not hers:
        raise Refused(f"Only a kit manager enters a release of {reference}, or its owner's person for herself.")


def may_release(reference: str, person: Person, on: datetime) -> bool:
    """Does a mandate in force on that moment name this person?"""
    rows = Mandate.objects.filter(reference=reference, in_force_from__lte=on, entered_at__lte=on)
    newest = {row.content_owner_id: row.pk for row in rows.order_by("in_force_from", "pk")}
    return MandatePerson.objects.filter(mandate__in=newest.values(), person=person).exists()


def _must_be_manager(by: Witness, does: str) -> None:
    if by.role != Role.KIT_MANAGER:
        raise Refused(f"Only a kit manager {does}. Ask one.")
