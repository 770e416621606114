"""What drives hold now, show by show, and where the confirmed copies of it are."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from inventory.answers.content import Piece
from inventory.answers.drive_loading import book_for
from inventory.answers.drive_rows import CopyRow
from inventory.answers.releases import confirmed_copies, standing
from inventory.answers.starts import WipeBook
from inventory.answers.wiping import open_book


@dataclass(frozen=True, slots=True)
class KeptCopy:
    """One confirmed copy: the drive that carries it, or the thing or place it lies in, or words, or nothing said."""

    medium: str
    on_drive: int | None = None
    in_item: int | None = None
    where: str = ""

    @property
    def is_placed(self) -> bool:
        return self.on_drive is not None or self.in_item is not None or bool(self.where)


@dataclass(frozen=True, slots=True)
class Kept:
    """What one drive holds of one show."""

    drive: int
    reference: str
    released: bool
    copies: tuple[KeptCopy, ...] = ()


def kept_on(drives: Iterable[int], at: datetime) -> list[Kept]:
    """One row for each show that each of these drives still holds, doubtful pieces included."""
    ids = sorted(set(drives))
    if not ids:
        return []
    wipe_book = open_book(book_for(drives=ids), at)
    known = [one for one in ids if one in wipe_book.book.drives]
    return [row for drive in known for row in _of_drive(wipe_book, drive)]


def _of_drive(wipe_book: WipeBook, drive: int) -> list[Kept]:
    pieces: dict[str, list[Piece]] = {}
    for piece in wipe_book.still_holds(drive):
        for reference in piece.references or (piece.called,):
            pieces.setdefault(reference, []).append(piece)
    return [_kept(wipe_book, drive, reference, found) for reference, found in sorted(pieces.items())]


def _kept(wipe_book: WipeBook, drive: int, reference: str, pieces: list[Piece]) -> Kept:
    released = all(standing(wipe_book.content, piece).word == "released" for piece in pieces)
    rows = {copy.first: copy for piece in pieces for copy in confirmed_copies(wipe_book.content, piece, reference)}
    return Kept(drive, reference, released, tuple(_copy(wipe_book, rows[first]) for first in sorted(rows)))


def _copy(wipe_book: WipeBook, row: CopyRow) -> KeptCopy:
    place = wipe_book.book.places.get(row.place) if row.place is not None else None
    name = place.name if place is not None else row.place_words
    return KeptCopy(row.medium, row.on_drive, place.item if place is not None else None, name)
