"""The set of that show: every drive that ever held content of it, since when, how known, where now, may it be wiped."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from inventory.answers.content import Piece, drives_of, members
from inventory.answers.drive_loading import book_for
from inventory.answers.drive_rows import LAST_ID, CopyRow
from inventory.answers.releases import confirmed_copies, copies_of
from inventory.answers.starts import WipeBook
from inventory.answers.stops import is_destroyed
from inventory.answers.values import ItemRef, Reason, Whereabouts
from inventory.answers.whereabouts import whereabouts_of
from inventory.answers.wiping import WipeAnswer, answer_drive, answer_set, open_book
from inventory.models import Entry


@dataclass(frozen=True, slots=True)
class Stretch:
    """One piece of the show on one drive. `end` is None while it is still being recorded.

    `marks`: reconstructed (its times were told afterwards), doubtful, corrected. `grades`: how the entries that gave
    it were made (scan, tick, said, import). `gone`: a counted wipe, or a look, ended it.
    """

    start: datetime
    end: datetime | None
    marks: tuple[str, ...]
    grades: tuple[str, ...]
    grounds: tuple[str, ...]
    standing: str
    gone: bool
    entries: tuple[UUID, ...]


@dataclass(frozen=True, slots=True)
class ShowDrive:
    """One drive of the set of a show: `bay` of `drive_set` when it recorded; where it is now, and its wipe answer."""

    drive: ItemRef
    drive_set: str
    bay: str
    stretches: tuple[Stretch, ...]
    still_holds: bool
    swapped_out: bool
    destroyed: bool
    where: Whereabouts
    wipe: WipeAnswer
    copies: int  # confirmed ones of what it still holds of this show; of the piece with fewest

    @property
    def called(self) -> str:
        """Set, bay and serial: HERON-2 C 71B07N."""
        return " ".join(filter(None, (self.drive_set, self.bay, self.drive.serial or self.drive.words)))

    @property
    def where_words(self) -> str:
        return "It was destroyed." if self.destroyed else self.where.sentence


@dataclass(frozen=True, slots=True)
class ShowCopy:
    """One copy in the book. `word`: confirmed · not verified · bad · does not count."""

    word: str
    medium: str
    where: str
    made_at: datetime
    verified_at: datetime | None
    covers: tuple[str, ...]
    confirmed_for: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ShowSet:
    """`answer`: held · gone · not known. `wipe` is the wipe answer of all these drives together."""

    answer: str
    sentence: str
    reference: str
    at: datetime
    reasons: tuple[Reason, ...]
    drives: tuple[ShowDrive, ...]
    copies: tuple[ShowCopy, ...]
    wipe: WipeAnswer

    @property
    def grouped(self) -> list[tuple[Reason, list[ShowDrive]]]:
        """Every reason of those drives that decide the answer, said once, with the drives it is true of."""
        found: dict[tuple[str, str], tuple[Reason, list[ShowDrive]]] = {}
        for one in self.drives:
            if one.wipe.answer == self.wipe.answer and not one.destroyed:
                for reason in one.wipe.reasons:
                    found.setdefault((reason.sentence, reason.way_out), (reason, []))[1].append(one)
        return list(found.values())


def set_of_show(reference: str, at: datetime) -> ShowSet:
    """Every drive that ever held the show, members, swapped-out ones and destroyed ones alike."""
    wb = open_book(book_for(references=[reference]), at)
    ids = drives_of(wb.content, reference)
    wheres = whereabouts_of(ids, at)
    grades = {row.id: row.grade for row in wb.book.entries}
    drives = sorted((_drive(wb, one, reference, wheres[one], grades) for one in ids), key=_order)
    wipe = answer_set(wb, f"the set of {reference}", ids)
    return ShowSet(
        answer=_word(drives), sentence=_sentence(reference, drives, wipe), reference=reference, at=at,
        reasons=wipe.reasons, drives=tuple(drives), copies=tuple(_copies(wb, ids, reference)), wipe=wipe,
    )  # fmt: skip


def _drive(
    wb: WipeBook, drive: int, reference: str, where: Whereabouts, grades: Mapping[UUID, str]
) -> ShowDrive:  # fmt: skip
    pieces = [piece for piece in wb.content.of(drive) if reference in piece.references]
    holds = [piece for piece in wb.still_holds(drive) if reference in piece.references]
    wipe = answer_drive(wb, drive)
    stands = {(held.source, held.start): held.standing for held in wipe.content}
    name, bay, still_in = _membership(wb, drive, pieces)
    return ShowDrive(
        drive=wb.book.things[drive].ref, drive_set=name, bay=bay,
        stretches=tuple(_stretch(piece, piece in holds, stands, grades) for piece in pieces),
        still_holds=bool(holds), swapped_out=not still_in, destroyed=is_destroyed(wb, drive), where=where, wipe=wipe,
        copies=min((len(confirmed_copies(wb.content, piece, reference)) for piece in holds), default=0),
    )  # fmt: skip


def _membership(wb: WipeBook, drive: int, pieces: Iterable[Piece]) -> tuple[str, str, bool]:
    """Set and bay when it first recorded, and whether it is still a member of that set."""
    for piece in pieces:
        if piece.drive_set is not None:
            scene, then = wb.content.scene, (piece.start[0], LAST_ID)
            bay = members(scene, piece.drive_set, then).get(drive, "")
            now = drive in members(scene, piece.drive_set, (wb.at, LAST_ID))
            return wb.book.sets[piece.drive_set].name, bay, now
    return "", "", True


def _stretch(
    piece: Piece, holds: bool, stands: Mapping[tuple[str, datetime], str], grades: Mapping[UUID, str]
) -> Stretch:  # fmt: skip
    standing = stands.get((piece.source, piece.start[0]), "accepted") if holds else "gone"
    return Stretch(
        start=piece.start[0], end=None if piece.is_open else piece.end[0], marks=tuple(sorted(piece.marks)),
        grades=tuple(sorted({str(grades[one]) for one in piece.entries if one in grades})), grounds=piece.grounds,
        standing=standing, gone=not holds, entries=piece.entries,
    )  # fmt: skip


def _order(one: ShowDrive) -> tuple[bool, str, str, bool, str]:
    return (not one.still_holds, one.drive_set or "~", one.bay or "~", one.swapped_out, one.drive.serial)


def _word(drives: Iterable[ShowDrive]) -> str:
    held = [one.still_holds for one in drives]
    return "not known" if not held else "held" if any(held) else "gone"


def _sentence(reference: str, drives: list[ShowDrive], wipe: WipeAnswer) -> str:
    if not drives:
        return f"By the book no drive of ours ever held {reference}."
    count, still = len(drives), sum(one.still_holds for one in drives)
    was = f"{reference} was on {count} drive{'s' if count > 1 else ''}"
    if not still:
        return f"{was}, and is on none of them any more."
    swapped = sum(one.swapped_out and one.still_holds for one in drives)
    more = f", {swapped} of them swapped out since" if swapped else ""
    holds = (
        "all of them still hold it" if still == count else f"{still} of them still hold{'s' if still == 1 else ''} it"
    )
    return f"{was}; {holds}{more}. May they be wiped? {wipe.answer}."


def _copies(wb: WipeBook, ids: Iterable[int], reference: str) -> Iterable[ShowCopy]:
    counts: dict[int, set[int]] = {}
    for drive in ids:
        for piece in wb.content.of(drive):
            if reference in piece.references and piece.copy is None:
                for copy in confirmed_copies(wb.content, piece, reference):
                    counts.setdefault(copy.id, set()).add(drive)
    for copy in copies_of(wb.content, reference):
        yield _copy(wb, copy, counts.get(copy.id, set()))


def _copy(wb: WipeBook, copy: CopyRow, counts: Iterable[int]) -> ShowCopy:
    place = wb.book.places.get(copy.place) if copy.place is not None else None
    carrier = f"our drive {wb.book.words(copy.on_drive)}" if copy.on_drive is not None else ""
    counted = sorted(counts)
    verified = copy.verified_at is not None and copy.verified_at <= wb.at
    word = (
        "bad" if copy.reported_bad else "not verified" if not verified else "confirmed" if counted else "does not count"
    )
    return ShowCopy(
        word=word, medium=copy.medium,
        where=(place.name if place else copy.place_words) or carrier or "nobody said where",
        made_at=copy.made_at, verified_at=copy.verified_at, covers=_serials(wb, copy.serials),
        confirmed_for=_serials(wb, counted),
    )  # fmt: skip


def _serials(wb: WipeBook, drives: Iterable[int]) -> tuple[str, ...]:
    known = [wb.book.things[one].ref for one in sorted(drives) if one in wb.book.things]
    return tuple(ref.serial or ref.words for ref in known)


def show_subject(text: str) -> str | None:
    """The show that a text names by its code, if any entry in the book carries that code; else None."""
    words = text.strip().upper()
    return words if words and Entry.objects.filter(reference=words).exists() else None
