"""What lies on the wipe bench, drive by drive: may it be wiped, is it on the release, and what is not here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import prefetch_related_objects

from inventory.answers.drive_loading import book_for
from inventory.answers.drive_rows import LAST_ID
from inventory.answers.starts import WipeBook
from inventory.answers.stops import is_destroyed, told_once
from inventory.answers.values import Reason
from inventory.answers.wiping import WipeAnswer, answer_drive, drives_of_set, open_book
from inventory.models import DriveSet, Item, Release


@dataclass(frozen=True, slots=True)
class BenchLine:
    """One scanned drive. `listed`: is it on the release that the bench works from; None if none was chosen."""

    drive: Item
    answer: WipeAnswer
    listed: bool | None = None

    @property
    def may(self) -> bool:
        return self.answer.answer == "YES" and self.listed is not False

    @property
    def reasons(self) -> list[Reason]:
        """Why not, each said once."""
        return told_once(self.answer.reasons)

    @property
    def released_by(self) -> str:
        return " and ".join(dict.fromkeys(name for held in self.answer.content for name in held.released_by))


@dataclass(frozen=True, slots=True)
class BenchLook:
    """Everything that was scanned, and what should be here and was not scanned."""

    at: datetime
    lines: tuple[BenchLine, ...]
    lacking: tuple[Reason, ...] = ()

    @property
    def may_begin(self) -> bool:
        return bool(self.lines) and not self.lacking and all(line.may for line in self.lines)

    @property
    def may_destroy(self) -> bool:
        """Suspect drives of which every piece is released may be destroyed, though not wiped."""
        return not self.lacking and all(line.may or line.answer.may_destroy for line in self.lines)

    @property
    def sentence(self) -> str:
        may, all_of = sum(line.may for line in self.lines), len(self.lines)
        if self.may_begin:
            return f"All {all_of} may be wiped." if all_of > 1 else "It may be wiped."
        missing = f" {len(self.lacking)} that should be here {'was' if len(self.lacking) == 1 else 'were'} not scanned."
        return f"{may} of {all_of} may be wiped; nothing begins yet.{missing if self.lacking else ''}"


def look(
    drives: Sequence[Item], at: datetime, release: Release | None = None, drive_set: DriveSet | None = None
) -> BenchLook:
    """Judge each scanned drive, and compare them with a release and with a whole set where these are named."""
    wipe_book = open_book(book_for([one.pk for one in drives], [drive_set.pk] if drive_set else []), at)
    prefetch_related_objects(list(drives), "labels")
    listed = {row.drive_id for row in release.serials.all()} if release else None
    lines = tuple(
        BenchLine(one, answer_drive(wipe_book, one.pk), None if listed is None else one.pk in listed) for one in drives
    )
    lacking = lacking_of(wipe_book, drive_set, drives) if drive_set else ()
    return BenchLook(at, lines, tuple(lacking))


def lacking_of(wipe_book: WipeBook, drive_set: DriveSet, drives: Sequence[Item]) -> list[Reason]:
    """Drives that are of the set, or still hold what it recorded, and were not scanned."""
    scanned = {drive.pk for drive in drives}
    of_set = drives_of_set(wipe_book, drive_set.pk)
    return [_not_here(wipe_book, one) for one in of_set if one not in scanned and not is_destroyed(wipe_book, one)]


def _not_here(wipe_book: WipeBook, drive: int) -> Reason:
    place = wipe_book.content.scene.outermost(drive, (wipe_book.at, LAST_ID))
    where = f"by the book it is in {place.name}" if place else "the book does not know where it is"
    sentence = f"{wipe_book.book.words(drive)} was not scanned; {where}."
    way_out = "Bring it to the bench and scan it, or begin drive by drive."
    return Reason("not scanned", sentence, way_out, items=(drive,))
