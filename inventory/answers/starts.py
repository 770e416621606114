"""Since when a drive is known, and which wipes count: what a verified wipe is worth by what is known now."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from typing import Protocol
from uuid import UUID

from inventory.answers.content import ContentBook, Piece, confirms_blank
from inventory.answers.drive_rows import ALWAYS, LAST_ID, Book, EntryRow, Key, WipeRow
from inventory.models import Grade, Role, Verb, Wipe

YES, NO, NOT_KNOWN = "YES", "NO", "NOT KNOWN"


class Judged(Protocol):
    """What a wipe is judged by: the answer at that moment."""

    answer: str
    may_destroy: bool


@dataclass(frozen=True, slots=True)
class Start:
    """What made a drive known: content that ended by `clear` is gone, doubts before `known` are past."""

    known: Key | None = None
    clear: Key = ALWAYS
    looked: Key = ALWAYS
    by: str = ""
    looker: str = ""


@dataclass(frozen=True)
class WipeBook:
    """Answers of one moment over one book. `rows_before` hides wipe rows from that id on, and `job` that wipe."""

    book: Book
    at: datetime
    counted: Counted
    rows_before: int | None = None
    job: UUID | None = None
    _starts: dict[int, Start] = field(default_factory=dict)

    def without(self, job: UUID) -> WipeBook:
        """The same moment as if this wipe had never begun."""
        return WipeBook(self.book, self.at, self.counted, self.rows_before, job)

    @cached_property
    def content(self) -> ContentBook:
        return self.counted.content(self.at)

    def wipes(self, drive: int) -> list[WipeRow]:
        return [
            w
            for w in self.counted.of_drive(drive)
            if w.at <= self.at and w.job != self.job and (self.rows_before is None or w.id < self.rows_before)
        ]

    def start(self, drive: int) -> Start:
        """The newest thing that made it known, the events before it taken in order."""
        if drive not in self._starts:
            self._starts[drive] = self._find_start(drive)
        return self._starts[drive]

    def _find_start(self, drive: int) -> Start:
        events: list[tuple[Key, EntryRow | WipeRow]] = [
            (row.key, row)
            for row in self.content.scene.of_item.get(drive, ())
            if row.verb in {Verb.DECLARED_BLANK, Verb.CONTENT_GIVEN}
        ]
        events += [((w.at, LAST_ID), w) for w in self.wipes(drive) if w.step == Wipe.Step.VERIFIED]
        now = Start()
        for key, event in sorted(events, key=lambda pair: pair[0]):
            now = self._after(drive, now, key, event)
        return now

    def _after(self, drive: int, now: Start, key: Key, event: EntryRow | WipeRow) -> Start:
        if isinstance(event, WipeRow):
            begun = self.counted.begun(event)
            if begun is None or not self.counted.counts(event):
                return now
            return Start((begun.at, LAST_ID), (begun.at, LAST_ID), by=f"wiped and verified by {event.by}")
        before = [piece for piece in self.content.of(drive) if piece.end > now.clear and piece.start < key]
        if event.verb == Verb.DECLARED_BLANK:
            if not confirms_blank(event, before):
                return now
            return Start(key, key, by=f"declared blank by {event.by}: {event.note or event.value}")
        if event.role != Role.KIT_MANAGER or event.grade == Grade.IMPORT:
            return now
        return Start(key, now.clear, key, f"all its content given by {event.by}", event.by)

    def standing_pieces(self, drive: int, start: Start) -> list[Piece]:
        """What is on it since the start; a look settled the doubtful ones that others had made."""
        pieces = [piece for piece in self.content.of(drive) if piece.end > start.clear]
        return [p for p in pieces if not (_only_doubtful(p) and p.end <= start.looked and start.looker not in p.makers)]

    def still_holds(self, drive: int) -> list[Piece]:
        return self.standing_pieces(drive, self.start(drive))


def _only_doubtful(piece: Piece) -> bool:
    return "doubtful" in piece.marks and "corrected" not in piece.marks


class Counted:
    """Which wipes count, by present knowledge, worked out once each in the order their rows were added."""

    def __init__(self, book: Book, at: datetime, answer: Callable[[WipeBook, int], Judged]) -> None:
        self.book, self.at, self._answer = book, at, answer
        self._contents: dict[datetime, ContentBook] = {}
        self._words: dict[int, bool] = {}
        self._by_drive: dict[int, list[WipeRow]] = {}
        for row in sorted(book.wipes, key=lambda row: row.id):
            self._by_drive.setdefault(row.drive, []).append(row)

    def of_drive(self, drive: int) -> list[WipeRow]:
        return self._by_drive.get(drive, [])

    def content(self, at: datetime) -> ContentBook:
        if at not in self._contents:
            self._contents[at] = ContentBook(self.book, at)
        return self._contents[at]

    def begun(self, verified: WipeRow) -> WipeRow | None:
        rows = self.of_drive(verified.drive)
        return next((w for w in rows if w.job == verified.job and w.step == Wipe.Step.BEGUN), None)

    def counts(self, verified: WipeRow) -> bool:
        """YES when begun, two persons, and by what is known now still YES when verified."""
        if verified.id not in self._words:
            self._words[verified.id] = self._judge(verified)
        return self._words[verified.id]

    def _judge(self, verified: WipeRow) -> bool:
        begun = self.begun(verified)
        if begun is None or begun.by == verified.by:
            return False
        destroys = verified.method == Wipe.Method.DESTROY
        if begun.answer_at_step != YES and not destroys:
            return False
        then = WipeBook(self.book, verified.at, self, rows_before=verified.id, job=verified.job)
        answer = self._answer(then, verified.drive)
        return answer.answer == YES or (destroys and answer.may_destroy)
