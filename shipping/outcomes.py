"""What became of each thing that left with a show: exactly one outcome each. Pure: rows in, lines out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from uuid import UUID

from inventory.answers import likely
from inventory.answers.likely import LookHere, Point, ranked_by_name
from inventory.answers.values import Evidence, ItemRef, Strength


class Outcome(StrEnum):
    BACK = "back"
    BACK_SEALED = "back sealed, not opened"
    SHORT = "short"
    DAMAGED = "damaged"
    LEFT = "left in place (agreed)"
    CLIENT = "with client"
    ELSEWHERE = "elsewhere"
    MISSED = "missed"
    NOT_LOOKED = "not looked for"
    NEVER = "never confirmed packed"


SETTLED = (Outcome.BACK, Outcome.BACK_SEALED)
UNSEEN = (Outcome.NOT_LOOKED, Outcome.BACK_SEALED, Outcome.NEVER)  # could still be in their case
# A thing known so at departure was never seen going in by anybody.
UNCONFIRMED = (Strength.SAID, Strength.PLANNED_ONLY, Strength.UNKNOWN, Strength.MISSING)


@dataclass(frozen=True, slots=True)
class Spot:
    """Where one entry put or saw a thing: the outermost place then, and the case or frame right around it."""

    entry: UUID
    verb: str
    grade: str
    by: str
    at: datetime
    fixed_place: int | None
    fixed_kind: str
    fixed_name: str
    in_store: bool
    holder: int | None  # the item it was in, if it was in one
    store: int | None = None
    person: str = ""
    person_is_ours: bool = True
    due_at: datetime | None = None
    note: str = ""
    condition: str = ""
    quantity: int | None = None
    reference: str = ""
    places: bool = False

    @property
    def own_look(self) -> bool:
        """A scan or a tick of the thing itself: evidence that it was there."""
        return self.grade in ("scan", "tick") and self.verb not in ("missed", "amended", "signed", "corrected")


@dataclass(frozen=True, slots=True)
class Gone:
    """One thing that left: with which departure, in what, how sure."""

    item: ItemRef
    type_id: int
    type_name: str
    system: str
    departed: Evidence
    road: int | None
    left_from: int | None
    left_from_name: str
    mover: ItemRef
    case: ItemRef | None
    strength: Strength
    count: int = 1
    is_lot: bool = False
    is_case: bool = False
    home_case: str = ""
    prone: bool = False
    hired_from: str = ""
    off_hire_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Now:
    """Where a thing is by present knowledge, as far as its outcome asks."""

    strength: Strength
    sentence: str
    place: int | None
    kind: str
    name: str
    in_store: bool
    store: int | None = None  # the store that the place is, or is in
    person_is_ours: bool = True
    case: ItemRef | None = None
    case_is_back: bool = False
    case_left: Spot | None = None  # the case it is still in by the book was left in place: this entry says so
    evidence: Evidence | None = None


@dataclass(frozen=True, slots=True)
class Line:
    """One thing and what became of it. A swap holds two serials: what left, and the alike one that came instead."""

    item: ItemRef
    outcome: Outcome
    sentence: str
    left_in: ItemRef | None
    is_case: bool
    strength_then: Strength
    where_now: str
    evidence: Evidence | None = None
    other: ItemRef | None = None
    other_outcome: Outcome | None = None
    condition: str = ""
    due_at: datetime | None = None
    person: str = ""
    likely: tuple[LookHere, ...] = ()
    remarks: tuple[str, ...] = ()
    hired_from: str = ""
    runaway: bool = False

    @property
    def settled(self) -> bool:
        return self.outcome in SETTLED


def outcome_of(gone: Gone, since: Sequence[Spot], now: Now, reference: str) -> tuple[Outcome, Spot | None]:
    """The one outcome of a thing, and the entry that decides it. `since`: its entries after it left, oldest first."""
    back = next((spot for spot in since if spot.own_look and spot.in_store), None)
    missed = _missed(since, back, reference)
    if missed is not None:
        return Outcome.MISSED, missed
    ended = next((spot for spot in reversed(since) if spot.verb in ENDED), None)
    if ended is not None and back is None:
        return ENDED[ended.verb], ended
    if back is not None:
        return _how_it_came_back(gone, since, back)
    return _not_back(gone, since, now)


DAMAGE = ("damaged", "broken", "wet", "faulty")
ENDED = {"consumed": Outcome.SHORT, "written off": Outcome.DAMAGED}


def _missed(since: Sequence[Spot], back: Spot | None, reference: str) -> Spot | None:
    """The newest word is that somebody looked and it was not there. Once back, only this show's word undoes that."""
    newest = next((s for s in reversed(since) if s.places or s.own_look or s.verb in ("found", "missed")), None)
    if newest is None or newest.verb != "missed":
        return None
    return newest if back is None or newest.reference in ("", reference) else None


def _how_it_came_back(gone: Gone, since: Sequence[Spot], back: Spot) -> tuple[Outcome, Spot]:
    counted = next((s for s in reversed(since) if s.verb == "counted" and s.quantity is not None), None)
    if gone.is_lot and counted is not None and counted.quantity < gone.count:
        return Outcome.SHORT, counted
    word = next((s for s in reversed(since) if s.verb in ("faulted", "mended") or s.condition), None)
    if word is not None and (word.verb == "faulted" or word.condition in DAMAGE):
        return Outcome.DAMAGED, word
    return Outcome.BACK, back


