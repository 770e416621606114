"""What the pages about drives show: each drive's place, content and answer, put together for reading."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from django.utils import timezone
from django.utils.safestring import SafeString

from inventory.answers.content import Piece, findings, members, running_on
from inventory.answers.custody import HEALTH
from inventory.answers.custody_lines import CustodyLine, HandedTogether, custody_of, together
from inventory.answers.drive_loading import book_for
from inventory.answers.drive_rows import LAST_ID, EntryRow
from inventory.answers.unpowered import Unpowered, unpowered
from inventory.answers.values import ItemRef, Reason, Whereabouts, told_in_one
from inventory.answers.whereabouts import whereabouts_of
from inventory.answers.wiping import (
    WipeAnswer,
    WipeBook,
    answer_drive,
    answer_set,
    drives_of_set,
    in_words,
    is_destroyed,
    open_book,
)
from inventory.drawings.bays import BayCell, BayState, bay_map
from inventory.models import DriveSet, Verb
from inventory.ways_out import EDITED, acts_that_end

MEANINGS = {"YES": "settled", "NO": "stop", "NOT KNOWN": "doubtful"}
CUSTODY = (Verb.HANDED_OVER, Verb.RECEIVED, Verb.PULLED, Verb.FITTED, Verb.JOINED, Verb.DROPPED, Verb.MISSED,
           Verb.FOUND, Verb.DECLARED_BLANK, Verb.RECORDING, Verb.STOPPED)  # fmt: skip
SHOWN = 30


@dataclass(frozen=True, slots=True)
class Interval:
    """One piece of content as the page lists it; `gone` once a counted wipe or a valid word ended it."""

    reference: str
    references: tuple[str, ...]
    start: datetime
    end: datetime | None
    marks: tuple[str, ...]
    grounds: tuple[str, ...]
    standing: str
    gone: bool
    source: str


@dataclass(frozen=True, slots=True)
class DriveCard:
    drive: ItemRef
    bay: str
    where: str
    intervals: tuple[Interval, ...]
    answer: WipeAnswer
    remarks: tuple[Reason, ...]
    is_member: bool
    fitted_in: str = ""
    seen: Whereabouts | None = None
    sets: tuple[DriveSet, ...] = ()
    health: tuple[EntryRow, ...] = ()
    unpowered: Unpowered | None = None

    @property
    def label(self) -> str:
        """How a list calls it: bay and serial, or that it left the set."""
        serial = self.drive.serial or self.drive.words
        if self.bay:
            return f"bay {self.bay}, {serial}"
        return serial if self.is_member else f"{serial}, no longer in the set"

    @property
    def meaning(self) -> str:
        return MEANINGS[self.answer.answer]


@dataclass(frozen=True, slots=True)
class Grouped:
    """One reason, said once, with the drives it is true of."""

    sentence: str
    way_out: str
    which: str
    word: str = ""
    drives: tuple[int, ...] = ()
    edits: tuple[ItemRef, ...] = ()

    @property
    def ended_by(self) -> tuple[str, ...]:
        """Keys of the acts of the page that end it; `edits` are drives whose own rows must be mended instead."""
        return acts_that_end(self.word)


@dataclass(frozen=True, slots=True)
class SetPage:
    drive_set: DriveSet
    answer: WipeAnswer
    cards: tuple[DriveCard, ...]
    cells: tuple[BayCell, ...]
    custody: tuple[tuple[EntryRow, str], ...]
    references: tuple[str, ...]
    recording: tuple[str, ...]
    unnamed: tuple[tuple[str, str], ...] = ()
    hands: tuple[CustodyLine, ...] = ()
    broken_up: EntryRow | None = None

    @property
    def meaning(self) -> str:
        return MEANINGS[self.answer.answer]

    @property
    def drawing(self) -> SafeString:
        return bay_map(self.cells, title=f"Bays of {self.drive_set}")

    @property
    def hands_together(self) -> tuple[HandedTogether, ...]:
        return together(self.hands)

    @property
    def unpowered(self) -> Unpowered | None:
        """The drive that has waited longest without power, if one has waited too long."""
        return min((c.unpowered for c in self.cards if c.unpowered), key=lambda one: one.since, default=None)

    @property
    def within_reach(self) -> int:
        """How many of its members are not in the hands of somebody outside."""
        return sum(card.is_member and not any(r.word == "with client" for r in card.answer.reasons)
                   for card in self.cards)  # fmt: skip

    @property
    def size(self) -> int:
        return sum(card.is_member for card in self.cards)

    @property
    def places(self) -> str:
        return "; ".join(dict.fromkeys(card.where for card in self.cards if card.is_member)) or "nobody said where"

    @property
    def says(self) -> str:
        """The answer's own sentence, to stand after its word."""
        said = self.answer.sentence.removeprefix(f"{self.answer.answer}: ")
        return said if said.startswith(self.answer.subject) else said[:1].upper() + said[1:]

    @property
    def grouped(self) -> tuple[Grouped, ...]:
        """Every reason with its way out, alike ones said once; those of drives that may be wiped only if all may."""
        if not self.answer.members:
            return tuple(Grouped(r.sentence, r.way_out, "", r.word) for r in self.answer.reasons)
        found: dict[tuple[str, str, str], list[tuple[DriveCard, Reason]]] = {}
        for card in self.cards:
            told = card.answer.reasons if card.answer.answer != "YES" or self.answer.answer == "YES" else ()
            for reason in told if not is_left_out(self.answer, card) else ():
                found.setdefault(reason.alike, []).append((card, reason))
        return tuple(_group(pairs) for pairs in found.values())


