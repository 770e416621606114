"""Which case rides on which vehicle: payload, what must ride together or apart, and then the most even masses."""

from __future__ import annotations

from collections import defaultdict
from itertools import product

from shipping.packing.planner.engines import Stop, highs, race
from shipping.packing.planner.model import INFINITE, Model
from shipping.packing.planner.search import Progress, Remaining
from shipping.packing.wanted import Content, Job, Level

KILOGRAM = 1000
EVEN, BEHIND = "kilograms between heaviest and lightest vehicle", "cases without a vehicle"


def gross_g(job: Job, case: str, content: Content) -> int:
    return job.cases[case].tare_g + sum(job.kinds[gear].mass_g * count for gear, count in content)


Riding = dict[str, str]


class Sharing:
    """Cases that must ride together as one, who may not ride with whom, and where each rides so far."""

    def __init__(self, job: Job, contents: dict[str, Content]) -> None:
        self.job = job
        self.mass = {case: gross_g(job, case, held) for case, held in contents.items()}
        self.groups = _convoys(job, contents)
        self.group_g = [sum(self.mass[case] for case in group) for group in self.groups]
        self.apart = [_tags(job, contents, group) for group in self.groups]
        self.rides: dict[int, str] = {}
        self.room = {van.id: van.payload_g for van in job.vans}
        self.load = dict.fromkeys(self.room, 0)

    def may(self, group: int, van: str, without: int = -1) -> bool:
        """Is nothing there that it must be apart from? `without`: as if that group were not there."""
        others = (one for one, on in self.rides.items() if on == van and one not in (group, without))
        return not any(_clash(self.apart[group], self.apart[one]) for one in others)

    def put(self, group: int, van: str) -> None:
        if group in self.rides:
            self.load[self.rides[group]] -= self.group_g[group]
        self.rides[group] = van
        self.load[van] += self.group_g[group]

    def fill(self) -> None:
        """The heaviest first, onto the emptiest vehicle that may take it."""
        for group in sorted(range(len(self.groups)), key=lambda one: (-self.group_g[one], self.groups[one])):
            may = [van for van in self.room if self._holds(van, self.group_g[group]) and self.may(group, van)]
            if may:
                self.put(group, min(may, key=lambda van: (self.load[van] - self.room[van], van)))

    def _holds(self, van: str, more: int) -> bool:
        return self.load[van] + more <= self.room[van]

    def even_out(self) -> None:
        """One moved or two exchanged between the heaviest and another vehicle, as long as that evens them out."""
        for _ in range(200):
            heavy = max(self.load, key=lambda van: (self.load[van], van))
            light = min(self.load, key=lambda van: (self.load[van], van))
            gap = self.load[heavy] - self.load[light]
            change = self._best(heavy, light, gap) if gap >= KILOGRAM else None
            if change is None:
                return
            for group, van in change:
                self.put(group, van)

    def _best(self, heavy: str, light: str, gap: int) -> list[tuple[int, str]] | None:
        here = [group for group, van in self.rides.items() if van == heavy]
        there = [-1, *(group for group, van in self.rides.items() if van == light)]
        found: tuple[int, int, int] | None = None
        for down, up in product(here, there):
            shift = self.group_g[down] - (self.group_g[up] if up >= 0 else 0)
            this = (abs(gap - 2 * shift), down, up)
            evens = 0 < shift < gap and (found is None or this < found)
            if evens and self._may_change(down, up, heavy, light, shift):
                found = this
        if found is None:
            return None
        return [(found[1], light), *([(found[2], heavy)] if found[2] >= 0 else [])]

    def _may_change(self, down: int, up: int, heavy: str, light: str, shift: int) -> bool:
        fits = self._holds(light, shift) and self.may(down, light, without=up)
        return fits and (up < 0 or self.may(up, heavy, without=down))

    def riding(self) -> Riding:
        return {case: van for group, van in self.rides.items() for case in self.groups[group]}


def _convoys(job: Job, contents: dict[str, Content]) -> list[tuple[str, ...]]:
    """The cases in groups: those that share a word of a convoy ride as one."""
    groups: list[tuple[set[str], set[str]]] = []
    for case, content in sorted(contents.items()):
        words, cases = {job.kinds[ident].convoy for ident, _ in content} - {""}, {case}
        for other in [one for one in groups if one[0] & words]:
            groups.remove(other)
            words, cases = words | other[0], cases | other[1]
        groups.append((words, cases))
    return sorted(tuple(sorted(cases)) for _, cases in groups)


def _tags(job: Job, contents: dict[str, Content], cases: tuple[str, ...]) -> dict[str, set[str]]:
    """Of the things to be apart: which tag, which kinds."""
    found: dict[str, set[str]] = defaultdict(set)
    for case in cases:
        for ident, _ in contents[case]:
            for tag in job.not_on_one_van(job.kinds[ident]):
                found[tag].add(ident)
    return found


