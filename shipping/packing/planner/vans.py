"""Which case rides on which vehicle: payload, what must ride together or apart, and then the most even masses."""

from __future__ import annotations

from collections import defaultdict

from shipping.packing.planner.cases import Progress, Remaining
from shipping.packing.planner.engines import Stop, highs, race
from shipping.packing.planner.model import INFINITE, Model
from shipping.packing.wanted import Content, Job, Level

EVEN, BEHIND = "kilograms between heaviest and lightest vehicle", "cases without a vehicle"


def gross_g(job: Job, case: str, content: Content) -> int:
    return job.cases[case].tare_g + sum(job.kinds[gear].mass_g * count for gear, count in content)


class Riding:
    def __init__(self, job: Job, contents: dict[str, Content]) -> None:
        self.job, self.contents, self.model = job, contents, Model()
        self.rides = {(case, van.id): self.model.var(0, 1) for case in contents for van in job.vans}
        self.waits = {case: self.model.var(0, 1) for case in contents}
        self.most = self.model.var(0, sum(gross_g(job, case, held) for case, held in contents.items()))
        self.least = self.model.var(0, self.model.upper[self.most])
        for case in contents:
            row = {self.rides[case, van.id]: 1 for van in job.vans}
            self.model.row({**row, self.waits[case]: 1}, 1, 1, f"one vehicle for {case}")
        self._payload()
        self._tags()

    def _payload(self) -> None:
        for van in self.job.vans:
            terms = {self.rides[c, van.id]: gross_g(self.job, c, held) for c, held in self.contents.items()}
            self.model.row(terms, -INFINITE, van.payload_g, f"payload {van.id}")
            self.model.row({**terms, self.most: -1}, -INFINITE, 0, f"most {van.id}")
            self.model.row({**terms, self.least: -1}, 0, INFINITE, f"least {van.id}")

    def _tags(self) -> None:
        convoys: dict[str, set[str]] = defaultdict(set)
        aparts: dict[str, list[tuple[str, str]]] = defaultdict(list)
        for case, content in self.contents.items():
            for ident, _ in content:
                gear = self.job.kinds[ident]
                if gear.convoy:
                    convoys[gear.convoy].add(case)
                if gear.apart:
                    aparts[gear.apart].append((ident, case))
        for tag, cases in sorted(convoys.items()):
            first, *others = sorted(cases)
            for case in others:
                for van in self.job.vans:
                    self.model.row({self.rides[first, van.id]: 1, self.rides[case, van.id]: -1}, 0, 0, f"convoy {tag}")
        for tag, rows in sorted(aparts.items()):
            self._apart(tag, rows)

    def _apart(self, tag: str, rows: list[tuple[str, str]]) -> None:
        if len(self.job.vans) < 2:
            return
        for at, (ident, case) in enumerate(rows):
            for other, near in rows[at + 1 :]:
                if ident != other and case != near:
                    for van in self.job.vans:
                        pair = {self.rides[case, van.id]: 1, self.rides[near, van.id]: 1}
                        self.model.row(pair, 0, 1, f"apart {tag}")


def share_out(
    job: Job, contents: dict[str, Content], remaining: Remaining, stop: Stop, progress: Progress
) -> tuple[dict[str, str], tuple[Level, ...]]:
    """The vehicle of each case, and how even. Cases that no vehicle takes have none."""
    if not job.vans or not contents:
        return {}, ()
    riding = Riding(job, contents)
    model, levels, values = riding.model, [], None
    waits = dict.fromkeys(riding.waits.values(), 1)
    even = {riding.most: 1, riding.least: -1}
    for name, goal, scale in ((BEHIND, waits, 1), (EVEN, even, 1000)):
        model.goal = goal
        found = race(model, min(5.0, remaining() / 2), start=values, stop=stop)
        if found.values is None:
            break
        values, value = found.values, model.value(goal, found.values)
        low = max(0, min(found.bound, value))
        levels.append(Level(name, -(-value // scale), -(-low // scale), found.engine))
        progress(name, levels[-1].value, levels[-1].bound)
        model.row(goal, -INFINITE, value, f"goal {name}")
    if values is not None and all(level.proven for level in levels):
        model.goal = {var: at for at, var in enumerate(riding.rides.values())}
        again = highs(model, min(1.0, remaining()), stop=stop)
        values = again.values or values
    return _read(riding, values), tuple(levels)


def _read(riding: Riding, values: list[int] | None) -> dict[str, str]:
    return {case: van for (case, van), var in riding.rides.items() if values and values[var]}