def _group(pairs: Sequence[tuple[DriveCard, Reason]]) -> Grouped:
    first = pairs[0][1]
    said = told_in_one([one for _, one in pairs])
    cards = list({card.drive.id: card for card, _ in pairs}.values())
    edits = tuple(card.drive for card in cards) if first.word == EDITED else ()
    drives = tuple(card.drive.id for card in cards)
    return Grouped(said, first.way_out, which(cards), first.word, drives, edits)


def is_left_out(answer: WipeAnswer, card: DriveCard) -> bool:
    return any(ref.id == card.drive.id for ref in answer.left_out)


def which(cards: Sequence[DriveCard]) -> str:
    return in_words((card.bay, card.drive) for card in cards)


def set_page(drive_set: DriveSet, at: datetime) -> SetPage:
    return set_pages([drive_set], at, with_evidence=True)[0]


def set_pages(sets: Sequence[DriveSet], at: datetime, *, with_evidence: bool = False) -> list[SetPage]:
    """The pages of some sets, read in one go; how sure each drive's place is only if asked, as lists do not show it."""
    wipe_book = open_book(book_for(sets=[one.pk for one in sets]), at)
    by_set = {one.pk: drives_of_set(wipe_book, one.pk) for one in sets}
    drives = sorted({drive for drives in by_set.values() for drive in drives})
    seen = whereabouts_of(drives, at) if with_evidence else {}
    return [_set_page(wipe_book, one, by_set[one.pk], seen) for one in sets]


def _set_page(
    wipe_book: WipeBook, drive_set: DriveSet, drives: Sequence[int], seen: Mapping[int, Whereabouts]
) -> SetPage:
    bays = members(wipe_book.content.scene, drive_set.pk, (wipe_book.at, LAST_ID))
    cards = [
        replace(card_of(wipe_book, drive, bays.get(drive, ""), is_member=drive in bays), seen=seen.get(drive))
        for drive in drives
    ]
    cards.sort(key=lambda card: (not card.is_member, card.bay or "~", card.drive.serial))
    pieces = [piece for drive in drives for piece in wipe_book.content.of(drive)]
    recordings = wipe_book.content.recordings
    open_ones = [r for r in recordings if r.stop is None and r.entry.drive_set == drive_set.pk]
    open_ones += [r for r in running_on(wipe_book.content, drives) if r not in open_ones]
    return SetPage(
        drive_set, answer_set(wipe_book, drive_set.name, list(drives), bays), tuple(cards), _cells(drive_set, cards),
        _custody(wipe_book, drive_set, drives), tuple(sorted({r for p in pieces for r in p.references})),
        tuple(one.entry.reference or "no show named" for one in open_ones), unnamed(wipe_book, drives),
        custody_of(wipe_book, drives)[: -4 * SHOWN - 1 : -1] if seen else (), _broken_up(wipe_book, drive_set),
    )  # fmt: skip


def _broken_up(wipe_book: WipeBook, drive_set: DriveSet) -> EntryRow | None:
    """The word that broke the set up, while no drive has joined it since to make it whole again."""
    rows = wipe_book.content.scene.verbs(Verb.BROKEN_UP, Verb.JOINED)
    own = [row for row in rows if row.drive_set == drive_set.pk]
    newest = max(own, key=lambda row: row.key, default=None)
    return newest if newest is not None and newest.verb == Verb.BROKEN_UP else None


def unnamed(wipe_book: WipeBook, drives: Sequence[int]) -> tuple[tuple[str, str], ...]:
    """Recordings on these drives that nobody has named: `drive:entry`, and words for the choice."""
    recordings = {str(one.entry.id) for one in wipe_book.content.recordings}
    found = {}
    for drive in drives:
        for piece in wipe_book.content.of(drive):
            if not piece.references and piece.source in recordings:
                start = timezone.localtime(piece.start[0])
                found.setdefault(piece.source, (f"{drive}:{piece.source}", f"recorded {start:%d %b %Y %H:%M}"))
    return tuple(found.values())


