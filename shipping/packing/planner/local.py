"""A large family made better piece by piece: a few cases at a time are planned anew, all others stay as they are."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from shipping.packing.planner import fitting
from shipping.packing.planner.cases import CASES, LEFT, MOVES, Family
from shipping.packing.planner.columns import Columns
from shipping.packing.planner.engines import Stop, highs
from shipping.packing.planner.firstfit import goal
from shipping.packing.planner.model import INFINITE
from shipping.packing.planner.trunks import Held, laid_out, made_to_fit, went_in
from shipping.packing.wanted import Content, Job

OPEN, SECONDS, ROUNDS, PATIENCE = 6, 0.6, 3, 300
HOME, DIVES = 1.0, 2
WEIGHTS = {LEFT: 1_000_000, CASES: 1_000, MOVES: 1}


@dataclass
class Dice:
    """Numbers that look random and are the same each time (a linear congruential generator, Knuth's MMIX constants)."""

    state: int

    def below(self, many: int) -> int:
        self.state = (self.state * 6364136223846793005 + 1442695040888963407) % 2**64
        return (self.state >> 33) % many

    def one_of(self, several: Sequence[str]) -> str:
        return several[self.below(len(several))]


def part_of(job: Job, now: dict[str, Content], left: dict[str, int], some: set[str]) -> Job:
    """These cases with what is in them now, and what is left over besides, as a load of its own."""
    held: Counter[str] = Counter(left)
    for content in now.values():
        held.update(dict(content))
    gear = tuple(replace(job.kinds[ident], count=many) for ident, many in sorted(held.items()) if many)
    return replace(job, gear=gear, shells=tuple(one for one in job.shells if one.id in some))


@dataclass
class Local:
    """From `best` on; `offer` hears of every better one. Ends at the `bounds`, when time is up, or when it is stuck.

    `by_contents`: every second time whole contents are chosen for the cases, instead of asking an engine.
    """

    job: Job
    remaining: Callable[[], float]
    stop: Stop
    best: Held
    bounds: list[int]
    offer: Callable[[Held], bool]
    seed: int = 0
    by_contents: bool = False
    turn: int = 0
    tried: set[tuple[str, ...]] = field(default_factory=set)

    def run(self) -> Held:
        dice, idle = Dice(self.seed), 0
        while idle < PATIENCE and self.remaining() > 0.1 and not self.stop.is_set:
            if list(self.best.goal(self.job)) == self.bounds:
                break
            idle = 0 if self._step(dice) else idle + 1
        return self.best

    def _step(self, dice: Dice) -> bool:
        some = self._waiting(dice) if self.best.left else self._strangers(dice)
        key = tuple(sorted(some))
        if key in self.tried:
            return False
        self.tried.add(key)
        self.turn += 1
        chooses = self.by_contents and self.turn % 2
        found = self._chosen(some) if chooses else self._planned_to_go_in(some)
        if found is None:
            return False
        contents, left = found
        whole = {case: held for case, held in self.best.contents.items() if case not in some} | contents
        held = made_to_fit(self.job, dict(sorted(whole.items())), left)
        if held.goal(self.job) >= self.best.goal(self.job) or not self.offer(held):
            return False
        self.best = held
        self.tried.clear()
        return True

    def _waiting(self, dice: Dice) -> set[str]:
        """Cases that may take what is left behind."""
        ident = dice.one_of(sorted(self.best.left))
        takes = [one.id for one in self.job.shells if fitting.most(self.job.kinds[ident], one, self.job)]
        if not takes:
            return set()
        return {dice.one_of(takes) for _ in range(OPEN * 2 // 3)} | {dice.one_of(sorted(self.job.cases))}

    def _strangers(self, dice: Dice) -> set[str]:
        """A case that holds what lives elsewhere, where that lives, and some others, mostly such ones too."""
        away = [
            (case, home) for case, content in self.best.contents.items() for ident, count in content
            for home, _ in self.job.kinds[ident].homes
            if home != case and home in self.job.cases and count > self.job.kinds[ident].at_home_in(case)
        ]  # fmt: skip
        opened = sorted(self.best.contents)
        case, home = away[dice.below(len(away))] if away else (dice.one_of(opened), opened[0])
        some, others = {case, home}, [one for one, _ in away] or opened
        for _ in range(OPEN):
            some.add(dice.one_of(others if dice.below(2) else opened))
            if len(some & set(opened)) >= OPEN:
                break
        return some

    def _chosen(self, some: set[str]) -> tuple[dict[str, Content], dict[str, int]] | None:
        """The better of a few choices of whole contents for these cases, no more of them than now."""
        now = {case: self.best.contents[case] for case in sorted(some) if case in self.best.contents}
        job, dice = part_of(self.job, now, self.best.left, some), np.random.default_rng(self.turn)
        columns = Columns(job, len(now), HOME, self.stop, dice)
        columns.relax(self.remaining)
        found = min(
            (columns.dive(self.remaining) for _ in range(DIVES)), key=lambda one: goal(job, one.left, one.contents)
        )
        better = goal(job, found.left, found.contents) < goal(job, self.best.left, now)
        return (found.contents, found.left) if better else None

    def _planned_to_go_in(self, some: set[str]) -> tuple[dict[str, Content], dict[str, int]] | None:
        """A better plan of these cases; trunks that do not go in are made less full, a few times."""
        tight: dict[str, int] = {}
        found = self._planned(some, tight)
        for _ in range(ROUNDS):
            over = laid_out(self.job, found[0])[1] if found else {}
            if found is None or not over:
                break
            tight |= {case: went_in(self.job, case, found[0][case], out) for case, out in over.items()}
            found = self._planned(some, tight)
        return found

    def _planned(self, some: set[str], tight: dict[str, int]) -> tuple[dict[str, Content], dict[str, int]] | None:
        now = {case: self.best.contents[case] for case in sorted(some) if case in self.best.contents}
        family = Family(part_of(self.job, now, self.best.left, some), tight)
        model = family.model
        model.goal = {var: w * WEIGHTS[name] for name, terms, _ in family.goals() for var, w in terms.items()}
        value = model.value(model.goal, family.start(now, self.best.left))
        model.row(model.goal, -INFINITE, value - 1, "better")
        found = highs(model, min(SECONDS, self.remaining()), stop=self.stop)
        return (family.contents(found.values), family.behind(found.values)) if found.values is not None else None