def _clash(one: dict[str, set[str]], other: dict[str, set[str]]) -> bool:
    return any(len(one[tag] | other[tag]) > 1 for tag in one.keys() & other.keys())


def by_hand(job: Job, contents: dict[str, Content]) -> tuple[Riding, list[str]]:
    """Onto the vehicles without a search; and the cases that none takes."""
    contents = job.for_vans(contents)
    if not job.vans:
        return {}, []
    sharing = Sharing(job, contents)
    sharing.fill()
    sharing.even_out()
    riding = sharing.riding()
    return riding, sorted(set(contents) - set(riding))


class Loading:
    def __init__(self, job: Job, contents: dict[str, Content]) -> None:
        self.job, self.contents, self.model = job, contents, Model()
        self.rides = {(case, van.id): self.model.var(0, 1) for case in contents for van in job.vans}
        self.waits = {case: self.model.var(0, 1) for case in contents}
        self.most = self.model.var(0, sum(gross_g(job, case, held) for case, held in contents.items()))
        self.least = self.model.var(0, self.model.upper[self.most])
        self.uneven = self.model.var(0, self.model.upper[self.most])
        self.model.row({self.uneven: 1, self.most: -1, self.least: 1}, 1 - KILOGRAM, INFINITE, "uneven")
        for case in contents:
            row = {self.rides[case, van.id]: 1 for van in job.vans}
            self.model.row({**row, self.waits[case]: 1}, 1, 1, f"one vehicle for {case}")
        self._payload()
        self._tags()

    def start(self, riding: Riding) -> list[int]:
        """A sharing-out as values of the model."""
        values = list(self.model.lower)
        for (case, van), var in self.rides.items():
            values[var] = int(riding.get(case) == van)
        for case, var in self.waits.items():
            values[var] = int(case not in riding)
        loads = {van.id: 0 for van in self.job.vans}
        for case, van in riding.items():
            loads[van] += gross_g(self.job, case, self.contents[case])
        values[self.most], values[self.least] = max(loads.values()), min(loads.values())
        values[self.uneven] = max(0, max(loads.values()) - min(loads.values()) + 1 - KILOGRAM)
        return values

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
                for word in self.job.not_on_one_van(gear):
                    aparts[word].append((ident, case))
        for tag, cases in sorted(convoys.items()):
            first, *others = sorted(cases)
            for case in others:
                for van in self.job.vans:
                    self.model.row({self.rides[first, van.id]: 1, self.rides[case, van.id]: -1}, 0, 0, f"convoy {tag}")
        for tag, rows in sorted(aparts.items()):
            self._apart(tag, rows)

    def _apart(self, tag: str, rows: list[tuple[str, str]]) -> None:
        for at, (ident, case) in enumerate(rows):
            for other, near in rows[at + 1 :]:
                if ident != other and case != near:
                    for van in self.job.vans:
                        pair = {self.rides[case, van.id]: 1, self.rides[near, van.id]: 1}
                        self.model.row(pair, 0, 1, f"apart {tag}")


def share_out(
    job: Job, contents: dict[str, Content], remaining: Remaining, stop: Stop, progress: Progress
) -> tuple[Riding, tuple[Level, ...]]:
    """The vehicle of each case, and how even to the kilogram. Cases that no vehicle takes have none."""
    contents = job.for_vans(contents)
    if not job.vans or not contents:
        return {}, ()
    hand, alone = by_hand(job, contents)
    if not alone and _uneven(job, contents, hand) < KILOGRAM:
        return hand, (Level(BEHIND, 0, 0, "first fit"), Level(EVEN, 0, 0, "first fit"))
    loading = Loading(job, contents)
    model, levels, values = loading.model, [], loading.start(hand)
    waits = dict.fromkeys(loading.waits.values(), 1)
    even = {loading.uneven: 1}
    for name, goal, scale in ((BEHIND, waits, 1), (EVEN, even, KILOGRAM)):
        model.goal = goal
        found = race(model, min(2.0, remaining() / 2), start=values if model.holds(values) else None, stop=stop)
        if found.values is None:
            return hand, tuple(levels)
        values, value = found.values, model.value(goal, found.values)
        low = max(0, min(found.bound, value))
        levels.append(Level(name, -(-value // scale), -(-low // scale), found.engine))
        progress(name, levels[-1].value, levels[-1].bound)
        model.row(goal, -INFINITE, value, f"goal {name}")
    if all(level.proven for level in levels):
        model.goal = {var: at for at, var in enumerate(loading.rides.values())}
        again = highs(model, min(1.0, remaining()), stop=stop)
        values = again.values or values
    return _read(loading, values), tuple(levels)


def _uneven(job: Job, contents: dict[str, Content], riding: Riding) -> int:
    loads = dict.fromkeys((van.id for van in job.vans), 0)
    for case, van in riding.items():
        loads[van] += gross_g(job, case, contents[case])
    return max(loads.values()) - min(loads.values())


def _read(loading: Loading, values: list[int]) -> Riding:
    return {case: van for (case, van), var in loading.rides.items() if values[var]}
