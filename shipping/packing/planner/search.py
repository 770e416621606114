"""One family, searched: the pool's bounds first, then plans that reach them, then two engines and a local search.

Families with trunks are planned sideways towards the bounds (aiming.py), large ones by whole contents too (columns.py);
what is then open is asked of both engines where it is small, or made better piece by piece.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from shipping.packing.planner import boxes, firstfit
from shipping.packing.planner.aiming import Aim
from shipping.packing.planner.alike import Alike, as_before, told_by_home
from shipping.packing.planner.cases import CASES, LEFT, MOVES, Family
from shipping.packing.planner.columns import Columns
from shipping.packing.planner.engines import Stop, highs, race
from shipping.packing.planner.families import Part
from shipping.packing.planner.local import Local
from shipping.packing.planner.model import INFINITE, Found
from shipping.packing.planner.pooled import Pooling
from shipping.packing.planner.swapping import swapped
from shipping.packing.planner.trunks import Held, drafted, has_room_gear, laid_out, made_to_fit, went_in
from shipping.packing.wanted import Content, Job, Level, Shell

Remaining = Callable[[], float]
Progress = Callable[[str, int, int], None]
SEARCH, CONTENTS = "local search", "choice of contents"
ROUNDS = 3
BIG = 900
FULL = 0.05  # what a thing at home counts in a search for full cases
DIVES, HUGE = 40, 2000
GUIDED = 3.5


def _no_time() -> float:
    return 0.0


@dataclass
class Search:
    """One run for one family. `best` always goes in; `show` hears of each better one."""

    job: Job
    stop: Stop
    tell: Callable[[], None]
    show: Callable[[Held], None]
    best: Held
    seed: int = 0
    bounds: list[int] = field(default_factory=lambda: [0, 0, 0])
    asked: list[list[int]] = field(default_factory=lambda: [[], [INFINITE], [INFINITE] * 2])
    engines: list[str] = field(default_factory=lambda: ["first fit"] * 3)
    canonical: bool = True
    unsettled: bool = False
    rounds: int = 0
    winner: str = "first fit"
    draft: Held | None = None
    for_batteries: frozenset[str] = frozenset()
    opened: list[Shell] = field(default_factory=list)
    remaining: Remaining = _no_time
    columns: Columns | None = None
    aim: Aim | None = None

    def __post_init__(self) -> None:
        self.names = (LEFT, MOVES, CASES) if self.job.moves_first else (LEFT, CASES, MOVES)
        self.pooling = Pooling(self.job)

    def begin(self, remaining: Remaining) -> None:
        """What is quick: the bounds, and plans of the cases that they are reached with."""
        self.remaining = remaining
        self._pooled()
        if not self.finished and self._is_open_small():
            self._guided(min(GUIDED, self.remaining() * 0.6), self.seed)
        if not self.finished and self._has_trunks():
            self._aimed(self.bounds[1], self.remaining() * 0.4)
        if not self.finished and self._by_contents():
            self._dived(self.remaining() * (0.2 if self._is_big() else 0.1))

    def go_on(self, remaining: Remaining) -> None:
        """The long search, where `begin` did not prove its plan."""
        self.remaining = remaining
        if self._has_trunks():
            if self.unsettled and not self.finished:
                self._guided(self.remaining() * 0.5, self.seed + 1)  # another way through is often far shorter
            self._aimed_on()
        if not self.finished and not self._is_big():
            self._raced()
        if self._has_trunks() and not self.finished:
            self._piecewise()

    def _has_trunks(self) -> bool:
        return any(has_room_gear(self.job, content) for content in self.best.contents.values())

    def _is_big(self) -> bool:
        """Too much for both engines to prove goal by goal."""
        return self._has_trunks() and len(self.job.gear) * len(self.job.shells) > BIG

    def _is_open_small(self) -> bool:
        """Is it little enough for an engine, once only the cases that the pool opens are looked at?"""
        return not self._has_trunks() or len(self.job.gear) * len(self.opened) < BIG

    def _is_huge(self) -> bool:
        """Too much for an engine that looks at single things, even from a good plan."""
        return len(self.job.gear) * len(self.job.shells) > HUGE

    @property
    def finished(self) -> bool:
        return self.stop.is_set or all(one.proven for one in self.levels())

    def _goal(self) -> tuple[int, int, int]:
        return self.best.goal(self.job)

    def _offer(self, held: Held, engine: str) -> bool:
        """Take a better one; each goal that it reached first is this engine's."""
        was, now = self._goal(), held.goal(self.job)
        if now >= was or not self._rides_apart(held):
            return False
        at = next(at for at in range(3) if now[at] != was[at])
        self.engines = [engine if here >= at else name for here, name in enumerate(self.engines)]
        self.best = held
        self.show(held)
        self.tell()
        return True

    def _rides_apart(self, held: Held) -> bool:
        family = self._whole_family
        return not family.rides or family.model.holds(family.start(held.contents, held.left))

    @cached_property
    def _whole_family(self) -> Family:
        """Only to be asked: nothing is added to its model."""
        return Family(self.job, {})

    def _pooled(self) -> None:
        """The bounds in order, and a plan made of the cases that the pool opens."""
        reached: list[int] = []
        opened: tuple[str, ...] = ()
        for at in range(3):
            pool = self.pooling.bound(reached, max(0.2, self.remaining() / 4), self.stop)
            mine = self._goal()[at] if tuple(reached) == self._goal()[:at] else INFINITE
            reached.append(max(0, min(pool.bound, mine)))
            opened = pool.opened or opened
            self.for_batteries = pool.for_batteries
        self.bounds, self.asked = reached, [[], reached[:1], reached[:2]]
        self.tell()
        if not self.finished and (roomy := self.pooling.roomiest(reached, max(0.1, self.remaining() / 8), self.stop)):
            opened, self.for_batteries = roomy.opened, roomy.for_batteries
        self.opened = self._these(opened)
        if not self.finished and self.opened:
            draft = drafted(replace(self.job, shells=tuple(self.opened)), self.for_batteries)
            self._offer(self._fitted(draft.contents, draft.left), "first fit")

    def _guided(self, seconds: float, seed: int) -> None:
        """Only with the cases that the pool opens: quickly there, if there is where the optimum is."""
        if not self.opened:
            return
        alike = Alike.of(replace(self.job, shells=tuple(self.opened)))
        family = self._of_opened(alike.job)
        found = self._as_good(family, seconds, seed)
        self.unsettled = found.values is None and not found.impossible
        if found.values is not None:
            self.draft = Held(swapped(self.job, alike.apart(family.contents(found.values))), {})
            self._offer(self._fitted(self.draft.contents, {}), found.engine)
        elif self.unsettled:
            self.canonical = False  # with more time it might have found another way

    def _as_good(self, family: Family, seconds: float, seed: int) -> Found:
        """Where trunks are nothing but a plan as good as the bounds is asked for: that narrows the search most."""
        terms, add = next((terms, add) for name, terms, add in family.goals() if name == MOVES)
        bound = self.bounds[2] - add
        if terms and not self.job.moves_first:
            family.model.row(terms, bound, bound if self._has_trunks() else INFINITE, "bound")
        if self._has_trunks():
            homes = {family.n[cell]: kept for cell, kept in family.kept.items()}
            found = highs(told_by_home(family.model, homes), seconds, stop=self.stop, seed=seed)
            return replace(found, values=found.values and as_before(found.values, homes))
        family.model.goal = terms
        return highs(family.model, seconds, stop=self.stop, seed=seed)

    def _of_opened(self, job: Job) -> Family:
        """Nothing left behind, and each case that the pool opens used, for batteries or not as the pool says."""
        family = Family(job, {})
        for var in family.left.values():
            family.model.upper[var] = 0
        for var in family.used.values():
            family.model.lower[var] = 1
        for case, var in family.for_batteries.items():
            family.model.lower[var] = family.model.upper[var] = int(case in self.for_batteries)
        return family

    def _aimed_on(self) -> None:
        """In the fewest cases, if anything is near to going into them; else in as many as the best plan has."""
        if self._goal()[1] > self.bounds[1] and (self.aim is None or self.aim.short):
            if self._by_contents():
                self._dived(self.remaining() * 0.3)
            self.aim = None
        if self.aim is not None and self.aim.short and self._in_fewest():
            self.aim = self._aim_from_best()
        self._aimed(self._goal()[1], self.remaining() * 0.85)

    def _aimed(self, cases: int, seconds: float) -> None:
        """Sideways among plans of so many cases, towards the bound of moves."""
        self.aim = self.aim or self._aim(cases)
        until = self.remaining() - seconds
        if self.aim is not None:
            self.aim.run(lambda: max(0.0, self.remaining() - until))
            self.canonical = self.canonical and self.aim.reached and not self.aim.timed

    def _aim(self, cases: int) -> Aim | None:
        """From a draft with the cases that the pool opens for plans of so many, which may be more than the fewest."""
        if self.bounds[0] or not self.opened or self.names[1] != CASES:
            return None
        opened, for_batteries, fewest = self.opened, self.for_batteries, self.bounds[2]
        if cases > self.bounds[1]:
            pool = self.pooling.bound([0, cases], self.remaining() / 4, self.stop)
            opened, for_batteries, fewest = self._these(pool.opened), pool.for_batteries, max(0, pool.bound)
        job = replace(self.job, shells=tuple(opened))
        held = self.draft if cases == self.bounds[1] and self.draft else drafted(job, for_batteries)
        return self._begun(job, fewest, for_batteries, held)

    def _aim_from_best(self) -> Aim:
        """In the cases of the best plan, where a draft in those of the pool never took the last things."""
        job = replace(self.job, shells=tuple(self._these(self.best.contents)))
        family = Family(job, {})
        values = family.start(self.best.contents, {})
        for_batteries = frozenset(case for case, var in family.for_batteries.items() if values[var])
        return self._begun(job, self.bounds[2], for_batteries, self.best)

    def _begun(self, job: Job, fewest: int, for_batteries: frozenset[str], held: Held) -> Aim:
        aim = Aim(job, fewest, for_batteries, self.stop, lambda one: self._offer(one, SEARCH), self.seed)
        aim.begin(held.contents, held.left)
        return aim

    def _these(self, cases: Iterable[str]) -> list[Shell]:
        return [shell for shell in self.job.shells if shell.id in cases]

    def _by_contents(self) -> bool:
        """Are whole contents of cases chosen? Not where things in one case need each other, as batteries by air do."""
        flies = any(self.job.air_of(shell) for shell in self.job.shells)
        by_air = flies and any(gear.is_loose_lithium for gear in self.job.gear)
        return self.names[1] == CASES and not by_air

    def _dived(self, seconds: float) -> None:
        """Plans of whole contents, of the fewest cases; what goes into none of these goes into one more."""
        if not self.bounds[1] or self._in_fewest():
            return
        until = self.remaining() - seconds
        left: Remaining = lambda: max(0.0, self.remaining() - until)  # noqa: E731
        if self.columns is None:
            dice = np.random.default_rng(self.seed)
            self.columns = Columns(self.job, self.bounds[1], FULL, self.stop, dice)
            self.columns.relax(left)
        for _ in range(DIVES):
            if left() <= 0 or self.finished or self._in_fewest():
                return
            dived = self.columns.dive(left)
            if len(dived.contents) <= self.bounds[1]:
                self._drawn_up(dived.contents, dived.left)

    def _in_fewest(self) -> bool:
        return self._goal()[1] <= self.bounds[1] and not self.best.left

    def _drawn_up(self, contents: dict[str, Content], left: dict[str, int]) -> None:
        """A draft of so few cases, squeezed; and with as many more as take all of it, offered as a plan."""
        job = replace(self.job, shells=tuple(one for one in self.job.shells if one.id in contents))
        draft = made_to_fit(job, contents, left)
        if draft.left:
            tried = firstfit.squeezed(firstfit.Filling.of(job, draft.contents, draft.left))
            draft = min(draft, made_to_fit(job, tried.contents(), tried.left), key=lambda one: one.goal(job))
        if self.draft is None or draft.goal(job) < self.draft.goal(self.job):
            self.draft, self.opened = draft, list(job.shells)
        whole = firstfit.again(self.job, draft.contents)
        self._offer(self._fitted(whole.contents(), whole.left), CONTENTS)

    def _fitted(self, contents: dict[str, Content], left: dict[str, int]) -> Held:
        return made_to_fit(self.job, contents, left, boxes.WAYS)

    def _piecewise(self) -> None:
        """Some cases at a time: first into the cases that the pool opens, then from the best there is."""
        self.canonical = False
        if self.draft is not None and self._goal()[:2] > tuple(self.bounds[:2]):
            job = replace(self.job, shells=tuple(self.opened))
            start = made_to_fit(job, self.draft.contents, self.draft.left, boxes.WAYS)
            until = self.remaining() / 2
            self._local(job, start, lambda: self.remaining() - until, lambda one: self._offer(one, SEARCH) or True)
        if not (self._by_contents() and self._is_huge()):
            self._fewer_cases()
        self._local(self.job, self.best, self.remaining, lambda one: self._offer(one, SEARCH))

    def _local(self, job: Job, start: Held, remaining: Remaining, offer: Callable[[Held], bool]) -> None:
        aim = [0, *self.bounds[1:]]
        Local(job, remaining, self.stop, start, aim, offer, self.seed, self._by_contents()).run()

    def _fewer_cases(self) -> None:
        """Both engines for the number of cases alone, where the plans so far have more than the bound."""
        at = self.names.index(CASES)
        if at != 1 or self._goal()[:2] == tuple(self.bounds[:2]) or self.best.left:
            return
        family = Family(self.job, {})
        for var in family.left.values():
            family.model.upper[var] = 0
        family.model.goal = family.goals()[1][1]
        family.model.row(family.model.goal, self.bounds[1], INFINITE, "bound")
        start = family.start(self.best.contents, {})
        found = race(family.model, self.remaining() * 0.4, start=start if family.model.holds(start) else None,
                     stop=self.stop, seed=self.seed)  # fmt: skip
        self.canonical = False
        self._higher(1, [0], found.bound, found.engine)
        if found.values is not None:
            self._offer(self._fitted(family.contents(found.values), {}), found.engine)

    def _raced(self) -> None:
        """Both engines on the whole family, goal by goal; trunks that do not go in are made less full, three times."""
        tight: dict[str, int] = {}
        for turn in range(ROUNDS + 1):
            family = Family(self.job, tight)
            values, proven = self._levels(family, proving=not turn)
            if self.finished:
                return
            if proven:
                values, proven = self._same_each_time(family, values)
            contents = family.contents(values)
            over = laid_out(self.job, contents)[1]
            self.canonical = proven
            self._settle(self._fitted(contents, family.behind(values)), proven)
            if not over or self.finished or self.remaining() < 0.1:
                return
            self.rounds = min(turn + 1, ROUNDS)
            for case in over:
                tight[case] = went_in(self.job, case, contents[case], over[case])

    def _settle(self, held: Held, proven: bool) -> None:
        """What is the same each time takes the place of an equal that is not."""
        if not self._offer(held, self.winner) and proven and held.goal(self.job) == self._goal():
            self.best = held
            self.show(held)

    def _levels(self, family: Family, *, proving: bool) -> tuple[list[int], bool]:
        """The values that came out, and whether each goal was proven. In the first round the proofs are kept."""
        model, values = family.model, family.start(self.best.contents, self.best.left)
        proven, reached = True, []
        for at, (_, terms, add) in enumerate(family.goals()):
            if not terms:
                reached.append(0)
                continue
            model.goal = terms
            start = values if model.holds(values) else None
            found = race(model, self.remaining() * (0.3, 0.6, 0.8)[at], start=start, stop=self.stop, seed=self.seed)
            if found.values is None:
                return values, False
            values, value, self.winner = found.values, model.value(terms, found.values), found.engine
            proven = proven and value == found.bound
            if proving:
                self._higher(at, list(reached), found.bound + add, found.engine)
            reached.append(value + add)
            model.row(terms, -INFINITE, value, "goal")
        return values, proven

    def _higher(self, at: int, reached: list[int], bound: int, engine: str) -> None:
        """A bound that an engine proved for all plans that reach at least so much in the goals before."""
        known = self.bounds[at] if reached == self.asked[at] else -1
        if reached >= self.asked[at] and bound > known:
            self.bounds[at], self.asked[at], self.engines[at] = bound, reached, engine
            self.tell()

    def _same_each_time(self, family: Family, values: list[int]) -> tuple[list[int], bool]:
        """Equal optima must look equal: solved once more from nothing by one engine, so the race cannot show."""
        model = family.model
        model.goal = {var: at + 1 for at, var in enumerate(family.used.values())}
        found = highs(model, max(0.5, self.remaining()), stop=self.stop)
        if found.values is None or model.value(model.goal, found.values) != found.bound:
            return values, False
        return found.values, True

    def _bounded_again(self) -> None:
        """A bound holds for plans no worse in the goals before; where we did not get that far it is asked anew."""
        goal = list(self._goal())
        for at in (1, 2):
            if any(mine > asked for mine, asked in zip(goal, self.asked[at], strict=False)):
                pool = self.pooling.bound(goal[:at], 1.0, Stop())
                self.bounds[at], self.asked[at] = max(0, pool.bound), goal[:at]
        self.tell()

    def part(self) -> Part:
        """What came out, with bounds that hold for what came out."""
        self._bounded_again()
        levels = self.levels()
        return Part(self.best.contents, self.best.left, levels, self.canonical and all(one.proven for one in levels))

    def levels(self) -> tuple[Level, ...]:
        """Each goal as it stands. A bound counts only once the goals before it are at the values it was asked for."""
        goal = self._goal()
        holds = [all(mine <= asked for mine, asked in zip(goal, self.asked[at], strict=False)) for at in range(3)]
        return tuple(
            Level(name, value, min(value, bound) if held else 0, engine)
            for name, value, bound, held, engine in zip(self.names, goal, self.bounds, holds, self.engines, strict=True)
        )
