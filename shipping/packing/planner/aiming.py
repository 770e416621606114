"""As good as the bound: in the cases that the pool opens, some at a time are filled anew by an engine.

What comes out no worse is taken, so that the plan wanders among its equals until one of them goes in (large
neighbourhood search with sideways steps; Shaw 1998). On the way things may be left over, and trunks may hold more than
their layout has found a place for: both cost. It proves nothing; where it reaches the pool's bound, that does.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

from shipping.packing.planner import boxes
from shipping.packing.planner.cases import Family
from shipping.packing.planner.engines import Stop, cp_sat
from shipping.packing.planner.local import Dice, part_of
from shipping.packing.planner.swapping import swapped
from shipping.packing.planner.trunks import Held, laid_out, made_to_fit, went_in
from shipping.packing.wanted import Content, Job, moves

THREADS, AT_ONCE, OPEN, MOST_OPEN, STUCK, PATIENCE = 2, 4, 3, 8, 8, 300
SECONDS, WORK = 1.0, 0.1
LEFT, MOVED, OVER, LUCK = 200, 10, 15, 3


@dataclass(frozen=True)
class Draft:
    """Contents by the limits of each case; what is left over, and what found no place in its trunk's layout."""

    contents: dict[str, Content]
    left: dict[str, int]
    layouts: dict[str, boxes.Layout]
    over: dict[str, Counter[str]]
    moved: int

    def cost(self, dear: dict[str, int]) -> int:
        over = sum(sum(out.values()) for out in self.over.values())
        return sum(dear[ident] * many for ident, many in self.left.items()) + MOVED * self.moved + OVER * over


@dataclass(frozen=True)
class Again:
    """Some cases to be filled anew, with what is left over besides; `luck` makes equal contents differ."""

    job: Job
    contents: dict[str, Content]
    left: dict[str, int]
    luck: list[int]
    tight: dict[str, int]


