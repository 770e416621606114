"""What people do with the drives of a set: join, drop, fit, pull, swap, record, declare, break up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from inventory import ledger
from inventory.answers.content import running_on
from inventory.answers.drive_loading import book_for
from inventory.answers.wiping import drives_of_set, open_book
from inventory.deciding import Refused, must_be_drives, said
from inventory.handling import verb_into
from inventory.ledger import Fact, Witness
from inventory.models import DriveSet, Entry, Grade, Item, Kind, Place, Role, Verb


@dataclass(frozen=True, slots=True)
class When:
    """For which show, and the earlier moment if it is told afterwards."""

    reference: str = ""
    happened_at: datetime | None = None
    note: str = ""
    grade: str = Grade.TICK

    @property
    def fields(self) -> dict[str, Any]:
        return {
            "reference": self.reference,
            "happened_at": self.happened_at,
            "stated": self.happened_at is not None,
            "note": self.note,
            "grade": self.grade,
        }


NOW = When()


@dataclass(frozen=True, slots=True)
class Swap:
    """One drive out, one in, the bay stays. `old_goes_to` is where the old one is put."""

    out: Item
    into: Item
    bay: str
    old_goes_to: Place
    frame: Place | None = None
    suspect: bool = False


def start_recording(
    drive_set: DriveSet, *, by: Witness, at: datetime, frame: Item | None = None, when: When = NOW
) -> list[Entry]:
    """Say that a set is being recorded on, for a show, from now or from a stated moment."""
    return ledger.record([Fact(Verb.RECORDING, frame, drive_set=drive_set, **when.fields)], by=by, at=at)


def stop_recording(
    drive_set: DriveSet, *, by: Witness, at: datetime, frame: Item | None = None, when: When = NOW
) -> list[Entry]:
    """Say that a set records no more.

    Where no recording names the set, what goes onto its drives by a word that named a frame, or nothing, ends instead:
    while one does, another set's recording in the same frame is left alone.
    """
    wipe_book = open_book(book_for(sets=[drive_set.pk]), at)
    running = running_on(wipe_book.content, drives_of_set(wipe_book, drive_set.pk))
    own = any(one.entry.drive_set == drive_set.pk for one in running)
    other = [] if own else [one for one in running if one.entry.drive_set is None]
    other = [one for one in other if when.reference in ("", one.entry.reference)]
    frames = dict.fromkeys(one.frame for one in other if one.frame is not None)
    facts = [Fact(Verb.STOPPED, frame, drive_set=drive_set, **when.fields)]
    facts += [Fact(Verb.STOPPED, one, **when.fields) for one in Item.objects.filter(pk__in=frames)]
    facts += [Fact(Verb.STOPPED, None, **when.fields) for one in other if one.names_nothing]
    return ledger.record(facts, by=by, at=at)


def join(drive: Item, drive_set: DriveSet, bay: str, *, by: Witness, at: datetime, when: When = NOW) -> list[Entry]:
    """Make a drive a member of a set, for one of its bays. Two for one bay is said elsewhere, not refused."""
    must_be_drives([drive])
    _bay_of(drive_set, bay)
    return ledger.record([Fact(Verb.JOINED, drive, drive_set=drive_set, bay=bay, **when.fields)], by=by, at=at)


def drop(drive: Item, drive_set: DriveSet, *, by: Witness, at: datetime, when: When = NOW) -> list[Entry]:
    """End a drive's membership. What it holds stays on it."""
    return ledger.record([Fact(Verb.DROPPED, drive, drive_set=drive_set, **when.fields)], by=by, at=at)


def _bay_of(drive_set: DriveSet, bay: str) -> None:
    if bay not in drive_set.bay_labels:
        raise Refused(f"{drive_set} has no bay {bay or 'without a letter'}. Its bays are {drive_set.bays}.")


def fit(drive: Item, frame: Item, bay: str, *, by: Witness, at: datetime, when: When = NOW) -> list[Entry]:
    """Put a drive into a bay of a frame."""
    must_be_drives([drive])
    if frame.type.kind != Kind.FRAME:
        raise Refused(f"{frame} is no frame. Drives are fitted in frames; into a box they are packed.")
    return ledger.record([Fact(Verb.FITTED, drive, place=frame.inside, bay=bay, **when.fields)], by=by, at=at)


def pull(drive: Item, place: Place, *, by: Witness, at: datetime, when: When = NOW) -> list[Entry]:
    """Take a drive out of its frame and put it somewhere."""
    must_be_drives([drive])
    if verb_into(place) == Verb.FITTED:
        raise Refused(f"{place} is a frame. To move a drive there, fit it.")
    return ledger.record([Fact(Verb.PULLED, drive, place=place, **when.fields)], by=by, at=at)


