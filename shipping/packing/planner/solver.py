"""A whole load, planned: at once by hand rules, then family by family by two engines, then onto the vehicles."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace

from shipping.packing.geometry import judge_plan
from shipping.packing.planner import brimful, conflict, firstfit, trunks, vans
from shipping.packing.planner.byhand import levels_by_hand
from shipping.packing.planner.engines import Stop
from shipping.packing.planner.families import Part, families
from shipping.packing.planner.reasons import explain
from shipping.packing.planner.search import LEFT, Progress, Remaining, Search
from shipping.packing.planner.trunks import Held
from shipping.packing.wanted import Content, Job, Left, Level, Plan

Check = Callable[[Job, Plan], tuple[str, ...]]


def _quiet(_name: str, _value: int, _bound: int) -> None:
    return None


def _unseen(_plan: Plan) -> None:
    return None


def at_once(job: Job, warm: Plan | None = None) -> Plan:
    """A complete plan without a search. It passed the check, or what it could not place is left and said.

    `warm` is an earlier plan, of this load or one like it: what it says still holds wherever it still can.
    """
    parts = families(job)
    plan = _checked(job, firstfit.at_once(job), parts)
    tight = None if plan.left else brimful.fuller(parts, plan.contents)
    if tight is not None:
        again = _checked(job, firstfit.Filling.of(job, tight, {}), parts)
        plan = again if not again.breaches and _goal(job, again) < _goal(job, plan) else plan
    if warm is not None:
        again = _checked(job, firstfit.again(job, warm.contents), parts)
        plan = again if not again.breaches and _goal(job, again) <= _goal(job, plan) else plan
    return plan


def _goal(job: Job, plan: Plan) -> tuple[int, int, int]:
    return firstfit.goal(job, {one.gear: one.count for one in plan.left}, plan.contents)


def _checked(job: Job, filling: firstfit.Filling, parts: list[Job]) -> Plan:
    """A heuristic's filling as a plan: what does not go into its trunk is put elsewhere, or left and said."""
    held = trunks.made_to_fit(job, filling.contents(), filling.left)
    plan = _carried(job, held)
    levels = levels_by_hand(job, plan.contents, plan.left, parts)
    return replace(plan, levels=levels, breaches=judge_plan(job, plan))


def _carried(job: Job, held: Held) -> Plan:
    """Onto the vehicles in one go; what no vehicle takes stays behind."""
    contents, layouts, behind = dict(held.contents), dict(held.layouts), Counter(held.left)
    riding, alone = vans.by_hand(job, contents)
    waiting = _taken_off(alone, contents, layouts, behind)
    return Plan(contents, riding, layouts, _left(job, behind, waiting, contents, riding), (), "first fit")


def _taken_off(
    cases: list[str], contents: dict[str, Content], layouts: trunks.Layouts, behind: Counter[str]
) -> dict[str, Content]:  # fmt: skip
    """These cases stay, with all that is in them."""
    found = {case: contents.pop(case) for case in cases}
    for case, content in found.items():
        behind.update(dict(content))
        layouts.pop(case, None)
    return found


def _left(
    job: Job, behind: Counter[str], alone: dict[str, Content], contents: dict[str, Content], riding: dict[str, str]
) -> tuple[Left, ...]:  # fmt: skip
    """What stays behind and why; `alone` are the cases that no vehicle took, with what is in them."""
    loads = {van.id: van.payload_g for van in job.vans}
    for case, content in contents.items():
        if case in riding:
            loads[riding[case]] -= vans.gross_g(job, case, content)
    return tuple(
        replace(one, reason=_no_vehicle(job, one.gear, alone, max(loads.values(), default=0)) or one.reason)
        for one in explain(job, dict(behind), max(loads.values(), default=None))
    )


def _no_vehicle(job: Job, ident: str, alone: dict[str, Content], free_g: int) -> str:
    """Where it was packed and its case rides nowhere, the vehicles are the limit and not the cases."""
    waits = [case for case, content in sorted(alone.items()) if ident in dict(content)]
    if not waits:
        return ""
    weighs = min(vans.gross_g(job, case, alone[case]) for case in waits)
    figures = f"{weighs / 1000:g} kg, and {max(0, free_g) / 1000:g} kg at most are free on one"
    return f"No vehicle takes {', '.join(waits)} ({figures}). It takes a larger vehicle or one more."


