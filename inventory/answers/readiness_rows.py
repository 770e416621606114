"""What a verdict on a system stands on, and what it says: small frozen rows."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from uuid import UUID

from inventory.answers.twins import Twin
from inventory.answers.values import ItemRef, Reason, Strength, Verdict, Whereabouts

AT_HAND = (Strength.SEEN, Strength.SEALED_IN, Strength.CARRIED)


@dataclass(frozen=True, slots=True)
class Fault:
    """A fault that nobody has closed since it was reported."""

    entry: UUID
    at: datetime
    by: str
    words: str


@dataclass(frozen=True, slots=True)
class Promise:
    """A thing left or handed over: who said it would come back, and when."""

    verb: str
    place: str
    person: str
    due_at: datetime | None
    note: str
    entry: UUID


@dataclass(frozen=True, slots=True)
class Candidate:
    """One physical thing that can fill a part, and all that is known of it."""

    item: ItemRef
    where: Whereabouts
    quantity: int = 1
    is_lot: bool = False
    in_our_store: bool = False
    in_quarantine: bool = False
    case: ItemRef | None = None
    case_system: str = ""
    home_case: str = ""
    promise: Promise | None = None
    faults: tuple[Fault, ...] = ()
    inspection_due: date | None = None
    inspection_asked: bool = False
    labelled: bool = True
    hired_from: str = ""
    off_hire_at: datetime | None = None
    retired: bool = False

    @property
    def pieces(self) -> int:
        """How many of what a part wants it is: all of a lot, else one."""
        return self.quantity if self.is_lot else 1

    @property
    def at_hand(self) -> bool:
        return self.in_our_store and self.where.strength in AT_HAND and not self.in_quarantine

    @property
    def by_word_only(self) -> bool:
        """In a store of ours as far as anybody said, but not seen there since the case was open."""
        return self.in_our_store and self.where.strength in (
            Strength.WAS_IN_HERE,
            Strength.SAID,
            Strength.PLANNED_ONLY,
        )


@dataclass(frozen=True, slots=True)
class PartLine:
    """One line of what makes the system whole, with what fills it."""

    id: int
    name: str
    necessity: str
    wanted: int
    requirement: str = ""
    show_stopper: bool = False
    left_behind_prone: bool = False
    by_serial: bool = True
    fills: tuple[Candidate, ...] = ()

    @property
    def at_hand(self) -> int:
        return sum(one.pieces for one in self.fills if one.at_hand)

    @property
    def in_stock(self) -> int:
        return sum(one.pieces for one in self.fills if not one.retired)

    @property
    def required(self) -> bool:
        return self.necessity == "required"


@dataclass(frozen=True, slots=True)
class SystemRows:
    """Everything the verdict on one system stands on."""

    name: str
    parts: tuple[PartLine, ...]
    twins: tuple[Twin, ...] = ()
    sets: tuple[tuple[str, Verdict], ...] = ()
    needs_set: bool = False


@dataclass(frozen=True, slots=True)
class Act:
    """One step of the path to ready. `minutes` is an estimate; None where only the people there can say."""

    act: str
    who: str
    minutes: int | None
    sentence: str
    items: tuple[int, ...] = ()

    @property
    def how_long(self) -> str:
        return "not known" if self.minutes is None else minutes_in_words(self.minutes)


@dataclass(frozen=True, slots=True)
class Readiness:
    """`answer` is READY or NOT READY; `path` are the acts that end the reasons, fewest first."""

    answer: str
    sentence: str
    system: str
    on: date
    at: datetime
    reasons: tuple[Reason, ...] = ()
    remarks: tuple[Reason, ...] = ()
    path: tuple[Act, ...] = ()
    path_sentence: str = ""
    parts: tuple[PartLine, ...] = field(default=())
    twins: tuple[Twin, ...] = field(default=())


def minutes_in_words(minutes: int) -> str:
    """2 h 10, or 40 min."""
    hours, rest = divmod(minutes, 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest:02d}" if rest else f"{hours} h"