def _not_back(gone: Gone, since: Sequence[Spot], now: Now) -> tuple[Outcome, Spot | None]:
    newest = next((spot for spot in reversed(since) if spot.places), None)
    if newest is not None and newest.verb == "left":
        return Outcome.LEFT, newest
    if now.case_left is not None:
        return Outcome.LEFT, now.case_left
    if now.kind == "person":
        return (Outcome.ELSEWHERE if now.person_is_ours else Outcome.CLIENT), newest
    if now.strength == Strength.SEALED_IN and now.in_store and now.case_is_back:
        return Outcome.BACK_SEALED, newest
    if newest is None and gone.strength in UNCONFIRMED and not any(spot.own_look for spot in since):
        return Outcome.NEVER, None
    if now.kind == "road" and now.place != gone.road:
        return Outcome.ELSEWHERE, newest
    if now.in_store and now.store != gone.left_from:
        return Outcome.ELSEWHERE, newest
    return Outcome.NOT_LOOKED, newest


def sentence_of(gone: Gone, outcome: Outcome, by: Spot | None, now: Now) -> str:
    """What became of it, in words; who and when stand beside it."""
    name = called(gone.item)
    if outcome == Outcome.BACK:
        return f"{name} is back at {by.fixed_name}, seen by {by.by}."
    if outcome == Outcome.BACK_SEALED:
        return f"{name} came back in {now.case.words if now.case else 'its case'}, sealed and not opened."
    if outcome == Outcome.SHORT:
        return f"{name}: {by.quantity} of {gone.count} came back." if by.verb == "counted" else f"{name} was used up."
    if outcome == Outcome.DAMAGED:
        words = by.note or by.condition or by.verb
        return f"{name} was written off." if by.verb in ENDED else f"{name} came back damaged: {words} ({by.by})."
    if outcome == Outcome.LEFT:
        with_case = f" with {gone.case.words}" if by == now.case_left and gone.case else ""
        return f"{name} was left{with_case} at {by.fixed_name}{_note(by)}{_promise(by)}."
    if outcome == Outcome.CLIENT:
        return f"{name} is with {now.name}{_promise(by) if by else ''}."
    if outcome == Outcome.ELSEWHERE:
        return f"{name} is elsewhere: {now.name}."
    if outcome == Outcome.MISSED:
        return f"{name} was looked for and not found ({by.by}){_note(by)}."
    if outcome == Outcome.NEVER:
        return f"{name} left by the plan only: nobody saw it packed, and nobody has seen it since."
    return f"Nobody has looked for {name} since it left{_last_known(now)}."


def called(item: ItemRef) -> str:
    if item.number or not item.serial or item.serial[-6:] in item.name:
        return item.words
    return f"{item.name} {item.serial}"


def _note(spot: Spot) -> str:
    return f" ({spot.note})" if spot.note else ""


def _promise(spot: Spot) -> str:
    if not spot.due_at:
        return ""
    return f", promised back for {spot.due_at:%-d %B}{f' by {spot.person}' if spot.person else ''}"


def _last_known(now: Now) -> str:
    return f"; by the book it is at {now.name}" if now.name else ""


def likely_places(gone: Gone, outcome: Outcome, since: Sequence[Spot], now: Now) -> tuple[LookHere, ...]:
    """Where to look first, best first, each with why. Nothing for what is back, or where a person agreed it is."""
    if outcome in (*SETTLED, Outcome.LEFT, Outcome.CLIENT, Outcome.SHORT, Outcome.DAMAGED):
        return ()
    return ranked_by_name(_guesses(gone, since, now))


def _guesses(gone: Gone, since: Sequence[Spot], now: Now) -> Iterator[tuple[str, Point]]:
    if gone.strength in UNCONFIRMED:
        yield gone.left_from_name, Point(likely.NEVER_PACKED, "nobody saw it packed: it may never have left")
    seen = next((spot for spot in reversed(since) if spot.own_look), None)
    if seen is not None and seen.fixed_name:
        yield seen.fixed_name, Point(likely.SEEN, f"{seen.by} saw it there on {seen.at:%-d %B at %H:%M}")
    if gone.case is not None:
        yield from _in_its_case(gone, now)
    if gone.prone:
        words = "it is one of the things that get left behind: sockets, rack rear, desk"
        yield "the room it was used in", Point(likely.LEFT_OFTEN, words)
    if gone.home_case:
        yield gone.home_case, Point(likely.HOME, "it lives there")


def _in_its_case(gone: Gone, now: Now) -> Iterator[tuple[str, Point]]:
    if not now.case_is_back:
        words = f"the case it left in is not back{f' ({now.name})' if now.name else ''}"
        yield gone.case.words, Point(likely.STILL_OUT, words)
    elif now.case is not None and now.case.id == gone.case.id:
        words = "the case it left in is back and nobody has looked for it there"
        yield gone.case.words, Point(likely.UNOPENED, words)