@dataclass
class Planner:
    """One run. `remaining` says how many seconds are left, by the caller's clock; `stop` ends it early.

    `progress` hears of each goal's value and bound as they become known, over all families. `on_plan` is handed a
    complete, checked plan at once, and each better one after it; what `run` returns is never worse. `check` says what a
    plan breaks: a plan that breaks anything is not handed on. All are called in the thread that runs.
    """

    job: Job
    remaining: Remaining
    stop: Stop
    progress: Progress = _quiet
    seed: int = 0
    on_plan: Callable[[Plan], None] = _unseen
    check: Check = judge_plan

    def run(self, warm: Plan | None = None) -> Plan:
        """Plan the load. `warm`: an earlier plan to begin from; the load may have changed a little since."""
        self._started = self.remaining()
        self._best = self._first = self._offer(at_once(self.job, warm), None)
        parts, rounds = self._cases(self._first)
        contents = {case: held for part in parts for case, held in part.contents.items()}
        layouts = dict(self._now.layouts)
        riding, even = vans.share_out(self.job, contents, self.remaining, self.stop, self.progress)
        plan = self._whole(parts, contents, layouts, riding, even)
        plan = replace(plan, notes=self._notes(parts, rounds, warm), conflicts=self._conflicts())
        return self._offer(plan, self._best)

    def _conflicts(self) -> tuple[Content, ...]:
        """For each family of which something is known to stay behind: the smallest set that cannot go together."""
        short = [search.job for search in self._searches if search.levels()[0].bound]
        return tuple(filter(None, (conflict.smallest(job, self.remaining, self.stop) for job in short)))

    def _offer(self, plan: Plan, best: Plan | None) -> Plan:
        """The better of both, with the time it took, handed on. One that fails the check is never shown."""
        plan = replace(plan, seconds=round(self._started - self.remaining(), 3), seed=self.seed)
        plan = replace(plan, breaches=self.check(self.job, plan))
        if best is not None and (plan.breaches or _goal(self.job, plan) > _goal(self.job, best)):
            return best
        if not plan.breaches:
            self.on_plan(plan)
        return plan

    def _cases(self, start: Plan) -> tuple[list[Part], int]:
        """Each family quickly, the small ones first; then all the time that is left for those not yet proven."""
        self._now = Held(dict(start.contents), {one.gear: one.count for one in start.left}, dict(start.layouts))
        searches = self._searches = [self._search(part) for part in families(self.job)]
        for search in searches:
            search.begin(lambda: self.remaining() / 2)
        waiting = [search for search in searches if not search.finished]
        total = sum(_weight(search.job) for search in waiting)
        for search in waiting:
            until = self.remaining() * (1 - 0.95 * _weight(search.job) / total)
            search.go_on(lambda until=until: max(0.0, self.remaining() - until))
            total -= _weight(search.job)
        return [search.part() for search in searches], max(search.rounds for search in searches)

    def _search(self, part: Job) -> Search:
        now = self._now
        mine = Held(
            {case: held for case, held in now.contents.items() if case in part.cases},
            {ident: count for ident, count in now.left.items() if ident in part.kinds},
            {case: laid for case, laid in now.layouts.items() if case in part.cases},
        )
        return Search(part, self.stop, self._tell, lambda held: self._hear(part, held), mine, self.seed)

    def _levels(self) -> tuple[Level, ...]:
        return _summed([search.levels() for search in self._searches])

    def _tell(self) -> None:
        for level in self._levels():
            self.progress(level.name, level.value, level.bound)

    def _hear(self, part: Job, held: Held) -> None:
        """A family got better: the whole plan with it, the other families as they stand."""
        now = self._now
        self._now = Held(
            {case: one for case, one in now.contents.items() if case not in part.cases} | held.contents,
            {ident: count for ident, count in now.left.items() if ident not in part.kinds} | held.left,
            {case: one for case, one in now.layouts.items() if case not in part.cases} | held.layouts,
        )
        plan = _carried(self.job, self._now)
        self._best = self._offer(replace(plan, levels=_with_left(self._levels(), plan.left)), self._best)

    def _whole(
        self, parts: list[Part], contents: dict[str, Content], layouts: trunks.Layouts, riding: dict[str, str],
        even: tuple[Level, ...],
    ) -> Plan:  # fmt: skip
        behind = Counter({ident: count for part in parts for ident, count in part.left.items()})
        none = sorted(set(self.job.for_vans(contents)) - set(riding)) if self.job.vans else []
        alone = _taken_off(none, contents, layouts, behind)
        engines = Counter(level.engine for part in parts for level in part.levels)
        summed = _summed([part.levels for part in parts])
        left = _left(self.job, behind, alone, contents, riding)
        return Plan(
            contents, riding, layouts, left, (*_with_left(summed, left), *even),
            " and ".join(sorted(set(engines) - {"first fit"})) or "first fit", self.seed,
        )  # fmt: skip

    def _notes(self, parts: list[Part], rounds: int, warm: Plan | None) -> tuple[str, ...]:
        notes = [] if not rounds else [f"Trunks were made less full {rounds} times until every layout went in."]
        if not all(part.canonical for part in parts) or warm is not None:
            notes.append("Another run may find another plan that is as good.")
        return tuple(notes)


def _with_left(levels: tuple[Level, ...], left: tuple[Left, ...]) -> tuple[Level, ...]:
    """What no vehicle takes is left behind too."""
    behind = sum(one.count for one in left)
    return tuple(replace(one, value=behind) if one.name == LEFT else one for one in levels)


def _weight(part: Job) -> int:
    return max(1, len(part.gear) * len(part.shells))


def _summed(parts: list[tuple[Level, ...]]) -> tuple[Level, ...]:
    """Families share nothing, so values and bounds add up."""
    found = []
    for mine in zip(*parts, strict=True):
        names = " and ".join(sorted({one.engine for one in mine} - {"first fit"})) or "first fit"
        found.append(Level(mine[0].name, sum(m.value for m in mine), sum(m.bound for m in mine), names))
    return tuple(found)
