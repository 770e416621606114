"""Whose pictures are on a drive: content by interval, from the recordings it was in (rules P12 and P13)."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property
from uuid import UUID

from inventory.answers.drive_rows import ALWAYS, NEVER, Book, EntryRow, Key, Scene
from inventory.answers.recordings import Recording, Span, find_recordings, merge, spans_of, without
from inventory.answers.values import Reason
from inventory.folding import fold
from inventory.models import Role, Verb

NAMES_CONTENT = "content of"  # Entry.field: says whose a recording without a reference was; `before` is its id
GIVING = (Verb.RECORDING, Verb.JOINED, Verb.CONTENT_GIVEN)


@dataclass(frozen=True, slots=True)
class Piece:
    """A drive holds (or may hold) this content, recorded from `start` to `end` (NEVER: still recording).

    `marks` are reconstructed, corrected, doubtful; `makers` who made the doubt, or took the entry back.
    """

    drive: int
    source: str
    references: tuple[str, ...]
    drive_set: int | None
    start: Key
    end: Key
    marks: frozenset[str] = frozenset()
    grounds: tuple[str, ...] = ()
    entries: tuple[UUID, ...] = ()
    makers: frozenset[str] = frozenset()
    words: str = ""
    copy: int | None = None

    @property
    def is_open(self) -> bool:
        return self.end == NEVER

    @property
    def is_sure(self) -> bool:
        """Neither corrected nor doubtful: an entry that stands gave it."""
        return not self.marks & {"corrected", "doubtful"}

    @property
    def called(self) -> str:
        return " and ".join(self.references) or self.words or "content that nobody has named"


@dataclass(frozen=True)
class ContentBook:
    """All content by drive at one moment, with the scene it was read from."""

    book: Book
    at: datetime

    @cached_property
    def scene(self) -> Scene:
        return Scene.live(self.book, self.at)

    @cached_property
    def recordings(self) -> list[Recording]:
        scene = self.scene
        return find_recordings(scene, scene.verbs(Verb.RECORDING), scene.verbs(Verb.STOPPED))

    @cached_property
    def pieces(self) -> dict[int, tuple[Piece, ...]]:
        found: dict[int, list[Piece]] = {}
        for piece in _all_pieces(self):
            found.setdefault(piece.drive, []).append(piece)
        _share_by_serial(self, found)
        return {drive: tuple(sorted(rows, key=_order)) for drive, rows in found.items()}

    def of(self, drive: int) -> tuple[Piece, ...]:
        """Every piece that ever came onto a drive, oldest first; wipes are not looked at here."""
        return self.pieces.get(drive, ())


def _order(piece: Piece) -> tuple[Key, Key, str, tuple[str, ...]]:
    return (piece.start, piece.end, piece.source, tuple(sorted(piece.marks)))


def members(scene: Scene, drive_set: int, key: Key) -> dict[int, str]:
    """The drives of a set at that moment, with the bay each joined it for."""
    if (drive_set, key) not in scene.in_sets:
        scene.in_sets[drive_set, key] = _members(scene, drive_set, key)
    return scene.in_sets[drive_set, key]


def _members(scene: Scene, drive_set: int, key: Key) -> dict[int, str]:
    bays: dict[int, str] = {}
    for row in scene.verbs(Verb.JOINED):
        if row.drive_set == drive_set and row.item is not None and row.key <= key:
            bays[row.item] = row.bay
    stays = [s for s in scene.membership if s.where == drive_set and s.start <= key < s.end]
    return {stay.item: bays.get(stay.item, "") for stay in stays}


def drives_of(content: ContentBook, reference: str) -> list[int]:
    """The set of that show: every drive that ever held it."""
    return sorted(
        drive for drive, pieces in content.pieces.items() if any(reference in piece.references for piece in pieces)
    )


def running_on(content: ContentBook, drives: Collection[int]) -> list[Recording]:
    """Recordings that nobody has stopped and that go onto one of these drives, whatever they name."""
    sources = {piece.source for drive in drives for piece in content.of(drive) if piece.is_open}
    return [one for one in content.recordings if one.stop is None and str(one.entry.id) in sources]


def _all_pieces(content: ContentBook) -> Iterator[Piece]:
    scene = content.scene
    by_recording = {one.entry.id: merge(spans_of(scene, one)) for one in content.recordings}
    for one in content.recordings:
        yield from (_piece(scene, one, span) for span in by_recording[one.entry.id])
    yield from _corrected(content, by_recording)
    yield from (_given(row) for row in scene.verbs(Verb.CONTENT_GIVEN) if row.item is not None)
    yield from _copied(content)


def _piece(scene: Scene, one: Recording, span: Span) -> Piece:
    marks = {"doubtful"} if span.doubtful else set()
    if one.entry.stated or span.reconstructed:
        marks.add("reconstructed")
    return Piece(
        drive=span.drive,
        source=str(one.entry.id),
        references=_references(scene, one, span.drive),
        drive_set=one.entry.drive_set,
        start=span.start,
        end=span.end,
        marks=frozenset(marks),
        grounds=tuple(sorted(span.grounds)),
        entries=(one.entry.id, *sorted(span.entries), *([one.stop.id] if one.stop else [])),
        makers=span.makers,
    )


def _references(scene: Scene, one: Recording, drive: int) -> tuple[str, ...]:
    """The show it was recorded for; where the entry named none, every show that was named for it since."""
    if one.entry.reference:
        return (one.entry.reference,)
    named = {
        row.after
        for row in scene.of_item.get(drive, ())
        if row.verb == Verb.AMENDED and row.field == NAMES_CONTENT and row.before == str(one.entry.id) and row.after
    }
    return tuple(sorted(named))


def _corrected(content: ContentBook, live: dict[UUID, list[Span]]) -> Iterator[Piece]:
    """Content that entries gave before they were taken back: an undo never lifts a doubt (P13)."""
    rows = content.book.entries
    gave = [row for row in rows if row.undone and (row.verb in GIVING or _into_a_frame(content.book, row))]
    if not any(row.time <= content.at for row in gave):
        return
    scene = Scene.of(content.book, content.at, [row for row in rows if not row.undone] + gave)
    for one in _with_undone(scene, content):
        spans = merge(span for span in spans_of(scene, one) if "near its start or end" not in span.grounds)
        for span in spans:
            covered = [(s.start, s.end) for s in live.get(one.entry.id, ()) if s.drive == span.drive]
            yield from (_taken_back(scene, one, part) for part in without([span], covered))
    for row in gave:
        if row.verb == Verb.CONTENT_GIVEN and row.item is not None and row.time <= content.at:
            yield _mark_corrected(_given(row), frozenset((one.entry, one.by) for one in row.undone))


def _with_undone(scene: Scene, content: ContentBook) -> list[Recording]:
    undone = [row for row in scene.verbs(Verb.RECORDING) if row.undone]
    stops = [row for row in content.book.entries if row.verb == Verb.STOPPED and row.time <= content.at]
    return content.recordings + find_recordings(scene, undone, stops)


def _into_a_frame(book: Book, row: EntryRow) -> bool:
    place = book.places.get(row.place) if row.place else None
    thing = book.things.get(place.item) if place and place.item else None
    return thing is not None and thing.kind == "frame"


def _taken_back(scene: Scene, one: Recording, span: Span) -> Piece:
    undone = span.undone | {(taken.entry, taken.by) for taken in one.entry.undone}
    return _mark_corrected(_piece(scene, one, span), undone)


def _mark_corrected(piece: Piece, undone: Iterable[tuple[UUID, str]]) -> Piece:
    undone = sorted(undone)
    return replace(
        piece,
        marks=piece.marks | {"corrected"},
        entries=(*piece.entries, *(entry for entry, _ in undone)),
        makers=piece.makers | {by for _, by in undone},
    )


def _given(row: EntryRow) -> Piece:
    """What a person said is on it."""
    references = (row.reference,) if row.reference else ()
    marks = frozenset({"reconstructed"}) if row.stated else frozenset()
    words = f"content described as “{row.note}”" if row.note and not references else ""
    return Piece(
        row.item or 0, str(row.id), references, None, row.key, row.key, marks, ("said to be on it",), (row.id,),
        words=words,
    )  # fmt: skip


def _copied(content: ContentBook) -> Iterator[Piece]:
    for copy in content.book.copies:
        if copy.on_drive is None or copy.id != copy.first or copy.entered_at > content.at:
            continue
        key = (copy.made_at, 0)
        yield Piece(
            copy.on_drive, f"copy {copy.first}", (copy.reference,), None, key, key, grounds=("a copy was put on it",),
            copy=copy.first,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class SerialRead:
    """A read-out of a sled's drive: `own` if it agreed with the book then; `other` is the drive it names, if known."""

    row: EntryRow
    own: bool
    other: int | None


