"""A return by what it asks of somebody: cases with something wrong first, then what is out, unseen, settled. Pure."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from inventory.answers.values import ItemRef
from shipping.outcomes import Line, Outcome
from shipping.reconcile import CaseLines, Reconciliation, Stranger

WRONG = (Outcome.MISSED, Outcome.DAMAGED, Outcome.SHORT)
KNOWN_OUT = (Outcome.LEFT, Outcome.CLIENT, Outcome.ELSEWHERE)


class Standing(StrEnum):
    """What a case on its return waits for; the order is the order of the page."""

    WRONG = "wrong"
    OUT = "out"
    UNSEEN = "unseen"
    SETTLED = "settled"


@dataclass(frozen=True, slots=True)
class ReturnedCase:
    """One case as it left (`case` is None for what left loose), its things by what they ask for."""

    case: ItemRef | None
    line: Line | None
    lines: tuple[Line, ...]
    strangers: tuple[Stranger, ...]
    to_look_at: int

    @property
    def words(self) -> str:
        return self.case.words if self.case else "Not in a case"

    @property
    def key(self) -> str:
        """The case as an address or a field names it."""
        return str(self.case.id) if self.case else "none"

    @property
    def wrong(self) -> list[Line]:
        return [line for line in self.lines if is_wrong(line)]

    @property
    def owed(self) -> list[Line]:
        return [line for line in self.lines if not line.settled and not is_wrong(line)]

    @property
    def settled(self) -> list[Line]:
        return [line for line in self.lines if line.settled and not is_wrong(line)]

    @property
    def still_owed(self) -> list[Line]:
        """Everything a closing has to name: the case itself, and its things."""
        own = [self.line] if self.line is not None else []
        return [line for line in (*own, *self.lines) if not line.settled]

    @property
    def case_is_back(self) -> bool:
        return self.line is None or self.line.settled

    @property
    def standing(self) -> Standing:
        if self.wrong or self.strangers or (self.line is not None and is_wrong(self.line)):
            return Standing.WRONG
        if not self.case_is_back or any(line.outcome in KNOWN_OUT for line in self.lines):
            return Standing.OUT
        return Standing.UNSEEN if self.owed else Standing.SETTLED

    @property
    def opens(self) -> bool:
        """Shown without being asked: something is wrong, or the case came back without things that left in it."""
        standing = self.standing
        return standing == Standing.WRONG or (standing == Standing.OUT and self.line is not None and self.case_is_back)

    @property
    def counts(self) -> str:
        """4 back, 2 damaged: what became of the things in it, beside what became of the case."""
        outcomes = {line.outcome for line in self.lines}
        if self.line is not None and outcomes == {self.line.outcome}:
            return f"with its {_things(len(self.lines))}"
        if len(outcomes) == 1:
            return f"{_things(len(self.lines))}, {outcomes.pop()}"
        return _counted(self.lines) or "nothing listed"


def is_wrong(line: Line) -> bool:
    """Somebody has to act: it is damaged, short or missed, or an alike thing lies in its place."""
    return line.outcome in WRONG or line.other is not None


def _things(count: int) -> str:
    return f"{count} thing{'s' if count > 1 else ''}"


def _counted(lines: Iterable[Line]) -> str:
    counted = Counter(line.outcome for line in lines)
    return ", ".join(f"{counted[outcome]} {outcome}" for outcome in Outcome if counted[outcome])


@dataclass(frozen=True, slots=True)
class Pile:
    """The cases of one standing."""

    standing: Standing
    cases: tuple[ReturnedCase, ...]

    @property
    def things(self) -> int:
        return sum(len(case.lines) for case in self.cases)

    @property
    def keys(self) -> list[str]:
        """The cases in it as an address names them, to open the pile that holds one."""
        return [case.key for case in self.cases]


def returned_cases(told: Reconciliation) -> list[ReturnedCase]:
    """Every case of a return, in the order of their numbers; what left or was found outside any case last."""
    found: dict[int, list[Stranger]] = defaultdict(list)
    for one in told.strangers:
        found[one.case.id].append(one)
    groups = told.by_case()
    cases = [_case(group, found.pop(group.case.id, [])) for group in groups if group.case is not None]
    loose = next((group for group in groups if group.case is None), CaseLines(None, None, ()))
    besides = [one for strangers in found.values() for one in strangers]
    return [*cases, _case(loose, besides)] if loose.lines or besides else cases


def _case(group: CaseLines, strangers: Sequence[Stranger]) -> ReturnedCase:
    return ReturnedCase(group.case, group.line, group.lines, tuple(strangers), group.to_look_at)


def piles(cases: Sequence[ReturnedCase]) -> list[Pile]:
    """The same cases by standing, worst first; a standing that no case has is left out."""
    found = [Pile(one, tuple(case for case in cases if case.standing == one)) for one in Standing]
    return [pile for pile in found if pile.cases]