def swap(swap: Swap, drive_set: DriveSet, *, by: Witness, at: datetime, when: When = NOW) -> list[Entry]:
    """One act: the old drive leaves set and frame, the new one takes its bay. The old one keeps what it holds."""
    must_be_drives([swap.out, swap.into])
    if swap.out == swap.into:
        raise Refused("The old and the new drive are the same. Scan the one that went in.")
    _bay_of(drive_set, swap.bay)
    more = when.fields
    facts = [
        Fact(Verb.PULLED, swap.out, place=swap.old_goes_to, **more),
        Fact(Verb.DROPPED, swap.out, drive_set=drive_set, **more),
        Fact(Verb.JOINED, swap.into, drive_set=drive_set, bay=swap.bay, **more),
    ]
    if swap.frame is not None:
        facts.append(Fact(Verb.FITTED, swap.into, place=swap.frame, bay=swap.bay, **more))
    if swap.suspect:
        why = when.note or f"taken out of {drive_set} bay {swap.bay} while in use"
        facts.append(Fact(Verb.FAULTED, swap.out, **{**more, "note": why}))
    return ledger.record(facts, by=by, at=at)


def declare_blank(drives: Sequence[Item], how_known: str, *, by: Witness, at: datetime) -> list[Entry]:
    """Say that drives are blank, and how that is known. Content that an entry gave is not ended by it."""
    _must_be_manager(by, "declares a drive blank")
    must_be_drives(drives)
    how = said(how_known, "how you know that they are blank")
    return ledger.record([Fact(Verb.DECLARED_BLANK, drive, note=how) for drive in drives], by=by, at=at)


def give_content(drives: Sequence[Item], reference: str, note: str, *, by: Witness, at: datetime) -> list[Entry]:
    """Say what all is on drives whose past nobody knows."""
    _must_be_manager(by, "says what all is on a drive")
    must_be_drives(drives)
    if not reference:
        said(note, "whose content it is: a show's code, or in words")
    return ledger.record(
        [Fact(Verb.CONTENT_GIVEN, drive, reference=reference, note=note) for drive in drives], by=by, at=at
    )


def break_up(drive_set: DriveSet, why: str, *, by: Witness, at: datetime) -> list[Entry]:
    """Say that drives of one recording will not come together again; each is then judged by itself."""
    _must_be_manager(by, "breaks up a set")
    return ledger.record(
        [Fact(Verb.BROKEN_UP, drive_set=drive_set, note=said(why, "why the set is broken up"))], by=by, at=at
    )


def came_fitted(drives: Sequence[Item], frame: Item, told: str, *, by: Witness, at: datetime) -> list[Entry]:
    """Record the incident: drives were found in a frame's bays that had travelled. Each is suspect, and the frame too.

    `told` says who of the senders was told. A health check ends it for a drive, a mend for the frame.
    """
    must_be_drives(drives)
    words = said(told, "whom of the senders you told")
    note = f"came back fitted in {frame}: shock-suspect, check before use and before a wipe. Told: {words}"
    bays = f"travelled with {len(drives)} drives fitted: look at bays and connectors before power. Told: {words}"
    facts = [Fact(Verb.FAULTED, drive, condition="suspect", note=note) for drive in drives]
    return ledger.record([*facts, Fact(Verb.FAULTED, frame, condition="suspect", note=bays)], by=by, at=at)


def call_foreign(drive: Item, why: str, *, by: Witness, at: datetime) -> list[Entry]:
    """Say that a drive is not the one that was due, or not ours: nobody mounts it, nobody wipes it."""
    return ledger.record([Fact(Verb.FOREIGN, drive, note=said(why, "why it is foreign"))], by=by, at=at)


def read_serial(drive: Item, serial: str, *, by: Witness, at: datetime) -> list[Entry]:
    """Record the serial that the drive itself reads out. The book keeps both if it is another than the sled's."""
    must_be_drives([drive])
    return ledger.record([Fact(Verb.SERIAL_READ, drive, serial=said(serial, "the serial")[:80])], by=by, at=at)


def erased_without_release(drive: Item, what: str, *, by: Witness, at: datetime) -> list[Entry]:
    """Record the incident: a drive was erased that should not have been. Its owner must be told."""
    must_be_drives([drive])
    return ledger.record([Fact(Verb.ERASED, drive, note=said(what, "what happened"))], by=by, at=at)


def _must_be_manager(by: Witness, does: str) -> None:
    if by.role != Role.KIT_MANAGER:
        raise Refused(f"Only a kit manager {does}. Ask one.")
