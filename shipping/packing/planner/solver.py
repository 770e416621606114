"""A whole load, planned: at once by hand rules, then family by family by two engines, then onto the vehicles."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from shipping.packing.geometry import judge_plan
from shipping.packing.planner import boxes, firstfit, vans
from shipping.packing.planner.cases import CASES, LEFT, MOVES, Family, Part, Progress, Remaining, Solving, families
from shipping.packing.planner.engines import Stop
from shipping.packing.planner.fitting import SHARE, takes_room
from shipping.packing.planner.reasons import explain
from shipping.packing.wanted import Content, Job, Left, Level, Placed, Plan, moves

ROUNDS = 3
TIGHTER = 85
Layouts = dict[str, tuple[Placed, ...]]


def _quiet(_name: str, _value: int, _bound: int) -> None:
    return None


def _unseen(_plan: Plan) -> None:
    return None


def at_once(job: Job, warm: Plan | None = None) -> Plan:
    """A complete plan without a search. It passed the check, or what it could not place is left and said.

    `warm` is an earlier plan, of this load or one like it: what it says still holds wherever it still can.
    """
    plan = _checked(job, firstfit.at_once(job))
    if warm is None:
        return plan
    again = _checked(job, firstfit.again(job, warm.contents))
    return again if not again.breaches and _goal(job, again) <= _goal(job, plan) else plan


def _goal(job: Job, plan: Plan) -> tuple[int, int, int]:
    return firstfit.goal(job, {one.gear: one.count for one in plan.left}, plan.contents)


def _checked(job: Job, filling: firstfit.Filling) -> Plan:
    contents, behind = filling.contents(), Counter(filling.left)
    contents, layouts, behind = _only_what_goes_in(job, contents, behind)
    riding, alone = _ride(job, contents)
    for case in alone:
        behind.update(dict(contents.pop(case)))
        layouts.pop(case, None)
    left = _left(job, behind, alone)
    levels = (Level(CASES, len(contents), _floor(job, behind)), Level(MOVES, moves(job, contents), 0))
    return _judged(job, Plan(contents, riding, layouts, left, levels if contents else (), "first fit"))


def _floor(job: Job, behind: Counter[str]) -> int:
    """No plan has fewer cases than one per family that packs something."""
    return sum(any(gear.count > behind[gear.id] for gear in part.gear) for part in families(job))


def _left(job: Job, behind: Counter[str], alone: list[str]) -> tuple[Left, ...]:
    said = explain(job, dict(behind))
    if not alone:
        return said
    return tuple(replace(one, reason=f"{one.reason} No vehicle takes {', '.join(alone)}.") for one in said)


def _only_what_goes_in(
    job: Job, contents: dict[str, Content], behind: Counter[str]
) -> tuple[dict[str, Content], Layouts, Counter[str]]:
    """Take things out of a trunk, smallest kinds first, until the layout shows that the rest goes in."""
    layouts: Layouts = {}
    fine: dict[str, Content] = {}
    for case, content in contents.items():
        content, out = _lighter(job, case, content, layouts)
        behind.update(out)
        if content:
            fine[case] = content
    return fine, layouts, behind


def _lighter(job: Job, case: str, content: Content, layouts: Layouts) -> tuple[Content, Counter[str]]:
    out: Counter[str] = Counter()
    while content and _has_room_gear(job, content):
        layout = boxes.lay_out(job, job.cases[case], content)
        if layout is not None:
            layouts[case] = layout
            break
        ident, count = content[-1]
        gone = count if job.kinds[ident].together else 1
        out[ident] += gone
        content = tuple((one, n - gone if one == ident else n) for one, n in content if n > gone or one != ident)
    return content, out


def _has_room_gear(job: Job, content: Content) -> bool:
    return any(takes_room(job.kinds[ident]) for ident, _ in content)


def _ride(job: Job, contents: dict[str, Content]) -> tuple[dict[str, str], list[str]]:
    """The heaviest case onto the emptiest vehicle that takes it; and the cases that none takes."""
    if not job.vans:
        return {}, []
    room = {van.id: van.payload_g for van in job.vans}
    tags: dict[str, dict[str, str]] = {}
    riding: dict[str, str] = {}
    for case in sorted(contents, key=lambda one: (-vans.gross_g(job, one, contents[one]), one)):
        mass = vans.gross_g(job, case, contents[case])
        may = [van for van in room if room[van] >= mass and _may_ride(job, contents[case], van, tags)]
        if not may:
            continue
        van = max(may, key=lambda one: (room[one], one))
        riding[case] = van
        room[van] -= mass
        for word in _words(job, contents[case]):
            tags.setdefault(word, {})[case] = van
    return riding, sorted(set(contents) - set(riding))


def _words(job: Job, content: Content) -> list[str]:
    return [f"{word} {tag}" for ident, _ in content for word, tag in _tags(job, ident)]


def _tags(job: Job, ident: str) -> Iterator[tuple[str, str]]:
    gear = job.kinds[ident]
    yield from (pair for pair in (("convoy", gear.convoy), ("apart", gear.apart)) if pair[1])


def _may_ride(job: Job, content: Content, van: str, tags: dict[str, dict[str, str]]) -> bool:
    for word in _words(job, content):
        on = set(tags.get(word, {}).values())
        if word.startswith("convoy") and on and van not in on:
            return False
        if word.startswith("apart") and len(job.vans) > 1 and van in on:
            return False
    return True


@dataclass
class Planner:
    """One run. `remaining` says how many seconds are left, by the caller's clock; `stop` ends it early.

    `progress` hears of every goal's value and bound. `on_plan` is handed a complete, checked plan at once, and each
    better one after it; what `run` returns is never worse. All are called in the thread that runs.
    """

    job: Job
    remaining: Remaining
    stop: Stop
    progress: Progress = _quiet
    seed: int = 0
    on_plan: Callable[[Plan], None] = _unseen

    def run(self, warm: Plan | None = None) -> Plan:
        """Plan the load. `warm`: an earlier plan to begin from; the load may have changed a little since."""
        started = self.remaining()
        first = self._show(at_once(self.job, warm), started)
        parts, layouts, rounds = self._cases(first)
        contents = {case: held for part in parts for case, held in part.contents.items()}
        riding, even = vans.share_out(self.job, contents, self.remaining, self.stop, self.progress)
        plan = self._whole(parts, contents, layouts, riding, even)
        plan = _judged(self.job, replace(plan, notes=self._notes(parts, rounds)))
        better = not plan.breaches and _goal(self.job, plan) <= _goal(self.job, first)
        return self._show(plan if better else first, started)

    def _show(self, plan: Plan, started: float) -> Plan:
        """Hand a plan on, with the time it took; one that fails the check is never shown."""
        plan = replace(plan, seconds=round(started - self.remaining(), 3), seed=self.seed)
        if not plan.breaches:
            self.on_plan(plan)
        return plan

    def _cases(self, start: Plan) -> tuple[list[Part], Layouts, int]:
        parts, layouts, rounds = [], {}, 0
        waiting = families(self.job)
        total = sum(_weight(one) for one in waiting) or 1
        for part in waiting:
            mine, laid, used = self._family(part, start, _weight(part) / total)
            total -= _weight(part)
            parts.append(mine)
            layouts |= laid
            rounds = max(rounds, used)
        return parts, layouts, rounds

    def _family(self, part: Job, start: Plan, slice_of: float) -> tuple[Part, Layouts, int]:
        """Solve, lay every trunk out, make those tighter that do not go in; at most three times."""
        contents = {case: start.contents[case] for case in part.cases if case in start.contents}
        behind = {one.gear: one.count for one in start.left if one.gear in part.kinds}
        tight: dict[str, int] = {}
        first: tuple[Level, ...] = ()
        until = self.remaining() * (1 - slice_of * 0.9)
        for turn in range(ROUNDS + 1):
            solving = Solving(
                Family(part, tight), lambda: max(0.05, self.remaining() - until), self.stop, self.progress
            )
            found = solving.run(contents, behind)
            first = first or found.levels
            layouts, failed = self._lay_out(part, found)
            if not failed:
                return replace(found, levels=_bounded(found.levels, first)), layouts, turn
            for case in failed:
                tight[case] = tight.get(case, SHARE) * TIGHTER // 100
        held, layouts, out = _only_what_goes_in(part, found.contents, Counter(found.left))
        return replace(found, contents=held, left=dict(out), levels=_unproven(found.levels)), layouts, ROUNDS

    def _lay_out(self, part: Job, found: Part) -> tuple[Layouts, list[str]]:
        laid: Layouts = {}
        failed = []
        for case, content in found.contents.items():
            if _has_room_gear(part, content):
                layout = boxes.lay_out(part, part.cases[case], content)
                if layout is None:
                    failed.append(case)
                else:
                    laid[case] = layout
        return laid, failed

    def _whole(
        self, parts: list[Part], contents: dict[str, Content], layouts: Layouts, riding: dict[str, str],
        even: tuple[Level, ...],
    ) -> Plan:  # fmt: skip
        behind = Counter({ident: count for part in parts for ident, count in part.left.items()})
        alone = sorted(set(contents) - set(riding)) if self.job.vans else []
        for case in alone:
            behind.update(dict(contents.pop(case)))
            layouts.pop(case, None)
        engines = Counter(level.engine for part in parts for level in part.levels)
        summed = _summed(parts)
        if alone:
            summed = tuple(replace(one, value=sum(behind.values())) if one.name == LEFT else one for one in summed)
        return Plan(
            contents, riding, layouts, _left(self.job, behind, alone), (*summed, *even),
            " and ".join(sorted(set(engines) - {"first fit"})) or "first fit", self.seed,
        )  # fmt: skip

    def _notes(self, parts: list[Part], rounds: int) -> tuple[str, ...]:
        notes = [] if not rounds else [f"Trunks were made less full {rounds} times until every layout went in."]
        if not all(part.canonical for part in parts):
            notes.append("Another run may find another plan that is as good.")
        return tuple(notes)


def _weight(part: Job) -> int:
    return max(1, len(part.gear) * len(part.shells))


def _bounded(levels: tuple[Level, ...], first: tuple[Level, ...]) -> tuple[Level, ...]:
    """A trunk made less full proves nothing of the load itself: only the bounds of the first round count."""
    return tuple(replace(one, bound=min(one.bound, was.bound)) for one, was in zip(levels, first, strict=False))


def _unproven(levels: tuple[Level, ...]) -> tuple[Level, ...]:
    return tuple(replace(one, bound=min(one.bound, one.value - 1) if one.value else one.bound) for one in levels)


def _summed(parts: list[Part]) -> tuple[Level, ...]:
    """Families share nothing, so values and bounds add up."""
    if any(not part.levels for part in parts):
        return ()
    found = []
    for at in range(3):
        mine = [part.levels[at] for part in parts]
        if mine:
            names = " and ".join(sorted({one.engine for one in mine} - {"first fit"})) or "first fit"
            found.append(Level(mine[0].name, sum(m.value for m in mine), sum(m.bound for m in mine), names))
    return tuple(found)


def _judged(job: Job, plan: Plan) -> Plan:
    return replace(plan, breaches=judge_plan(job, plan))
