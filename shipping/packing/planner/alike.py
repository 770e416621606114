"""Kinds that no case can tell apart, thrown together: fewer equal plans for an engine to look at.

Two kinds are alike if they take the same of every limit of every case but mass, and no rule names either. The heaviest
stands for all, so what goes in by the sum goes in thing by thing. Moves stay what they are: each case keeps as many of
a class as live there, or all that it holds of it, whichever is less; so do the kinds when they are told apart again.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterable
from dataclasses import dataclass, replace

from shipping.packing.planner import fitting
from shipping.packing.planner.model import Model
from shipping.packing.wanted import Content, Gear, Job, Shell


@dataclass(frozen=True)
class Alike:
    """A load with one kind for each class, and which kinds each of them stands for."""

    job: Job
    members: dict[str, tuple[Gear, ...]]

    @classmethod
    def of(cls, job: Job) -> Alike:
        shells = list({replace(one, id="", name=""): one for one in job.shells}.values())
        classes: dict[Hashable, list[Gear]] = defaultdict(list)
        for gear in job.gear:
            classes[_takes(gear, shells, job) if _is_plain(gear, job) else gear.id].append(gear)
        whole = {same[0].id: tuple(same) for same in classes.values()}
        return cls(replace(job, gear=tuple(_for_all(same) for same in whole.values())), whole)

    def apart(self, contents: dict[str, Content]) -> dict[str, Content]:
        """Contents of the load with classes as contents of the load itself."""
        found: dict[str, Counter[str]] = defaultdict(Counter)
        for ident, same in self.members.items():
            held = {case: dict(content)[ident] for case, content in contents.items() if ident in dict(content)}
            for case, inside in _told_apart(same, held).items():
                found[case].update(inside)
        return {case: tuple(sorted(inside.items())) for case, inside in sorted(found.items())}


def told_by_home(model: Model, homes: dict[int, int]) -> Model:
    """The model with what comes into a case, not what is in it, and what stays (`homes`: in it -> stays).

    The same plans, and plans at the bound of moves are found sooner. Only where all that the model says of what stays
    is that no more stay than are in it: such a row falls away.
    """
    told = Model(list(model.lower), list(model.upper), goal=dict(model.goal))
    for row in model.rows:
        terms = dict(row.terms)
        if not any(terms == {kept: 1, inside: -1} for inside, kept in homes.items() if inside in terms):
            for inside in homes.keys() & row.terms.keys():
                kept = homes[inside]
                terms[kept] = terms.get(kept, 0) + row.terms[inside]
            told.row(terms, row.low, row.high, row.tag)
    for inside, kept in homes.items():
        told.row({inside: 1, kept: 1}, model.lower[inside], model.upper[inside], "most")
        told.lower[inside] = 0
    return told


def as_before(values: list[int], homes: dict[int, int]) -> list[int]:
    """Values of `told_by_home` as values of the model that it was made of."""
    return [value + values[homes[var]] if var in homes else value for var, value in enumerate(values)]


def _is_plain(gear: Gear, job: Job) -> bool:
    """Does no rule name this kind, beside its family, its size and whether it is a battery?"""
    named = gear.together or gear.not_in_one_case or gear.convoy or gear.stays or gear.rails or gear.boxed
    serves = any(one.rails == gear.id for one in job.gear)
    flies = job.air is not None and (gear.is_loose_lithium or gear.runs_on)
    return fitting.takes_room(gear) and not (named or serves or flies)


def _takes(gear: Gear, shells: Iterable[Shell], job: Job) -> Hashable:
    """All that the model of a family looks at but mass and homes."""
    return gear.family, gear.battery, tuple(
        (fitting.why_not(gear, one, job), fitting.grid(gear, one), _needs_but_mass(gear, one)) for one in shells
    )  # fmt: skip


def _needs_but_mass(gear: Gear, shell: Shell) -> Hashable:
    return tuple(sorted((name, each) for name, each in fitting.needs(gear, shell).items() if name != "mass"))


def _for_all(same: tuple[Gear, ...]) -> Gear:
    homes: Counter[str] = Counter()
    for gear in same:
        homes.update(dict(gear.homes))
    count, heaviest = sum(gear.count for gear in same), max(gear.mass_g for gear in same)
    return replace(same[0], count=count, mass_g=heaviest, homes=tuple(sorted(homes.items())))


def _told_apart(same: tuple[Gear, ...], held: dict[str, int]) -> dict[str, Counter[str]]:
    """Each case keeps what lives there as far as it goes; the rest is dealt out."""
    found: dict[str, Counter[str]] = defaultdict(Counter)
    waiting, free = {gear.id: gear.count for gear in same}, dict(held)
    for case in held:
        for gear in same:
            kept = min(gear.at_home_in(case), waiting[gear.id], free[case])
            found[case][gear.id] += kept
            waiting[gear.id] -= kept
            free[case] -= kept
    for case in held:
        for gear in same:
            many = min(waiting[gear.id], free[case])
            found[case][gear.id] += many
            waiting[gear.id] -= many
            free[case] -= many
    return {case: +inside for case, inside in found.items()}
