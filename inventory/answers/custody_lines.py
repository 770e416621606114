"""Who held which drive when, one line per change of hands, and where the chain is broken.

The invariants are our own, after the fields of NIST's sample chain-of-custody form (its existence checked, its
fields from memory): the receiver of one line gives on the next; times do not run backwards; exactly one holder at
any time; a drive that is destroyed takes no more lines.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from inventory.answers import custody
from inventory.answers.drive_rows import ALWAYS, EntryRow, Key, PlaceRow, Scene
from inventory.answers.starts import WipeBook
from inventory.answers.stops import destroyed_at
from inventory.answers.values import ItemRef
from inventory.models import PlaceKind, Verb

HANDINGS = frozenset({Verb.HANDED_OVER, Verb.RECEIVED})


@dataclass(frozen=True, slots=True)
class CustodyLine:
    """One drive from one holder to the next. `gap` says what breaks the chain here; empty where nothing does.

    `receipt` is False where it changed hands and nobody handed it over or received it. `place` is where that was, as
    far as the book knows: the fixed place it left, else the one it came to; from hands to hands nobody says.
    """

    entry: UUID
    act: UUID
    at: datetime
    drive: ItemRef
    giver: str
    receiver: str
    verb: str
    by: str
    purpose: str = ""
    due_at: datetime | None = None
    condition: str = ""
    seal: str = ""
    note: str = ""
    reference: str = ""
    stated: bool = False
    receipt: bool = True
    gap: str = ""
    place: str = ""


def custody_of(wb: WipeBook, drives: Collection[int]) -> tuple[CustodyLine, ...]:
    """Every change of hands of these drives, oldest first."""
    lines = [line for drive in sorted(drives) for line in _of_drive(wb, drive)]
    return tuple(sorted(lines, key=lambda line: (line.at, line.entry.int, line.drive.id)))


@dataclass(frozen=True, slots=True)
class HandedTogether:
    """Lines that say the same of several drives, as a page lists them once."""

    line: CustodyLine
    drives: tuple[ItemRef, ...]


def together(lines: Iterable[CustodyLine]) -> tuple[HandedTogether, ...]:
    """Lines of drives that changed hands alike in one act, put together; a gap stays by itself."""
    found: dict[tuple[object, ...], list[CustodyLine]] = {}
    for line in lines:
        alike = (line.act, line.at, line.giver, line.receiver, line.verb, line.condition, line.seal, line.receipt)
        found.setdefault((*alike, line.drive.id) if line.gap else alike, []).append(line)
    return tuple(
        HandedTogether(same[0], tuple(sorted((one.drive for one in same), key=lambda ref: (ref.serial, ref.id))))
        for same in found.values()
    )


def _of_drive(wb: WipeBook, drive: int) -> Iterator[CustodyLine]:
    scene = wb.content.scene
    gaps = {one.entries[0]: one.sentence for one in custody.gaps(scene, drive, ALWAYS)}
    gone, written_off = destroyed_at(wb, drive), _written_off_at(scene, drive)
    for row in custody.around(scene, drive):
        if row.place is None:
            continue
        before, after = _holder(scene, drive, custody.just_before(row.key)), _holder(scene, drive, row.key)
        if row.verb not in HANDINGS and _same(before, after):
            continue
        gap = gaps.get(row.id, "")
        if gone is not None and row.key > gone:
            gap = "It was destroyed before this; a destroyed drive changes hands no more."
        elif written_off is not None and row.key > written_off:
            gap = "It was written off before this, and nobody said how it came back."
        elif not scene.book.things[drive].ours and before is not None and before.outside and row.verb not in HANDINGS:
            gap = "It is not ours and had gone back before this; nobody received it again."
        yield _line(scene, drive, row, before, after, gap)


def _written_off_at(scene: Scene, drive: int) -> Key | None:
    """When it was first put down as gone; found again by a scan or tick it is no more gone."""
    places, gone = scene.book.places, None
    for row in scene.of_item.get(drive, ()):
        place = places.get(row.place) if row.place is not None else None
        if place is not None and place.kind == PlaceKind.GONE:
            gone = gone or row.key
        elif row.verb == Verb.FOUND:
            gone = None
    return gone


def _line(
    scene: Scene, drive: int, row: EntryRow, before: PlaceRow | None, after: PlaceRow | None, gap: str
) -> CustodyLine:
    receipt = row.verb in HANDINGS or not _from_or_to_hands(before, after)
    by_book = before.name if before else "nobody said"
    told = custody.giver_of(scene.book, row) if row.verb in HANDINGS and _is_hands(before) else ""
    if gap and row.verb in HANDINGS:
        told = custody.giver_of(scene.book, row)
    receiver = after.name if after else "nobody said"
    return CustodyLine(
        row.id, row.act, row.time, scene.book.things[drive].ref, told or by_book, receiver, row.verb, row.by,
        row.purpose, row.due_at, row.condition, row.seal, row.note, row.reference, row.stated, receipt, gap,
        _fixed(before) or _fixed(after),
    )  # fmt: skip


def _holder(scene: Scene, drive: int, key: Key) -> PlaceRow | None:
    """The hands, store, venue or road that a drive is in; a shelf or a room stands for its store."""
    place = scene.outermost(drive, key)
    while place is not None and place.kind != PlaceKind.PERSON and place.parent in scene.book.places:
        place = scene.book.places[place.parent]
    return place


def _fixed(place: PlaceRow | None) -> str:
    """A place that is nobody's hands, as people call it."""
    return "" if place is None or _is_hands(place) else place.name.removeprefix("inside ")


def _same(before: PlaceRow | None, after: PlaceRow | None) -> bool:
    return (before.id if before else None) == (after.id if after else None)


def _is_hands(place: PlaceRow | None) -> bool:
    return place is not None and place.kind == PlaceKind.PERSON


def _from_or_to_hands(before: PlaceRow | None, after: PlaceRow | None) -> bool:
    return _is_hands(before) or _is_hands(after)
