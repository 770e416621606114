"""The model of one family of cases, and its goals in order: left behind, cases, moves from usual homes."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from itertools import pairwise

from shipping.packing.planner import fitting
from shipping.packing.planner.model import INFINITE, Model
from shipping.packing.wanted import Air, Content, Gear, Job, Shell

LEFT, CASES, MOVES = "things left behind", "cases", "moves from usual homes"


@dataclass
class Family:
    """One part of the load as a model; `tight` is how much of each trunk's room may be used, in parts of SHARE."""

    job: Job
    tight: dict[str, int]

    def __post_init__(self) -> None:
        self.model = Model()
        self.n: dict[tuple[str, str], int] = {}
        self.used: dict[str, int] = {}
        self.left: dict[str, int] = {}
        self.kept: dict[tuple[str, str], int] = {}
        self.switches: dict[tuple[str, str], int] = {}
        self.for_batteries: dict[str, int] = {}
        self.in_company: dict[str, int] = {}
        self.rides: dict[tuple[str, str], int] = {}
        self.aboard: dict[tuple[str, str], int] = {}
        self._gear()
        for shell in self.job.shells:
            self._shell(shell)
        self._alike()
        self._together()
        self._apart_on_vans()

    def _gear(self) -> None:
        for gear in self.job.gear:
            for shell in self.job.shells:
                if most := fitting.most(gear, shell, self.job):
                    var = self.n[gear.id, shell.id] = self.model.var(0, most)
                    if home := min(most, gear.at_home_in(shell.id)):
                        kept = self.kept[gear.id, shell.id] = self.model.var(0, home)
                        self.model.row({kept: 1, var: -1}, -INFINITE, 0, f"home {gear.id}")
            self.left[gear.id] = self.model.var(0, gear.count)
            terms = {self.n[gear.id, one.id]: 1 for one in self.job.shells if (gear.id, one.id) in self.n}
            self.model.row({**terms, self.left[gear.id]: 1}, gear.count, gear.count, f"pack {gear.id}")

    def _shell(self, shell: Shell) -> None:
        inside = [gear for gear in self.job.gear if (gear.id, shell.id) in self.n]
        if not inside:
            return
        used = self.used[shell.id] = self.model.var(0, 1)
        room = fitting.limits(shell) | {"room": self.tight.get(shell.id, fitting.SHARE)}
        taken: dict[str, dict[int, int]] = defaultdict(dict)
        for gear in inside:
            var = self.n[gear.id, shell.id]
            self.model.row({var: 1, used: -self.model.upper[var]}, -INFINITE, 0, f"use {shell.id}")
            for name, each in fitting.needs(gear, shell).items():
                taken[name][var] = each
        for name, terms in taken.items():
            self.model.row({**terms, used: -room[name]}, -INFINITE, 0, f"{name} {shell.id}")
        self._apart(inside, shell)
        self._rails(shell)
        air = self.job.air_of(shell)
        if air is not None:
            self._flying(air, inside, shell)
        if self.job.split_batteries and len({gear.battery for gear in inside}) == 2:
            self._batteries(inside, shell, used)

    def _alike(self) -> None:
        """Of cases alike in everything, where nothing lives, the first are used first: fewer equal plans to look at."""
        lived_in = {case for gear in self.job.gear for case, _ in gear.homes}
        groups: dict[Shell, list[int]] = defaultdict(list)
        for shell in self.job.shells:
            if shell.id in self.used and shell.id not in lived_in:
                groups[replace(shell, id="", name="")].append(self.used[shell.id])
        for same in groups.values():
            for first, second in pairwise(same):
                self.model.row({second: 1, first: -1}, -INFINITE, 0, "alike")

    def _apart(self, inside: list[Gear], shell: Shell) -> None:
        for tag in sorted({tag for gear in inside for tag in gear.not_in_one_case}):
            terms = {self.n[gear.id, shell.id]: 1 for gear in inside if tag in gear.not_in_one_case}
            if len(terms) > 1:
                self.model.row(terms, 0, 1, tag)

    def _flying(self, air: Air, inside: list[Gear], shell: Shell) -> None:
        """Lithium by itself only with what runs on it: what that needs and a few more, and not too heavy."""
        packs = {self.n[gear.id, shell.id]: gear for gear in inside if gear.is_loose_lithium}
        if not packs:
            return
        served = {self.n[gear.id, shell.id]: gear.runs_on for gear in inside if gear.runs_on and not gear.battery}
        company = self.in_company[shell.id] = self.model.var(0, 1)
        self.model.row({company: 1, **dict.fromkeys(served, -1)}, -INFINITE, 0, f"company {shell.id}")
        needed = {var: -many for var, many in served.items()}
        self.model.row({**dict.fromkeys(packs, 1), **needed, company: -air.spares}, -INFINITE, 0, f"spares {shell.id}")
        if air.passenger:
            self.model.row({var: gear.mass_g for var, gear in packs.items()}, 0, air.net_g, f"net {shell.id}")

    def _rails(self, shell: Shell) -> None:
        """No frame without its rails in the same case."""
        for rails in sorted({gear.rails for gear in self.job.gear if gear.rails}):
            frames = [gear for gear in self.job.gear if gear.rails == rails and (gear.id, shell.id) in self.n]
            terms = {self.n[gear.id, shell.id]: -1 for gear in frames}
            if terms:
                here = {self.n[rails, shell.id]: 1} if (rails, shell.id) in self.n else {}
                self.model.row({**terms, **here}, 0, INFINITE, f"rails {rails}")

    def _batteries(self, inside: list[Gear], shell: Shell, used: int) -> None:
        """A case is for batteries or for the rest: its mass and room are split between the two."""
        for_batteries = self.for_batteries[shell.id] = self.model.var(0, 1)
        for battery in (True, False):
            part = {for_batteries: -1} if battery else {for_batteries: 1, used: -1}
            mine = [gear for gear in inside if gear.battery == battery]
            room = fitting.limits(shell)
            for name in sorted(room):
                terms = {self.n[g.id, shell.id]: fitting.needs(g, shell).get(name, 0) for g in mine}
                big = {var: weight * room[name] for var, weight in part.items()}
                extra = {used: big.pop(used)} if used in big else {}
                self.model.row({**terms, **big, **extra}, -INFINITE, 0, f"batteries {name} {shell.id}")
            for gear in mine:
                var = self.n[gear.id, shell.id]
                cap = {one: weight * self.model.upper[var] for one, weight in part.items()}
                self.model.row({var: 1, **cap}, -INFINITE, 0, f"batteries {shell.id}")

    def _together(self) -> None:
        """All of a tagged group in one case: each member's count there is all or nothing, by one switch."""
        tags = sorted({gear.together for gear in self.job.gear if gear.together})
        for tag in tags:
            group = [gear for gear in self.job.gear if gear.together == tag]
            for shell in self.job.shells:
                switch = self.switches[tag, shell.id] = self.model.var(0, 1)
                for gear in group:
                    var = self.n.get((gear.id, shell.id))
                    if var is None or self.model.upper[var] < gear.count:
                        self.model.upper[switch] = 0
                    if var is not None:
                        self.model.row({var: 1, switch: -gear.count}, 0, 0, f"together {tag}")

    def _apart_on_vans(self) -> None:
        """What must not share a vehicle gets a vehicle already here, or the vehicles could make it impossible."""
        vans, tagged = self.job.vans, [gear for gear in self.job.gear if self.job.not_on_one_van(gear)]
        if not tagged:
            return
        names = {gear.id for gear in tagged}
        cases = sorted({shell for gear, shell in self.n if gear in names and not self.job.cases[shell].off_vans})
        rides = self.rides = {(case, van.id): self.model.var(0, 1) for case in cases for van in vans}
        for case in cases:
            self.model.row({**{rides[case, v.id]: 1 for v in vans}, self.used[case]: -1}, 0, 0, f"rides {case}")
        for van in vans:
            self._aboard(tagged, cases, van.id)
            for tag in sorted({tag for gear in tagged for tag in self.job.not_on_one_van(gear)}):
                members = [self.aboard[gear.id, van.id] for gear in tagged if tag in self.job.not_on_one_van(gear)]
                self.model.row(dict.fromkeys(members, 1), 0, 1, f"{tag} on {van.id}")

    def _aboard(self, tagged: list[Gear], cases: list[str], van: str) -> None:
        for gear in tagged:
            aboard = self.aboard[gear.id, van] = self.model.var(0, 1)
            for case in cases:
                if (var := self.n.get((gear.id, case))) is not None:
                    on = {aboard: 1, var: -1, self.rides[case, van]: -1}
                    self.model.row(on, -1, INFINITE, f"aboard {van}")

    def goals(self) -> list[tuple[str, dict[int, int], int]]:
        """(name, terms to make small, what to add to it): moves are the gear with a home less what is kept there."""
        behind = (LEFT, dict.fromkeys(self.left.values(), 1), 0)
        lives = {gear.id: sum(count for _, count in gear.homes) for gear in self.job.gear}
        cases = (CASES, dict.fromkeys(self.used.values(), 1), 0)
        moved = (MOVES, dict.fromkeys(self.kept.values(), -1), sum(min(g.count, lives[g.id]) for g in self.job.gear))
        return [behind, moved, cases] if self.job.moves_first else [behind, cases, moved]

    def start(self, contents: dict[str, Content], behind: dict[str, int]) -> list[int]:
        """A plan as values of the model; whether they hold is for the caller to ask."""
        values = list(self.model.lower)
        held = {case: dict(content) for case, content in contents.items() if case in self.job.cases}
        for (gear, shell), var in self.n.items():
            values[var] = held.get(shell, {}).get(gear, 0)
            if (gear, shell) in self.kept:
                values[self.kept[gear, shell]] = min(values[var], self.model.upper[self.kept[gear, shell]])
        for shell, var in self.used.items():
            values[var] = int(bool(held.get(shell)))
        for gear, var in self.left.items():
            values[var] = behind.get(gear, 0)
        for shell, var in self.for_batteries.items():
            values[var] = int(any(self.job.kinds[ident].battery for ident in held.get(shell, ())))
        for shell, var in self.in_company.items():
            inside = [self.job.kinds[ident] for ident in held.get(shell, ())]
            values[var] = int(any(gear.runs_on and not gear.battery for gear in inside))
        for (tag, shell), var in self.switches.items():
            values[var] = int(any(self.job.kinds[ident].together == tag for ident in held.get(shell, ())))
        self._start_vans(values, held)
        return values

    def _start_vans(self, values: list[int], held: dict[str, dict[str, int]]) -> None:
        """A vehicle for each case with what is to be apart, as far as the first free one does."""
        riding = apart_vans(self.job, held)
        for case in {case for case, _ in self.rides if held.get(case)}:
            van = riding.get(case, self.job.vans[0].id)
            values[self.rides[case, van]] = 1
            for ident in held[case]:
                if (ident, van) in self.aboard:
                    values[self.aboard[ident, van]] = 1

    def contents(self, values: list[int]) -> dict[str, Content]:
        held: dict[str, list[tuple[str, int]]] = defaultdict(list)
        for (gear, shell), var in self.n.items():
            if values[var]:
                held[shell].append((gear, values[var]))
        return {shell: tuple(sorted(lines)) for shell, lines in sorted(held.items())}

    def behind(self, values: list[int]) -> dict[str, int]:
        return {gear: values[var] for gear, var in self.left.items() if values[var]}


def apart_vans(job: Job, held: dict[str, dict[str, int]]) -> dict[str, str]:
    """Vehicles for the cases with things to be apart: neighbours in turn, so that two vehicles do whenever they can."""
    tags = {case: {tag for ident in inside for tag in job.not_on_one_van(job.kinds[ident])}
            for case, inside in sorted(held.items()) if not job.cases[case].off_vans}  # fmt: skip
    found: dict[str, str] = {}
    waiting = [case for case in tags if tags[case]]
    while waiting:
        near = {case: {found[one] for one in found if _must_part(job, held, case, one)} for case in waiting}
        case = max(waiting, key=lambda one: (len(near[one]), len(tags[one])))
        free = [van.id for van in job.vans if van.id not in near[case]]
        found[case] = (free or [job.vans[0].id])[0]
        waiting.remove(case)
    return found


def _must_part(job: Job, held: dict[str, dict[str, int]], case: str, other: str) -> bool:
    return any(
        one != two and set(job.not_on_one_van(job.kinds[one])) & set(job.not_on_one_van(job.kinds[two]))
        for one in held[case] for two in held[other]
    )  # fmt: skip