def serial_reads(scene: Scene, drive: int) -> list[SerialRead]:
    rows = [row for row in scene.of_item.get(drive, ()) if row.verb == Verb.SERIAL_READ and row.serial]
    found = []
    for row in rows:
        read, booked = fold(row.serial), _serial_at(scene, drive, row.key)
        other = scene.book.by_serial.get(read)
        found.append(SerialRead(row, read == booked, None if other == drive else other))
    return found


def _serial_at(scene: Scene, drive: int, key: Key) -> str:
    """The serial the book gave the sled at that moment: amending it later does not make an old read-out agree."""
    later = [r for r in scene.of_item.get(drive, ()) if r.verb == Verb.AMENDED and r.field == "serial" and r.key > key]
    return fold(later[0].before) if later else scene.book.things[drive].serial_key


def _share_by_serial(content: ContentBook, found: dict[int, list[Piece]]) -> None:
    """Where sled and serial disagree, what either was in since they last agreed counts for both."""
    drives = [pk for pk, row in content.book.things.items() if row.kind == "drive"]
    for drive in drives:
        for other, start, end in _disagreements(serial_reads(content.scene, drive)):
            mine, theirs = found.get(drive, []), found.get(other, [])
            found[drive] = mine + _shared(theirs, drive, start, end, mine)
            found[other] = theirs + _shared(mine, other, start, end, theirs)


