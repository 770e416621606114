"""What every answer is made of: a word, a sentence, and reasons that stand on entries."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, field, is_dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from typing import Any
from uuid import UUID


class Strength(StrEnum):
    """How sure a place is, strongest first (ledger P9)."""

    SEEN = "seen"
    SEALED_IN = "sealed in"
    CARRIED = "carried"
    WAS_IN_HERE = "was in here"
    SAID = "said"
    PLANNED_ONLY = "planned only"
    IN_DISPUTE = "in dispute"
    UNKNOWN = "place unknown"
    MISSING = "missing"

    @property
    def rank(self) -> int:
        return _RANKS[self]


_RANKS = {strength: rank for rank, strength in enumerate(Strength)}


@dataclass(frozen=True, slots=True)
class ItemRef:
    """An item as answers name it."""

    id: int
    code: str
    number: str
    name: str
    serial: str = ""

    @property
    def words(self) -> str:
        return self.number or self.name


@dataclass(frozen=True, slots=True)
class PlaceRef:
    id: int
    kind: str
    name: str
    item_id: int | None = None


@dataclass(frozen=True, slots=True)
class Evidence:
    """One entry as a witness: who, how, when."""

    entry: UUID
    verb: str
    grade: str
    by: str
    at: datetime
    stated: bool = False
    clock_doubtful: bool = False
    seal: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason of an answer. `way_out` says what ends it; `entries` are what it stands on.

    Where the same may be true of several things, `who` is the one it is said of and `shared` the rest of the sentence.
    """

    word: str
    sentence: str
    way_out: str = ""
    entries: tuple[UUID, ...] = ()
    items: tuple[int, ...] = ()
    who: str = ""
    shared: str = ""

    @property
    def alike(self) -> tuple[str, str, str]:
        """What reasons that may be told in one have the same."""
        return self.word, self.shared or self.sentence, self.way_out


def sentence_of(who: Sequence[str], shared: str) -> str:
    """What is true of each of these, as one sentence."""
    names = list(dict.fromkeys(who))
    said = names[0] if len(names) == 1 else f"each of {', '.join(names)}"
    return f"{said[:1].upper()}{said[1:]} {shared}"


def told_in_one(alike: Sequence[Reason]) -> str:
    """The one sentence of reasons that are alike."""
    first = alike[0]
    return sentence_of([one.who for one in alike], first.shared) if first.shared else first.sentence


@dataclass(frozen=True, slots=True)
class Link:
    """`item` is in `place` (bay `bay`), this sure, on this evidence."""

    item: ItemRef
    place: PlaceRef | None
    bay: str
    strength: Strength
    placing: Evidence | None = None
    evidence: Evidence | None = None
    seal: str = ""
    remark: str = ""
    cites: tuple[UUID, ...] = ()  # the entries that, alone, give the same link


@dataclass(frozen=True, slots=True)
class Whereabouts:
    """The chain from an item outward to a place that does not move."""

    item: ItemRef
    at: datetime
    links: tuple[Link, ...]
    strength: Strength
    since: datetime | None
    sentence: str
    reasons: tuple[Reason, ...] = field(default=())

    @property
    def answer(self) -> str:
        return self.strength.value

    @property
    def fixed_place(self) -> PlaceRef | None:
        """The outermost place of the chain, if the chain reaches one."""
        return self.links[-1].place if self.links else None


@dataclass(frozen=True, slots=True)
class ContentLine:
    """One thing expected here, found here, or both. `state`: here · elsewhere · extra."""

    item: ItemRef
    expected: bool
    here: bool
    bay: str
    home_bay: str
    strength: Strength | None
    link: Link | None
    remark: str = ""


@dataclass(frozen=True, slots=True)
class Contents:
    place: PlaceRef
    at: datetime
    lines: tuple[ContentLine, ...]
    sentence: str
    reasons: tuple[Reason, ...] = ()
    total: int = 0  # how many things are here; `lines` may be the first page of them
    seal: str = ""  # the seal that holds, if any
    stands: str = ""  # of a container: where it is itself, in a sentence, and how sure that is since when
    stands_sure: Strength | None = None
    stands_since: datetime | None = None

    @property
    def answer(self) -> str:
        """as expected · differs · holds (nothing in particular is expected here) · empty."""
        if not any(line.expected for line in self.lines):
            return "holds" if self.lines else "empty"
        return "as expected" if all(line.expected and line.here for line in self.lines) else "differs"


@dataclass(frozen=True, slots=True)
class HistoryLine:
    entry: UUID
    act: UUID
    at: datetime
    verb: str
    sentence: str
    by: str
    grade: str
    voided_by: UUID | None = None
    stated: bool = False
    place: PlaceRef | None = None
    bay: str = ""
    seal: str = ""
    reference: str = ""
    photo: str = ""
    corrects: UUID | None = None


@dataclass(frozen=True, slots=True)
class History:
    """The timeline of one item, newest first; taken-back entries stand in it and name what took them back."""

    item: ItemRef
    lines: tuple[HistoryLine, ...]
    sentence: str
    reasons: tuple[Reason, ...] = ()
    total: int = 0

    @property
    def answer(self) -> str:
        return "told" if self.lines else "nothing told"


@dataclass(frozen=True, slots=True)
class Verdict:
    """READY / NOT READY, YES / NO / NOT KNOWN and the like, with every reason."""

    answer: str
    sentence: str
    reasons: tuple[Reason, ...] = ()


def plain(value: Any) -> Any:
    """An answer as JSON-ready data. Every answer that has them leads with `answer` and `reasons`."""
    if is_dataclass(value) and not isinstance(value, type):
        data = {key: plain(item) for key, item in asdict(value).items()}
        if hasattr(value, "answer"):
            data = {"answer": plain(value.answer), **data}
        return data
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [plain(item) for item in value]
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, StrEnum):
        return value.value
    return str(value) if isinstance(value, UUID | Decimal) else value
