"""No plan can be better than this: cases that are alike are thrown together, and what they hold is only summed.

The pool is small and quickly proven. Its bounds hold for every plan; which cases it opens is where to begin.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace

from shipping.packing.planner import fitting
from shipping.packing.planner.engines import Stop, highs
from shipping.packing.planner.model import INFINITE, Found, Model
from shipping.packing.wanted import Gear, Job, Shell

STEPS = range(1, 8)
NAMES = ("units", "room", "top", "slots", "mass")


@dataclass(frozen=True, slots=True)
class Pool:
    """A proven bound of one goal, and the cases that a plan as good as that might open (none, if none was found)."""

    bound: int
    opened: tuple[str, ...]
    exact: bool
    for_batteries: frozenset[str] = frozenset()


class Pooling:
    """One family, thrown together. `by_volume`: as if anything could be poured into a trunk."""

    def __init__(self, job: Job, by_volume: bool = False) -> None:
        self.job, self.by_volume, self.model = job, by_volume, Model()
        self.used = {shell.id: self.model.var(0, 1) for shell in job.shells}
        self.left = {gear.id: self.model.var(0, gear.count) for gear in job.gear}
        self.kept: list[int] = []
        mixed = job.split_batteries and len({gear.battery for gear in job.gear}) == 2
        self.batteries = {shell.id: self.model.var(0, 1) for shell in job.shells} if mixed else {}
        for case, var in self.batteries.items():
            self.model.row({var: 1, self.used[case]: -1}, -INFINITE, 0, "batteries")
        groups: dict[Shell, list[str]] = defaultdict(list)
        for shell in job.shells:
            groups[replace(shell, id="", name="", made_for=tuple(sorted(shell.made_for)))].append(shell.id)
        packed: dict[str, dict[int, int]] = {gear.id: {self.left[gear.id]: 1} for gear in job.gear}
        for cases in groups.values():
            for ident, var in self._group(cases).items():
                packed[ident][var] = 1
        for gear in job.gear:
            self.model.row(packed[gear.id], gear.count, gear.count, f"pack {gear.id}")

    def _group(self, cases: list[str]) -> dict[str, int]:
        """Variables and rows of some cases that are alike; (kind -> how many of it go into any of them)."""
        shell, used = self.job.cases[cases[0]], {self.used[case]: 1 for case in cases}
        inside = {}
        for gear in self.job.gear:
            most = max(fitting.most(gear, self.job.cases[case], self.job) for case in cases)
            if most:
                var = inside[gear.id] = self.model.var(0, min(gear.count, most * len(cases)))
                self._row({var: 1}, used, most)
                self._homes(gear, cases, var)
        here = [gear for gear in self.job.gear if gear.id in inside]
        for tag in sorted({tag for gear in here for tag in gear.not_in_one_case}):
            self._row({inside[gear.id]: 1 for gear in here if tag in gear.not_in_one_case}, used, 1)
        for rails in sorted({gear.rails for gear in here if gear.rails}):
            frames = {inside[gear.id]: -1 for gear in here if gear.rails == rails}
            self.model.row({**frames, **({inside[rails]: 1} if rails in inside else {})}, 0, INFINITE, "rails")
        self._limits(here, shell, inside, cases)
        return inside

    def _cases(self, cases: list[str], battery: bool, weight: int = 1) -> dict[int, int]:
        """How many of these cases may hold this sort, as terms: where batteries keep to themselves, not all may."""
        if battery and self.batteries:
            return {self.batteries[case]: weight for case in cases}
        not_these = {self.batteries[case]: -weight for case in cases} if self.batteries else {}
        return {**{self.used[case]: weight for case in cases}, **not_these}

    def _homes(self, gear: Gear, cases: list[str], var: int) -> None:
        mine = {}
        for case in cases:
            if home := min(gear.at_home_in(case), fitting.most(gear, self.job.cases[case], self.job)):
                kept = self.model.var(0, home)
                self.model.row({kept: 1, **self._cases([case], gear.battery, -home)}, -INFINITE, 0, "home")
                mine[kept] = 1
        if mine:
            self.model.row({**mine, var: -1}, -INFINITE, 0, "kept")
            self.kept += mine

    def _limits(self, here: list[Gear], shell: Shell, inside: dict[str, int], alike: list[str]) -> None:
        """What the cases hold in sum; where batteries keep to themselves, each sort in its own cases."""
        parts = [([one for one in here if one.battery == sort], self._cases(alike, sort)) for sort in (True, False)]
        if not self.batteries:
            parts = [(here, self._cases(alike, False))]
        for gear, cases in parts:
            needs = {one.id: self._needs(one, shell) for one in gear}
            for name in sorted({name for need in needs.values() for name in need}):
                sizes = {inside[ident]: need[name] for ident, need in needs.items() if need.get(name)}
                room = self._room(shell)[name]
                self._row(sizes, cases, room)
                if name.split()[0] in NAMES and room:
                    for weights in _sharper(sizes, room):
                        self._row(weights, cases, room)

    def _needs(self, gear: Gear, shell: Shell) -> dict[str, int]:
        needs = fitting.needs(gear, shell)
        if self.by_volume and "room" in needs and gear.size_mm:
            needs = needs | {"room": gear.size_mm[0] * gear.size_mm[1] * gear.size_mm[2], "top": 0}
        return needs

    def _room(self, shell: Shell) -> dict[str, int]:
        room = fitting.limits(shell)
        if self.by_volume and shell.inside_mm:
            room["room"] = shell.inside_mm[0] * shell.inside_mm[1] * shell.inside_mm[2]
        return room

    def _row(self, terms: dict[int, int], cases: dict[int, int], room: int) -> None:
        self.model.row({**terms, **{var: -room * many for var, many in cases.items()}}, -INFINITE, 0, "room")

    def goals(self) -> list[tuple[dict[int, int], int]]:
        """(terms to make small, what to add) of each goal, in the order of the job."""
        behind, cases = dict.fromkeys(self.left.values(), 1), dict.fromkeys(self.used.values(), 1)
        lives = sum(min(one.count, sum(many for _, many in one.homes)) for one in self.job.gear)
        moved = (dict.fromkeys(self.kept, -1), lives)
        return [(behind, 0), moved, (cases, 0)] if self.job.moves_first else [(behind, 0), (cases, 0), moved]

    def bound(self, reached: list[int], seconds: float, stop: Stop) -> Pool:
        """The bound of the next goal for all plans that do not do worse in the goals before it."""
        self.model.goal, add = self.goals()[len(reached)]
        found = self._asked(reached, seconds, stop)
        floor = sum(min(0, weight) * self.model.upper[var] for var, weight in self.model.goal.items())
        if found.values is None:
            return Pool(max(min(found.bound, INFINITE), floor) + add, (), False)
        value = self.model.value(self.model.goal, found.values)
        return Pool(max(found.bound, floor) + add, *self._opened(found.values, value == found.bound))

    def roomiest(self, reached: list[int], seconds: float, stop: Stop) -> Pool | None:
        """Of the cases that plans as good as this might open, those with most room: it is easiest found there."""
        self.model.goal = {self.used[shell.id]: -_litres(shell) for shell in self.job.shells if _litres(shell)}
        found = self._asked(reached, seconds, stop) if self.model.goal else None
        if found is None or found.values is None:
            return None
        return Pool(0, *self._opened(found.values, exact=False))

    def _asked(self, reached: list[int], seconds: float, stop: Stop) -> Found:
        rows = len(self.model.rows)
        for (terms, add), value in zip(self.goals(), reached, strict=False):
            if terms:
                self.model.row(terms, -INFINITE, value - add, "goal")
        found = highs(self.model, seconds, stop=stop)
        del self.model.rows[rows:]
        return found

    def _opened(self, values: list[int], exact: bool) -> tuple[tuple[str, ...], bool, frozenset[str]]:
        opened = tuple(case for case, var in self.used.items() if values[var])
        return opened, exact, frozenset(case for case, var in self.batteries.items() if values[var])


def _litres(shell: Shell) -> int:
    length, width, height = shell.inside_mm or (0, 0, 0)
    return length * width * height // 10**6


def _sharper(sizes: dict[int, int], room: int) -> Iterator[dict[int, int]]:
    """The same limit seen through dual feasible functions (Fekete and Schepers, 2001): what fits still fits.

    Things above half a case count for whole ones and small ones for nothing; or sizes are rounded down to k-ths.
    """
    for small in sorted({size for size in sizes.values() if size * 2 <= room}):
        if any(size > room - small for size in sizes.values()):
            yield {var: room if size > room - small else size if size >= small else 0 for var, size in sizes.items()}
    for k in STEPS:
        yield {var: _rounded(size, room, k) for var, size in sizes.items()}


def _rounded(size: int, room: int, k: int) -> int:
    """room * u_k(size / room), rounded down so that it stays valid."""
    parts, rest = divmod(size * (k + 1), room)
    return size if rest == 0 else parts * room // k
