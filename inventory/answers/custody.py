"""What may have happened to a drive that the recordings do not tell: gaps in custody, other hands, other seals."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from uuid import UUID

from inventory.answers.content import ContentBook, serial_reads
from inventory.answers.drive_rows import Book, EntryRow, Key, PlaceRow, Scene, WipeRow
from inventory.answers.values import Reason
from inventory.models import Grade, PlaceKind, Verb, Wipe

HEALTH = "health"  # Entry.rule of a named health check; its value is "good" or what was found
KIT_ACCEPTS = "A kit manager who did not make this doubt looks into it, then accepts it or confirms the drive blank."
MAY_BE_ANYBODYS = (
    "Do not mount it. A kit manager finds whose it is and gives it back, or has the serial read again, or accepts it."
)
SEEING = (Grade.SCAN, Grade.TICK)


@dataclass(frozen=True, slots=True)
class Doubt:
    """A reason for NOT KNOWN. `facts` make its digest: an acceptance covers exactly what stood then."""

    drive: int
    word: str
    sentence: str
    way_out: str
    entries: tuple[UUID, ...] = ()
    makers: frozenset[str] = frozenset()
    facts: tuple[str, ...] = ()
    acceptable: bool = True

    @property
    def digest(self) -> str:
        text = "\x1f".join((str(self.drive), self.word, *(self.facts or tuple(str(e) for e in self.entries))))
        return hashlib.sha256(text.encode()).hexdigest()

    @property
    def reason(self) -> Reason:
        return Reason(self.word, self.sentence, self.way_out, self.entries, (self.drive,))


def _from_entry(drive: int, word: str, sentence: str, row: EntryRow, way_out: str = KIT_ACCEPTS) -> Doubt:
    """A doubt that one entry raised: whoever made the entry made the doubt, and does not accept it."""
    return Doubt(drive, word, sentence, way_out, (row.id,), frozenset({row.by}))


def doubts_since(content: ContentBook, drive: int, since: Key) -> list[Doubt]:
    """Every doubt of custody since `since`, oldest kind first; who may accept one is not asked here."""
    scene = content.scene
    found: list[Doubt] = []
    for look in (gaps, _other_hands, _lost_and_found, _other_seals, _undone_flags):
        found += look(scene, drive, since)
    return found + _fitted_unsaid(content, drive, since)


def standing_doubts(content: ContentBook, drive: int, wipes: Sequence[WipeRow]) -> list[Doubt]:
    """Doubts that no new start ends: foreign, suspect, unreadable serial."""
    return [*_foreign(content.scene, drive), *_suspect(content, drive, wipes), *_unreadable(content.book, drive)]


def carriers(scene: Scene, item: int) -> set[int]:
    """The thing itself and everything that ever held it, at any depth."""
    found, todo = {item}, [item]
    while todo:
        for stay in scene.stays(todo.pop()):
            place = scene.book.places.get(stay.where)
            if place is not None and place.item is not None and place.item not in found:
                found.add(place.item)
                todo.append(place.item)
    return found


def around(scene: Scene, drive: int) -> tuple[EntryRow, ...]:
    """Entries on the drive, or on what held it at that moment, in order: looked up once for all that ask."""
    if drive not in scene.near:
        scene.near[drive] = tuple(_around(scene, drive))
    return scene.near[drive]


def _around(scene: Scene, drive: int) -> Iterator[EntryRow]:
    rows = sorted((r for item in carriers(scene, drive) for r in scene.of_item.get(item, ())), key=lambda r: r.key)
    for row in rows:
        if row.item == drive or row.item in _holders(scene, drive, just_before(row.key)):
            yield row


def _holders(scene: Scene, drive: int, key: Key) -> set[int]:
    places = (scene.book.places.get(stay.where) for stay in scene.chain(drive, key))
    return {place.item for place in places if place is not None and place.item is not None}


def just_before(key: Key) -> Key:
    return (key[0], key[1] - 1)


def gaps(scene: Scene, drive: int, since: Key) -> Iterator[Doubt]:
    """Given by one who was not the holder: received from somebody else, or handed over by somebody else."""
    for row in around(scene, drive):
        if row.key <= since or row.verb not in {Verb.HANDED_OVER, Verb.RECEIVED}:
            continue
        before = scene.outermost(row.item or drive, just_before(row.key))
        giver = giver_of(scene.book, row)
        if before is None or not giver or giver == before.person:
            continue
        if row.verb == Verb.HANDED_OVER and before.kind != PlaceKind.PERSON:
            continue
        sentence = f"{giver} gave it on {_day(row)}, but by the book it was with {before.person or before.name} then."
        yield _from_entry(drive, "custody gap", sentence, row)


def giver_of(book: Book, row: EntryRow) -> str:
    """Who gave it away: named on the entry, else for a hand-over whoever made it."""
    if row.verb == Verb.HANDED_OVER:
        return row.value or row.by
    place = book.places.get(row.place) if row.place else None
    if row.person is None or (place is not None and place.person_id == row.person):
        return row.value
    return row.person_name


def _other_hands(scene: Scene, drive: int, since: Key) -> Iterator[Doubt]:
    """Each time it came into hands that are not ours, and is there no more."""
    moves = [row for row in around(scene, drive) if row.place is not None]
    earlier: PlaceRow | None = scene.outermost(drive, since)
    if earlier is not None and earlier.outside and moves:
        yield Doubt(drive, "other hands", f"It was with {earlier.person} at the start.", KIT_ACCEPTS, (moves[0].id,))
    for row in moves:
        if row.key <= since:
            continue
        now = scene.outermost(drive, row.key)
        if now is not None and now.outside and (earlier is None or earlier.id != now.id):
            yield _from_entry(drive, "other hands", f"It was with {now.person} from {_day(row)}.", row)
        earlier = now


def _lost_and_found(scene: Scene, drive: int, since: Key) -> Iterator[Doubt]:
    for row in around(scene, drive):
        item = row.item or drive
        if row.verb == Verb.MISSED and row.key > since and not is_missing(scene, item):
            sentence = f"{_it(scene, drive, item)} was missed on {_day(row)} and turned up later."
            yield _from_entry(drive, "lost and found", sentence, row)


def is_missing(scene: Scene, item: int) -> bool:
    """Is the newest of its placings, scans, ticks, found and missed a missed? (P9)"""
    for row in reversed(scene.of_item.get(item, ())):
        if row.verb == Verb.MISSED:
            return True
        if row.verb == Verb.FOUND or row.place is not None or row.grade in SEEING and row.verb not in _NO_SIGHT:
            return False
    return False


_NO_SIGHT = {Verb.JOINED, Verb.DROPPED, Verb.AMENDED, Verb.SIGNED, Verb.BROKEN_UP, Verb.RECORDING, Verb.STOPPED,
             Verb.ERASED, Verb.CONTENT_GIVEN, Verb.FOREIGN, Verb.FAULTED, Verb.MENDED}  # fmt: skip


def _other_seals(scene: Scene, drive: int, since: Key) -> Iterator[Doubt]:
    expected: dict[int, str] = {}
    for row in around(scene, drive):
        if not row.seal or row.item is None:
            continue
        known = expected.get(row.item)
        if row.verb == Verb.SEALED:
            expected[row.item] = row.seal
        elif known and known != row.seal and row.key > since:
            case = scene.book.words(row.item)
            sentence = f"{case} was closed with seal {known}; seal {row.seal} was found on {_day(row)}."
            yield _from_entry(drive, "another seal", sentence, row)


def _fitted_unsaid(content: ContentBook, drive: int, since: Key) -> list[Doubt]:
    """Stays in a frame during which no recording is told: it may have recorded."""
    found = []
    for stay in content.scene.fitted(drive):
        if stay.end <= since or any(p.start < stay.end and p.end > stay.start for p in content.of(drive)):
            continue
        frame = content.book.words(content.scene.frame_of(stay))
        sentence = f"It was fitted in {frame} from {_day(stay.first)} and nobody said whether it recorded."
        way_out = "Whoever ran it says what it recorded; or a kit manager looks and declares it blank."
        found.append(_from_entry(drive, "fitted, recording not told", sentence, stay.first, way_out))
    return found


def _undone_flags(scene: Scene, drive: int, since: Key) -> Iterator[Doubt]:
    """Flags whose entry was taken back: until somebody else accepts that, the doubt stays (P13)."""
    for row in scene.book.entries:
        if not row.undone or row.item is None or row.time > scene.at:
            continue
        if row.key <= since:
            continue
        if row.item not in _holders(scene, drive, row.key) | {drive} or not _raises(scene, row):
            continue
        makers = frozenset(one.by for one in row.undone)
        who = " and ".join(sorted(makers))
        sentence = f"“{Verb(row.verb).label}” of {_day(row)} was taken back by {who}."
        entries = (row.id, *(one.entry for one in row.undone))
        yield Doubt(drive, "corrected", sentence, KIT_ACCEPTS, entries, makers)


def _raises(scene: Scene, row: EntryRow) -> bool:
    place = scene.book.places.get(row.place) if row.place else None
    if place is not None and place.outside:
        return True
    if row.seal and row.verb != Verb.SEALED:
        sealed = [r for r in scene.of_item.get(row.item or 0, ()) if r.verb == Verb.SEALED and r.key < row.key]
        return bool(sealed) and sealed[-1].seal != row.seal
    return row.verb in {Verb.MISSED, Verb.FAULTED, Verb.ERASED, Verb.FOREIGN}


def _foreign(scene: Scene, drive: int) -> Iterator[Doubt]:
    thing = scene.book.things[drive]
    if not thing.ours:
        way_out = f"Give it back to {thing.owner}, or ask them in writing; it is not ours to wipe."
        yield Doubt(drive, "foreign", f"It belongs to {thing.owner}.", way_out, acceptable=False)
    for row in scene.of_item.get(drive, ()):
        if row.verb == Verb.FOREIGN:
            why = f": {row.note}" if row.note else ""
            yield _from_entry(drive, "foreign", f"{row.by} called it foreign on {_day(row)}{why}.", row)
    reads = serial_reads(scene, drive)
    if reads and not reads[-1].own and reads[-1].other is None:
        row = reads[-1].row
        sentence = f"Its serial reads {row.serial}, which is none of our drives."
        yield _from_entry(drive, "foreign", sentence, row, MAY_BE_ANYBODYS)


def _suspect(content: ContentBook, drive: int, wipes: Sequence[WipeRow]) -> Iterator[Doubt]:
    """A failed wipe or a reported fault: content may still be readable, until a named health check."""
    raised: list[tuple[Key, str, tuple[UUID, ...]]] = []
    for row in content.scene.of_item.get(drive, ()):
        if row.verb == Verb.FAULTED or row.condition == "suspect":
            raised.append((row.key, f"{row.by} reported on {_day(row)}: {row.note or 'a fault'}", (row.id,)))
    for wipe in wipes:
        if wipe.step == Wipe.Step.FAILED:
            raised.append(((wipe.at, 0), f"its wipe failed on {wipe.at:%d %b}; content may still be readable", ()))
    passed = [row.key for row in content.scene.of_item.get(drive, ()) if _is_good_health(row)]
    raised = [one for one in raised if not passed or max(passed) < one[0]]
    if raised:
        _, why, entries = max(raised)
        way_out = (
            "A kit manager records a named health check with its result, or decides to destroy it once every piece is "
            "released."
        )
        yield Doubt(drive, "suspect", f"Suspect: {why}.", way_out, entries, acceptable=False)


def _is_good_health(row: EntryRow) -> bool:
    return row.verb == Verb.CHECKED and row.rule == HEALTH and row.value.strip().lower().startswith(("good", "passed"))


def _unreadable(book: Book, drive: int) -> Iterator[Doubt]:
    thing = book.things[drive]
    if thing.unreadable or not thing.serial_key:
        way_out = "A kit manager reads the serial from the drive itself and enters it."
        yield Doubt(drive, "unreadable serial", "Nobody can read its serial.", way_out, acceptable=False)


def _it(scene: Scene, drive: int, item: int) -> str:
    return "It" if item == drive else scene.book.words(item)


def _day(row: EntryRow) -> str:
    return f"{row.time:%d %b}"
