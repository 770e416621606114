"""Asking for a release: the letter for exactly these serials, that it went out, and what came back."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from inventory.answers.content import Piece
from inventory.answers.drive_loading import book_for
from inventory.answers.wiping import open_book
from inventory.deciding import Refused, lock, must_be_drives, said
from inventory.ledger import Witness
from inventory.models import Item, Person, Release, ReleaseRequest, RequestAnswer, RequestSerial
from inventory.releasing import may_release, release


def draft(reference: str, drives: Sequence[Item], person: Person, *, by: str, at: datetime) -> str:
    """The letter: every serial with what it recorded, the swapped-out ones too, and the words to answer with."""
    wipe_book = open_book(book_for(drives=[drive.pk for drive in drives]), at)
    lines = [f"- {_drive_line(one, wipe_book.still_holds(one.pk), reference)}" for one in drives]
    serials = ", ".join(drive.serial or "serial not read" for drive in drives)
    day = f"{timezone.localtime(at):%d %b %Y}"
    return "\n".join(
        [
            f"Dear {person},", "",
            f"we still hold what was recorded of {reference}, on {len(drives)} drive{'s' if len(drives) > 1 else ''}:",
            *lines, "",
            "May we erase it? After that it cannot be brought back from these drives. Please check your copies first.",
            "If yes, answer with these words, and change nothing in the serials:", "",
            f"    The content of {reference} on the drives {serials} may be erased.", "",
            "If not, or not yet, please say until when we shall keep it.", "", f"{by}, {day}",
        ]
    )  # fmt: skip


def _drive_line(drive: Item, pieces: Sequence[Piece], reference: str) -> str:
    name = f"{drive.type}, serial {drive.serial or 'not read'}"
    times = [
        f"{timezone.localtime(p.start[0]):%d %b %Y %H:%M} to "
        f"{'now' if p.is_open else f'{timezone.localtime(p.end[0]):%H:%M}'}"
        for p in pieces if reference in p.references
    ]  # fmt: skip
    return f"{name}: {'; '.join(times)}" if times else name


@transaction.atomic
def ask(
    reference: str, drives: Sequence[Item], person: Person, text: str, *, by: Witness, at: datetime
) -> ReleaseRequest:
    """Keep that this person was asked, in these words, for exactly these serials."""
    must_be_drives(drives)
    moment = lock(drives, at)
    if not may_release(reference, person, moment):
        raise Refused(f"Nothing says that {person} may release {reference}. Enter who may release first, then ask.")
    words = text.strip() or draft(reference, drives, person, by=by.name, at=moment)
    row = ReleaseRequest.objects.create(
        reference=said(reference, "the show's code"), person=person, text=words, entered_by=by.name, entered_at=moment
    )
    RequestSerial.objects.bulk_create(RequestSerial(request=row, drive=drive) for drive in drives)
    return row


@transaction.atomic
def answer(row: ReleaseRequest, word: str, words: str, *, by: Witness, at: datetime) -> RequestAnswer:
    """Record what came back. A yes releases exactly the serials that were asked about, on the person's word."""
    words = said(words, "what came back, and where it is kept")
    if row.answers.filter(word=RequestAnswer.Word.YES).exists():
        raise Refused("This was answered with yes already. The release stands below.")
    drives = list(Item.objects.filter(requests__request=row).select_related("type").order_by("pk"))
    given: Release | None = None
    if word == RequestAnswer.Word.YES:
        given = release(row.reference, drives, row.person, words, by=by, at=at)
    moment = lock(drives, at)
    return RequestAnswer.objects.create(
        request=row, word=word, words=words, release=given, entered_by=by.name, entered_at=moment
    )
