"""More than the vehicles may carry: by how much, and what would help. From entered figures only. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from shipping.packing.planner.vans import gross_g
from shipping.packing.wanted import Content, Job


@dataclass(frozen=True, slots=True)
class Group:
    """Cases that would stay behind together, such as those of one system."""

    name: str
    cases: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WayOut:
    """`cases` that stay, or `vehicle` that takes it instead, or a payload to hire (`hire_g`); `left_g` is free then."""

    name: str
    cases: tuple[str, ...] = ()
    vehicle: str = ""
    left_g: int = 0
    hire_g: int = 0


@dataclass(frozen=True, slots=True)
class Overload:
    """What these contents weigh with their cases, what may be carried, and ways out, the least to leave first."""

    total_g: int
    allowed_g: int
    ways: tuple[WayOut, ...] = ()

    @property
    def over_g(self) -> int:
        return max(0, self.total_g - self.allowed_g)


def overload(
    job: Job,
    contents: Mapping[str, Content],
    groups: tuple[Group, ...] = (),
    others: Mapping[str, int] | None = None,
    needed: frozenset[str] = frozenset(),
) -> Overload:
    """How what the vehicles are to carry stands against them. `others`: grams that each other vehicle may carry.

    `needed` are cases with something in them without which nothing runs: they are not named to be left by themselves.
    """
    masses = {case: gross_g(job, case, held) for case, held in job.for_vans(contents).items()}
    total, allowed = sum(masses.values()), sum(van.payload_g for van in job.vans)
    over = total - allowed
    if not job.vans:
        return Overload(total, total)  # what is planned onto no vehicle is too much for none
    if over <= 0:
        return Overload(total, allowed)
    spare = {case: mass for case, mass in masses.items() if case not in needed}
    ways = [*_groups(groups, masses, over), *(_fewest(spare, over) if sum(spare.values()) >= over else ())]
    swaps = [
        WayOut("instead", vehicle=name, left_g=most - total)
        for name, most in sorted((others or {}).items(), key=lambda one: one[1])
        if most >= total
    ]
    added = [
        WayOut("as well", vehicle=name, left_g=most - over)
        for name, most in sorted((others or {}).items(), key=lambda one: one[1])
        if total > most >= over
    ]
    return Overload(total, allowed, (*ways, *swaps[:1], *added[:1], WayOut("hire", hire_g=over)))


def _groups(groups: tuple[Group, ...], masses: Mapping[str, int], over: int) -> list[WayOut]:
    """Each whole group that is enough by itself, the lightest first."""
    found = []
    for group in groups:
        here = tuple(case for case in group.cases if case in masses)
        mass = sum(masses[case] for case in here)
        if mass >= over and len(here) < len(masses):
            found.append((mass, WayOut(group.name, here, left_g=mass - over)))
    return [way for _, way in sorted(found, key=lambda one: (one[0], one[1].name))]


def _fewest(masses: Mapping[str, int], over: int) -> list[WayOut]:
    """As few cases as are enough: the heaviest, and then the lightest that still does for the last."""
    heavy = sorted(masses, key=lambda case: (-masses[case], case))
    chosen: list[str] = []
    while sum(masses[case] for case in chosen) < over:
        chosen.append(heavy[len(chosen)])
    short = over - sum(masses[case] for case in chosen[:-1])
    enough = [case for case in heavy if case not in chosen[:-1] and masses[case] >= short]
    chosen[-1] = min(enough, key=lambda case: (masses[case], case))
    left = sum(masses[case] for case in chosen) - over
    return [WayOut("cases", tuple(sorted(chosen)), left_g=left)]