def card_of(wipe_book: WipeBook, drive: int, bay: str, *, is_member: bool = True) -> DriveCard:
    answer = answer_drive(wipe_book, drive)
    holding = dict.fromkeys(wipe_book.still_holds(drive), True)
    stands = {(held.source, held.start): held.standing for held in answer.content}
    intervals = tuple(_interval(piece, piece in holding, stands) for piece in wipe_book.content.of(drive))
    return DriveCard(
        wipe_book.book.things[drive].ref, bay, where_words(wipe_book, drive), intervals[::-1], answer,
        tuple(findings(wipe_book.content, drive)), is_member, _frame_words(wipe_book, drive),
        health=_health(wipe_book, drive), unpowered=next(iter(unpowered(wipe_book, [drive])), None),
    )  # fmt: skip


def _health(wipe_book: WipeBook, drive: int) -> tuple[EntryRow, ...]:
    """Named health checks and reported faults, newest first."""
    rows = wipe_book.content.scene.of_item.get(drive, ())
    told = [r for r in rows if r.verb in (Verb.FAULTED, Verb.MENDED) or (r.verb == Verb.CHECKED and r.rule == HEALTH)]
    return tuple(told[::-1])


def _interval(piece: Piece, holds: bool, stands: dict[tuple[str, datetime], str]) -> Interval:
    standing = stands.get((piece.source, piece.start[0]), "accepted" if holds else "gone")
    end = None if piece.is_open else piece.end[0]
    return Interval(
        piece.called,
        piece.references,
        piece.start[0],
        end,
        tuple(sorted(piece.marks)),
        piece.grounds,
        standing,
        not holds,
        piece.source,
    )


def where_words(wipe_book: WipeBook, drive: int) -> str:
    """Where a drive is by the book, from the inside out. How sure that is stands on the drive's own page."""
    if is_destroyed(wipe_book, drive):
        return "destroyed"
    book, names = wipe_book.book, []
    for stay in wipe_book.content.scene.chain(drive, (wipe_book.at, LAST_ID)):
        place = book.places.get(stay.where)
        if place is not None:
            names.append(book.words(place.item) if place.item else place.name)
    return ", ".join(names) or "nobody said where"


def _frame_words(wipe_book: WipeBook, drive: int) -> str:
    chain = wipe_book.content.scene.chain(drive, (wipe_book.at, LAST_ID))
    frame = wipe_book.content.scene.frame_of(chain[0]) if chain else None
    return wipe_book.book.words(frame) if frame else ""


def bays_of(wipe_book: WipeBook, drive: int) -> dict[int, str]:
    """The sets in which a drive is a member now, each with its bay."""
    scene, now = wipe_book.content.scene, (wipe_book.at, LAST_ID)
    found = {one: members(scene, one, now) for one in wipe_book.book.sets}
    return {one: bays[drive] for one, bays in found.items() if drive in bays}


def _cells(drive_set: DriveSet, cards: Sequence[DriveCard]) -> tuple[BayCell, ...]:
    """Every bay of the set in its order, the empty ones too."""
    by_bay: dict[str, list[DriveCard]] = {bay: [] for bay in drive_set.bay_labels}
    for card in cards:
        if card.is_member:
            by_bay.setdefault(card.bay, []).append(card)
    return tuple(_cell(bay, found) for bay, found in by_bay.items())


def _cell(bay: str, found: list[DriveCard]) -> BayCell:
    if not found:
        return BayCell(bay or "none", state=BayState.EMPTY, words="no drive has joined")
    if len(found) > 1:
        tails = " and ".join(card.drive.serial[-6:] for card in found)
        return BayCell(bay or "none", found[0].drive.serial[-6:], BayState.WRONG, f"{len(found)} for one bay: {tails}")
    card = found[0]
    words = f"{card.answer.answer} · {card.where}"
    return BayCell(bay or "none", card.drive.serial[-6:], _state(card), words)


def _state(card: DriveCard) -> str:
    if card.fitted_in:
        return BayState.FITTED
    return BayState.IN_BOX if "," in card.where else BayState.ELSEWHERE


def _custody(wipe_book: WipeBook, drive_set: DriveSet, drives: Collection[int]) -> tuple[tuple[EntryRow, str], ...]:
    """The newest entries about these drives and their recordings, newest first, each with a sentence."""
    rows = [
        row for row in wipe_book.content.scene.verbs(*CUSTODY)
        if row.item in drives or row.drive_set == drive_set.pk
    ]  # fmt: skip
    return tuple((row, _told(wipe_book, row)) for row in rows[: -SHOWN - 1 : -1])


def _told(wipe_book: WipeBook, row: EntryRow) -> str:
    book = wipe_book.book
    subject = book.words(row.item) if row.item else book.sets[row.drive_set or 0].name
    place = book.places.get(row.place) if row.place else None
    into = f" · {book.words(place.item) if place.item else place.name}" if place else ""
    bay = f" {row.bay}" if row.bay else ""
    reference = f" · {row.reference}" if row.reference else ""
    return f"{subject}: {Verb(row.verb).label}{into}{bay}{reference}"