def _disagreements(reads: Sequence[SerialRead]) -> Iterator[tuple[int, Key, Key]]:
    agreed = ALWAYS
    for n, read in enumerate(reads):
        if read.own:
            agreed = read.row.key
        elif read.other is not None:
            yield read.other, agreed, next((later.row.key for later in reads[n + 1 :] if later.own), NEVER)


def _shared(pieces: Iterable[Piece], drive: int, start: Key, end: Key, known: Iterable[Piece]) -> list[Piece]:
    sources = {(piece.source, piece.start, piece.end) for piece in known}
    ground = ("its sled and its serial disagreed",)
    return [
        replace(piece, drive=drive, grounds=piece.grounds + ground)
        for piece in pieces
        if piece.end > start and piece.start < end and (piece.source, piece.start, piece.end) not in sources
    ]


def findings(content: ContentBook, drive: int) -> list[Reason]:
    """Where the sources of a piece disagree: a member that was fitted elsewhere, a stranger in the frame."""
    found = []
    for piece in content.of(drive):
        is_member = any(ground.startswith("member") for ground in piece.grounds)
        is_fitted = any(ground.startswith("fitted") for ground in piece.grounds)
        if piece.drive_set is not None and is_member != is_fitted and piece.is_sure:
            how = "a member, but not fitted in its frame" if is_member else "fitted in its frame, but no member"
            sentence = f"While {piece.called} was recorded, {content.book.words(drive)} was {how}. Both count."
            found.append(Reason("sources disagree", sentence, entries=piece.entries, items=(drive,)))
    return found + sled_findings(content, drive)


def sled_findings(content: ContentBook, drive: int) -> list[Reason]:
    """The newest read-out is another serial than the sled's label stands for: a sled to relabel."""
    reads = serial_reads(content.scene, drive)
    if not reads or reads[-1].own:
        return []
    row, sled = reads[-1].row, content.book.things[drive].ref
    due = sled.serial or "no serial"
    sentence = f"The sled labelled {sled.code} stands for {due}, but the drive in it reads {row.serial}."
    way = "Relabel the sled, or put the right drive into it; then read the serial once more. For content both count."
    return [Reason("relabel sled", sentence, way, (row.id,), (drive,))]


def confirms_blank(row: EntryRow, before: Sequence[Piece]) -> bool:
    """May this blank declaration stand? By a kit manager, how known, and nothing sure before it.

    A doubt that the declarer made is not ended by that person's own word (P13).
    """
    if row.role != Role.KIT_MANAGER or not (row.note or row.value):
        return False
    return all(not piece.is_sure and row.by not in piece.makers for piece in before)
