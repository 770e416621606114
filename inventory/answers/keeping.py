"""What drives hold now, piece by piece, and where the confirmed copies of it are."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from inventory.answers.content import Piece
from inventory.answers.drive_loading import book_for
from inventory.answers.drive_rows import CopyRow
from inventory.answers.releases import confirmed_copies, standing
from inventory.answers.starts import WipeBook
from inventory.answers.values import ItemRef
from inventory.answers.wiping import open_book
from inventory.unchanged import part


@dataclass(frozen=True, slots=True)
class KeptCopy:
    """One confirmed copy: the drive that carries it, or the place it lies in (`in_item` has that inside), or words."""

    on_drive: int | None = None
    place: int | None = None
    in_item: int | None = None
    where: str = ""

    @property
    def is_placed(self) -> bool:
        return self.on_drive is not None or self.place is not None or bool(self.where)


@dataclass(frozen=True, slots=True)
class Kept:
    """One piece of one show on one drive."""

    drive: ItemRef
    reference: str
    released: bool
    copies: tuple[KeptCopy, ...] = ()


def kept_on(drives: Iterable[int], at: datetime) -> list[Kept]:
    """A row for every piece of every show that these drives still hold, doubtful pieces included."""
    ids = tuple(sorted(set(drives)))
    return part(("kept on", ids), at, lambda at: _kept_on(ids, at)) if ids else []


def _kept_on(ids: Sequence[int], at: datetime) -> list[Kept]:
    wipe_book = open_book(book_for(drives=ids), at)
    known = [one for one in ids if one in wipe_book.book.drives]
    return [row for drive in known for row in _of_drive(wipe_book, drive)]


def _of_drive(wipe_book: WipeBook, drive: int) -> Iterator[Kept]:
    ref = wipe_book.book.things[drive].ref
    for piece in wipe_book.still_holds(drive):
        released = standing(wipe_book.content, piece).word == "released"
        for reference in piece.references or (piece.called,):
            yield Kept(ref, reference, released, _copies(wipe_book, piece, reference))


def _copies(wipe_book: WipeBook, piece: Piece, reference: str) -> tuple[KeptCopy, ...]:
    return tuple(_copy(wipe_book, row) for row in confirmed_copies(wipe_book.content, piece, reference))


def _copy(wipe_book: WipeBook, row: CopyRow) -> KeptCopy:
    place = wipe_book.book.places.get(row.place) if row.place is not None else None
    return KeptCopy(row.on_drive, row.place, place.item if place is not None else None, row.place_words)
