"""What the page of a system folds together: alike reasons and acts said once, parts by the case they live in. Pure."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from inventory.answers.readiness_rows import Act, Candidate, PartLine, Readiness
from inventory.answers.values import Reason, Strength

MANY = 4  # so many alike sentences are folded into one
NECESSITIES = ("required", "recommended", "spare")
LOST = (Strength.MISSING, Strength.UNKNOWN)
ORDER = ("wrong", "two stories", "away", "by word", "at hand")


@dataclass(frozen=True, slots=True)
class AlikeReasons:
    """Reasons of one kind. `where` names the places their things are at, when they all are at a few."""

    word: str
    where: str
    rows: tuple[Reason, ...]

    @property
    def folded(self) -> bool:
        return len(self.rows) >= MANY


@dataclass(frozen=True, slots=True)
class AlikeActs:
    """Acts of one kind on the path to ready."""

    act: str
    who: str
    how_long: str
    rows: tuple[Act, ...]

    @property
    def folded(self) -> bool:
        return len(self.rows) >= MANY


class Fill(NamedTuple):
    """What a row says of one thing that fills its part."""

    code: str
    words: str
    serial: str
    hired_from: str
    meaning: str
    strength: str
    sentence: str


class Says(NamedTuple):
    """All that the row of a part says."""

    id: int
    name: str
    requirement: str
    show_stopper: bool
    left_behind_prone: bool
    at_hand: int
    wanted: int
    fills: tuple[Fill, ...]


@dataclass(frozen=True, slots=True)
class PartRow:
    """One part and how it stands: at hand · by word · away · two stories · wrong."""

    part: PartLine
    standing: str

    @property
    def says(self) -> Says:
        part = self.part
        return Says(
            part.id, part.name, part.requirement, part.show_stopper, part.left_behind_prone, part.at_hand, part.wanted,
            tuple(_fill(one) for one in part.fills),
        )  # fmt: skip


def _fill(one: Candidate) -> Fill:
    meaning = "settled" if one.at_hand else "doubtful" if one.by_word_only else "stop"
    item, where = one.item, one.where
    return Fill(item.code, item.words, item.serial, one.hired_from, meaning, where.strength, where.sentence)


@dataclass(frozen=True, slots=True)
class PartGroup:
    """The parts that live in one case. `opens`: one of them is wrong, or does not stand as the others do."""

    case: str
    rows: tuple[PartRow, ...]

    @property
    def away(self) -> list[PartRow]:
        return [row for row in self.rows if row.standing != "at hand"]

    @property
    def at_hand(self) -> list[PartRow]:
        return [row for row in self.rows if row.standing == "at hand"]

    @property
    def opens(self) -> bool:
        standings = {row.standing for row in self.rows}
        return "wrong" in standings or (len(standings) > 1 and not standings.isdisjoint(("away", "two stories")))

    @property
    def meaning(self) -> str:
        standings = {row.standing for row in self.rows}
        if not standings.isdisjoint(("wrong", "two stories")):
            return "stop"
        return "settled" if standings == {"at hand"} else "doubtful"

    @property
    def counts(self) -> str:
        counted = Counter(row.standing for row in self.rows)
        return ", ".join(f"{counted[word]} {word}" for word in ORDER if counted[word])


def reasons_together(reasons: Sequence[Reason], parts: Iterable[PartLine]) -> list[AlikeReasons]:
    """Every reason once: single ones first, then those that many things share."""
    places = _places(parts)
    by_word: dict[str, list[Reason]] = defaultdict(list)
    for reason in reasons:
        by_word[reason.word].append(reason)
    groups = [AlikeReasons(word, _where(rows, places), tuple(rows)) for word, rows in by_word.items()]
    return sorted(groups, key=lambda group: group.folded)


def _places(parts: Iterable[PartLine]) -> dict[int, str]:
    """The outermost place of each thing."""
    fills = [one for part in parts for one in part.fills]
    return {one.item.id: one.where.fixed_place.name for one in fills if one.where.fixed_place is not None}


def _where(reasons: Sequence[Reason], places: Mapping[int, str]) -> str:
    counted = Counter(places[item] for reason in reasons for item in reason.items if item in places)
    if not counted or len(counted) > MANY:
        return ""
    if len(counted) == 1:
        return next(iter(counted))
    return ", ".join(f"{count} at {place}" for place, count in counted.most_common())


def acts_together(path: Sequence[Act]) -> list[AlikeActs]:
    """The acts of the path in their order, those of one kind for one person together."""
    by_kind: dict[tuple[str, str], list[Act]] = defaultdict(list)
    for act in path:
        by_kind[act.act, act.who].append(act)
    return [AlikeActs(act, who, _how_long(rows), tuple(rows)) for (act, who), rows in by_kind.items()]


def _how_long(acts: Sequence[Act]) -> str:
    times = list(dict.fromkeys(act.how_long for act in acts))
    return times[0] if len(times) == 1 else "each as it says"


def parts_together(told: Readiness) -> list[tuple[str, list[PartGroup]]]:
    """Required first; in each, the cases that hold something wrong before the others, by their numbers."""
    found = []
    for necessity in NECESSITIES:
        groups = _groups([part for part in told.parts if part.necessity == necessity], told.system)
        if groups:
            found.append((necessity, sorted(groups, key=lambda group: (not group.opens, group.case))))
    return found


def _groups(parts: Iterable[PartLine], system: str) -> list[PartGroup]:
    by_case: dict[str, list[PartRow]] = defaultdict(list)
    for part in parts:
        homes = [one.home_case for one in part.fills if one.home_case]
        by_case[homes[0] if homes else ""].append(PartRow(part, standing(part, system)))
    return [PartGroup(case or "no case of its own", tuple(rows)) for case, rows in by_case.items()]


def standing(part: PartLine, system: str) -> str:
    """How a part stands, by the worst of what fills it: at hand · by word · away · two stories · wrong."""
    if part.in_stock < part.wanted or any(_is_wrong(one, system) for one in part.fills):
        return "wrong"
    if part.at_hand >= part.wanted:
        return "at hand"
    if any(one.where.strength == Strength.IN_DISPUTE for one in part.fills):
        return "two stories"
    return "by word" if any(one.by_word_only for one in part.fills) else "away"


def _is_wrong(one: Candidate, system: str) -> bool:
    """Not merely out with its case: lost, faulty, set aside, promised back, retired, or in another system's case."""
    strange = bool(one.case_system) and one.case_system != system
    lost = one.where.strength in LOST
    return lost or strange or one.in_quarantine or one.retired or bool(one.faults) or one.promise is not None