@dataclass
class Aim:
    """One family with only the cases to be used; `fewest` is the bound of moves. `offer` hears of each better plan."""

    job: Job
    fewest: int
    for_batteries: frozenset[str]
    stop: Stop
    offer: Callable[[Held], bool]
    seed: int = 0
    timed: bool = False
    idle: int = 0
    _shown: int = 10**9
    _taken: bool = False
    _draft: Draft = field(init=False)

    def __post_init__(self) -> None:
        self.dice, self.dear = Dice(self.seed), _dear(self.job)

    def begin(self, contents: dict[str, Content], left: dict[str, int]) -> None:
        """From this plan on. It may hold, by the limits of its cases, more than goes in."""
        self._draft = self._drawn(contents, {ident: many for ident, many in left.items() if many})
        self._show()

    @property
    def reached(self) -> bool:
        """By the draft itself, or by what came of making it go in."""
        return self._taken or (not self._draft.left and not self._draft.over and self._draft.moved <= self.fewest)

    @property
    def short(self) -> int:
        """How many things are left over."""
        return sum(self._draft.left.values())

    def run(self, remaining: Callable[[], float]) -> None:
        """Until the bound is reached, it is stuck or time is up; it goes on from there when called again."""
        self.idle = 0
        with ThreadPoolExecutor(THREADS) as threads:
            while not self.reached and self.idle < PATIENCE and remaining() > 0.05 and not self.stop.is_set:
                self._step(threads, remaining)

    def _step(self, threads: ThreadPoolExecutor, remaining: Callable[[], float]) -> None:
        was, begun, tasks = self._draft.cost(self.dear), remaining(), self._tasks()
        for task, found in zip(tasks, threads.map(self._filled, tasks, [begun] * len(tasks)), strict=True):
            if found is not None:
                self._take(task, *found)
        self.timed = self.timed or begun - remaining() > min(SECONDS, begun)
        self.idle = 0 if self._draft.cost(self.dear) < was else self.idle + 1

    def _tasks(self) -> list[Again]:
        """Cases drawn for each engine, none of them twice; the more at a time the longer nothing got better."""
        waiting = sorted(shell.id for shell in self.job.shells)
        many = min(OPEN + self.idle // STUCK, MOST_OPEN, len(waiting))
        tasks, left = [], dict(self._draft.left)
        while len(waiting) >= many and len(tasks) < AT_ONCE:
            some = self._some(waiting, many)
            waiting = [case for case in waiting if case not in some]
            tasks.append(self._task(some, left))
            left = {}
        return tasks

    def _some(self, waiting: list[str], many: int) -> set[str]:
        """Drawn at random, one of them from those that do not go in."""
        over = [case for case in waiting if case in self._draft.over]
        some = {self.dice.one_of(over)} if over else set()
        while len(some) < many:
            some.add(self.dice.one_of(waiting))
        return some

    def _task(self, some: set[str], left: dict[str, int]) -> Again:
        now = {case: held for case, held in self._draft.contents.items() if case in some}
        job = part_of(self.job, now, left, some)
        luck = [self.dice.below(LUCK) for _ in range(len(job.gear) * len(job.shells))]
        return Again(job, now, left, luck, self._tight(now))

    def _tight(self, now: dict[str, Content]) -> dict[str, int]:
        """Every second time a trunk that does not go in gets only as much as was laid out."""
        return {
            case: went_in(self.job, case, content, self._draft.over[case])
            for case, content in now.items() if case in self._draft.over and self.dice.below(2)
        }  # fmt: skip

    def _filled(self, task: Again, seconds: float) -> tuple[dict[str, Content], dict[str, int]] | None:
        family = Family(task.job, task.tight)
        model = family.model
        for case, var in family.for_batteries.items():
            model.lower[var] = model.upper[var] = int(case in self.for_batteries)
        luck = dict(zip(family.n.values(), task.luck, strict=False))
        dear = {var: self.dear[ident] for ident, var in family.left.items()}
        dear |= dict.fromkeys(family.kept.values(), -MOVED)
        model.goal = {var: weight for var, weight in (luck | dear).items() if weight}
        start = family.start(task.contents, task.left)
        begun = start if model.holds(start) else None
        found = cp_sat(model, min(SECONDS, seconds), start=begun, stop=self.stop, work=WORK)
        return (family.contents(found.values), family.behind(found.values)) if found.values is not None else None

    def _take(self, task: Again, contents: dict[str, Content], left: dict[str, int]) -> None:
        cases = task.job.cases
        whole = {case: held for case, held in self._draft.contents.items() if case not in cases} | contents
        rest = Counter(self._draft.left)
        rest.subtract(task.left)
        rest.update(left)
        draft = self._drawn(dict(sorted(whole.items())), dict(+rest))
        if draft.cost(self.dear) <= self._draft.cost(self.dear):
            self._draft = draft
            self._show()

    def _drawn(self, contents: dict[str, Content], left: dict[str, int]) -> Draft:
        """Laid out in more ways once the bound is reached but for that."""
        moved = moves(self.job, contents)
        near = not left and moved <= self.fewest
        layouts, over = laid_out(self.job, contents, boxes.WAYS if near else boxes.QUICK)
        return Draft(contents, left, layouts, over, moved)

    def _show(self) -> None:
        """What might be better than all before is made to go in and offered."""
        draft = self._draft
        if draft.left or draft.moved >= self._shown:
            return
        held = Held(draft.contents, {}, draft.layouts)
        if draft.over:
            contents = swapped(self.job, draft.contents) if draft.moved <= self.fewest else draft.contents
            held = made_to_fit(self.job, contents, {}, boxes.WAYS)
        if not held.left:
            moved = moves(self.job, held.contents)
            self._shown = min(self._shown, moved)
            self._taken = self.offer(held) and moved <= self.fewest


def _dear(job: Job) -> dict[str, int]:
    """What leaving one of each kind over costs, by its size: a small thing is easier put somewhere later."""
    litres = {gear.id: math.prod(gear.size_mm) / 10**6 if gear.size_mm else 0.0 for gear in job.gear}
    mean = sum(litres[gear.id] * gear.count for gear in job.gear) / max(1, sum(gear.count for gear in job.gear))
    return {ident: max(2 * MOVED, round(LEFT * one / mean)) if one else LEFT for ident, one in litres.items()}
