"""May we wipe it? NO, NOT KNOWN or YES, with every reason and its way out. Never inferred from silence."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from inventory.answers import custody
from inventory.answers.content import Piece, drives_of, members
from inventory.answers.custody import Doubt
from inventory.answers.drive_loading import book_for
from inventory.answers.drive_rows import ALWAYS, LAST_ID, Book
from inventory.answers.releases import Standing, standing
from inventory.answers.starts import NO, NOT_KNOWN, YES, Counted, Start, WipeBook
from inventory.answers.stops import is_destroyed, stops
from inventory.answers.values import ItemRef, Reason
from inventory.folding import natural
from inventory.models import DriveSet, Entry, Item, Kind, Verb
from inventory.naming import item_named, set_named

WORST = (NO, NOT_KNOWN, YES)
GIVE_SHOWS = (Verb.RECORDING, Verb.CONTENT_GIVEN)
MAY_BE_DESTROYED = frozenset({"suspect", "unreadable serial"})


@dataclass(frozen=True, slots=True)
class Held:
    """One piece as an answer shows it."""

    reference: str
    start: datetime
    end: datetime | None
    marks: tuple[str, ...]
    standing: str
    grounds: tuple[str, ...]
    released_by: tuple[str, ...] = ()
    releases: tuple[int, ...] = ()
    source: str = ""


@dataclass(frozen=True, slots=True)
class WipeAnswer:
    """The answer for one drive, or for a set (`members` then holds each drive's own)."""

    answer: str
    sentence: str
    at: datetime
    subject: str
    reasons: tuple[Reason, ...] = ()
    drive: ItemRef | None = None
    content: tuple[Held, ...] = ()
    known_since: datetime | None = None
    known_by: str = ""
    doubts: tuple[Doubt, ...] = ()
    members: tuple[WipeAnswer, ...] = ()
    left_out: tuple[ItemRef, ...] = ()
    may_destroy: bool = False


def open_book(book: Book, at: datetime) -> WipeBook:
    """Read a book at one moment; earlier wipes are judged by what is known now."""
    return WipeBook(book, at, Counted(book, at, answer_drive))


def answer_drive(wb: WipeBook, drive: int) -> WipeAnswer:
    """The wipe answer of one drive."""
    thing = wb.book.things[drive]
    start = wb.start(drive)
    pieces = wb.standing_pieces(drive, start)
    accepted = _accepted(wb, drive)
    pieces = [piece for piece in pieces if not _is_settled(wb, piece, accepted)]
    stands = {piece: standing(wb.content, piece) for piece in pieces}
    against = stops(wb, drive, pieces, stands)
    doubts = _doubts(wb, drive, start, pieces, stands)
    open_doubts = [doubt for doubt in doubts if not _accepts(accepted, doubt)]
    answer = NO if against else NOT_KNOWN if open_doubts else YES
    reasons = against + [doubt.reason for doubt in open_doubts]
    since = start.known[0] if start.known else None
    if answer == YES:
        reasons = _grounds_of_yes(wb, drive, pieces, stands, start)
    return WipeAnswer(
        answer, _sentence(thing.words, answer, reasons, pieces, since), wb.at, thing.words, tuple(reasons), thing.ref,
        tuple(_held(piece, stands[piece]) for piece in pieces), since, start.by,
        tuple(doubt for doubt in open_doubts if doubt.acceptable),
        may_destroy=_may_destroy(against, open_doubts, stands),
    )  # fmt: skip


def _may_destroy(against: list[Reason], doubts: list[Doubt], stands: dict[Piece, Standing]) -> bool:
    """A suspect drive may be destroyed if every piece is released; nothing else may stand in the way."""
    released = all(one.word == "released" for one in stands.values())
    return not against and released and all(doubt.word in MAY_BE_DESTROYED for doubt in doubts)


def _accepted(wb: WipeBook, drive: int) -> dict[str, set[str]]:
    """Digest to the names that accepted it. By what is known now: a later acceptance counts for an earlier wipe."""
    found: dict[str, set[str]] = {}
    for row in wb.book.acceptances:
        if row.drive == drive and row.entered_at <= wb.counted.at:
            found.setdefault(row.digest, set()).add(row.by)
    return found


def _accepts(accepted: dict[str, set[str]], doubt: Doubt) -> bool:
    return doubt.acceptable and bool(accepted.get(doubt.digest, set()) - doubt.makers)


def _is_settled(wb: WipeBook, piece: Piece, accepted: dict[str, set[str]]) -> bool:
    """A doubtful or taken-back piece whose every mark was accepted by somebody else is no content."""
    return not piece.is_sure and all(_accepts(accepted, doubt) for doubt in _marks(wb, piece))


def _marks(wb: WipeBook, piece: Piece) -> list[Doubt]:
    return [_mark(wb, piece, mark) for mark in sorted(piece.marks)]


MARK_WORDS = {
    "reconstructed": "The times of {what} were told afterwards.",
    "doubtful": "It may hold {what}: {grounds}.",
    "corrected": "That it holds {what} was taken back by {makers}.",
}


def _mark(wb: WipeBook, piece: Piece, mark: str) -> Doubt:
    what = f"{piece.called} of {piece.start[0]:%d %b %H:%M}"
    makers = " and ".join(sorted(piece.makers)) or "nobody"
    sentence = MARK_WORDS[mark].format(what=what, grounds=", ".join(piece.grounds), makers=makers)
    facts = (piece.source, piece.start[0].isoformat(), piece.end[0].isoformat(), *piece.references)
    makers = _told_afterwards_by(wb, piece) if mark == "reconstructed" else piece.makers
    return Doubt(piece.drive, mark, sentence, custody.KIT_ACCEPTS, piece.entries, makers, facts)


def _told_afterwards_by(wb: WipeBook, piece: Piece) -> frozenset[str]:
    """Who stated the times: nobody accepts his own word for them."""
    return frozenset(row.by for row in wb.book.entries if row.stated and row.id in piece.entries)


def _doubts(wb: WipeBook, drive: int, start: Start, pieces: list[Piece], stands: dict[Piece, Standing]) -> list[Doubt]:
    """Everything that makes it NOT KNOWN."""
    found = [] if start.known else [_no_start(drive, pieces)]
    for piece in pieces:
        if stands[piece].word == "unsure release":
            one = stands[piece]
            found.append(Doubt(drive, "unsure release", one.sentence, one.way_out, piece.entries, acceptable=False))
        found += _marks(wb, piece)
    found += custody.doubts_since(wb.content, drive, start.known or ALWAYS)
    return found + custody.standing_doubts(wb.content, drive, wb.wipes(drive))


def _no_start(drive: int, pieces: list[Piece]) -> Doubt:
    sentence = "Nobody has said what was on it before." if pieces else "Nobody has said what is on it."
    way_out = (
        "A kit manager looks, and says what all is on it." if pieces
        else "A kit manager looks, and declares it blank or says what is on it."
    )  # fmt: skip
    return Doubt(drive, "no start", sentence, way_out, acceptable=False)


def _grounds_of_yes(
    wb: WipeBook, drive: int, pieces: list[Piece], stands: dict[Piece, Standing], start: Start
) -> list[Reason]:
    """Released by whom, when, on what evidence; or since when nothing is on it."""
    if not pieces:
        known = start.known or ALWAYS
        return [Reason("nothing on it", f"Nothing on it since {known[0]:%d %b %Y}: {start.by}.", items=(drive,))]
    found = {}
    for piece in pieces:
        for one in stands[piece].releases[-1:]:
            sentence = f"{piece.called} was released by {one.person_name} on {one.effective:%d %b %Y}: {one.evidence}."
            found[sentence] = Reason("released", sentence, "", piece.entries, (drive,))
    return list(found.values())


def _sentence(words: str, answer: str, reasons: list[Reason], pieces: list[Piece], since: datetime | None) -> str:
    if answer == YES and not pieces and since:
        return f"YES: {words} may be wiped. Nothing on it since {since:%d %b %Y}."
    first = reasons[0].sentence if reasons else ""
    more = f" And {len(reasons) - 1} more." if len(reasons) > 1 else ""
    may = {YES: "may be wiped", NO: "may not be wiped", NOT_KNOWN: "may not be wiped yet: nobody knows enough"}[answer]
    return f"{answer}: {words} {may}. {first}{more}".strip()


def _held(piece: Piece, one: Standing) -> Held:
    end = None if piece.is_open else piece.end[0]
    names = tuple(sorted({r.person_name for r in one.releases})) if one.word == "released" else ()
    releases = tuple(r.id for r in one.releases) if one.word == "released" else ()
    marks = tuple(sorted(piece.marks))
    return Held(piece.called, piece.start[0], end, marks, one.word, piece.grounds, names, releases, piece.source)


def drives_of_set(wb: WipeBook, drive_set: int) -> list[int]:
    """Its members now, and every drive that still holds what the set recorded."""
    now = set(_bays(wb, drive_set))
    held = {d for d in wb.book.drives if any(p.drive_set == drive_set for p in wb.still_holds(d))}
    return sorted(now | held)


def answer_set(wb: WipeBook, name: str, drives: list[int], bays: Mapping[int, str] | None = None) -> WipeAnswer:
    """The worst member decides; destroyed drives are named and left out; no drive at all is NOT KNOWN.

    `bays`: of its members now, which its sentence calls by them.
    """
    gone = tuple(wb.book.things[d].ref for d in drives if is_destroyed(wb, d))
    answers = tuple(answer_drive(wb, d) for d in drives if not is_destroyed(wb, d))
    if not answers:
        way_out = "A road lead or a kit manager says which drives joined it; then ask again."
        reason = Reason("no drives", f"No drive of {name} is known.", way_out)
        sentence = f"NOT KNOWN: no drive of {name} is known, so nobody can say."
        return WipeAnswer(NOT_KNOWN, sentence, wb.at, name, (reason,), left_out=gone)
    word = min((one.answer for one in answers), key=WORST.index)
    stopping = [one for one in answers if one.answer == word]
    reasons = tuple(r for one in answers if one.answer != YES or word == YES for r in _named(one))
    sentence = _set_sentence(name, word, answers, stopping, bays or {})
    return WipeAnswer(word, sentence, wb.at, name, reasons, members=answers, left_out=gone)


def _named(one: WipeAnswer) -> list[Reason]:
    return [
        Reason(r.word, f"{one.subject}: {r.sentence}", r.way_out, r.entries, r.items) for r in one.reasons
    ]  # fmt: skip


def _set_sentence(
    name: str, word: str, answers: tuple[WipeAnswer, ...], stopping: list[WipeAnswer], bays: Mapping[int, str]
) -> str:  # fmt: skip
    judged = len(answers)
    if word == YES:
        return f"YES: {f'all {judged} drives' if judged > 1 else 'the one drive'} of {name} may be wiped."
    may = "may not be wiped" if word == NO else "may not be wiped yet, because nobody knows enough"
    which = in_words([(bays.get(one.drive.id, ""), one.drive) for one in stopping if one.drive])
    some = f"{len(stopping)} of {judged} drives stand{'s' if len(stopping) == 1 else ''}"
    return f"{word}: {name} {may}: {some if judged > 1 else 'its one drive stands'} in the way, {which}."


def in_words(drives: Iterable[tuple[str, ItemRef]]) -> str:
    """Bays by their letters, drives in none by serial: `bays A, B and drive 71B04K`."""
    drives = list(drives)
    bays = sorted({bay for bay, _ in drives if bay}, key=natural)
    others = sorted({one.serial or one.words for bay, one in drives if not bay}, key=natural)
    parts = [f"bay{'s' if len(bays) > 1 else ''} {', '.join(bays)}"] if bays else []
    parts += [f"drive{'s' if len(others) > 1 else ''} {', '.join(others)}"] if others else []
    return " and ".join(parts)


def _bays(wb: WipeBook, drive_set: int) -> dict[int, str]:
    return members(wb.content.scene, drive_set, (wb.at, LAST_ID))


def wipe_answer(subject: Item | DriveSet, at: datetime) -> WipeAnswer:
    """The answer for one drive or one set. `ValueError` if the thing is no drive."""
    if isinstance(subject, DriveSet):
        return wipe_answers_of_sets([subject], at)[subject.pk]
    if subject.type.kind != Kind.DRIVE:
        raise ValueError(f"{subject} is no drive: only drives hold content that can be wiped.")
    return wipe_answers([subject], at)[subject.pk]


def wipe_answers(drives: Iterable[Item], at: datetime) -> dict[int, WipeAnswer]:
    """The answers of some drives, read together."""
    ids = [drive.pk for drive in drives]
    wipe_book = open_book(book_for(drives=ids), at)
    return {pk: answer_drive(wipe_book, pk) for pk in ids}


def wipe_answers_of_sets(sets: Iterable[DriveSet], at: datetime) -> dict[int, WipeAnswer]:
    """The answers of some sets, read together, each drive's own among the members."""
    sets = list(sets)
    wipe_book = open_book(book_for(sets=[one.pk for one in sets]), at)
    return {
        one.pk: answer_set(wipe_book, one.name, drives_of_set(wipe_book, one.pk), _bays(wipe_book, one.pk))
        for one in sets
    }


def wipe_answer_of_show(reference: str, at: datetime) -> WipeAnswer:
    """The answer for "the set of that show": every drive that ever held it."""
    wipe_book = open_book(book_for(references=[reference]), at)
    return answer_set(wipe_book, f"the set of {reference}", drives_of(wipe_book.content, reference))


def wiping_subject(text: str) -> Item | DriveSet | str | None:
    """A set by its name, a drive by code or serial, a show by its code; None if none is known."""
    words = text.strip()
    found = set_named(words)
    if found is not None:
        return found
    item = item_named(words)
    if item is not None and item.type.kind == Kind.DRIVE:
        return item
    return (
        words.upper() if words and Entry.objects.filter(reference=words.upper(), verb__in=GIVE_SHOWS).exists() else None
    )


def ask_wiping(subject: Item | DriveSet | str, at: datetime) -> WipeAnswer:
    """The answer for whatever was asked about."""
    return wipe_answer_of_show(subject, at) if isinstance(subject, str) else wipe_answer(subject, at)
