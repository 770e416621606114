"""The load in parts that have nothing to do with each other, and what each part came to."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace

from shipping.packing.planner import fitting
from shipping.packing.wanted import Content, Gear, Job, Level, Shell


@dataclass(frozen=True, slots=True)
class Part:
    """What came out for one family."""

    contents: dict[str, Content]
    left: dict[str, int]
    levels: tuple[Level, ...]
    canonical: bool = False


def families(job: Job) -> list[Job]:
    """The load in parts that share no case and no rule: each can be planned alone, and the sums are exact."""
    parent: dict[str, str] = {}

    def root(one: str) -> str:
        while parent.setdefault(one, one) != one:
            one = parent[one]
        return one

    for gear in job.gear:
        ties = [f"case {shell.id}" for shell in job.shells if fitting.most(gear, shell, job)]
        ties += [f"with {gear.together}"] * bool(gear.together) + [f"not {tag}" for tag in gear.not_in_one_case]
        ties += [f"gear {gear.rails}"] if gear.rails else []
        for tie in ties:
            parent[root(tie)] = root(f"gear {gear.id}")
    parts: dict[str, tuple[list[Gear], list[Shell]]] = defaultdict(lambda: ([], []))
    for gear in sorted(job.gear, key=lambda one: one.id):
        parts[root(f"gear {gear.id}")][0].append(gear)
    for shell in sorted(job.shells, key=lambda one: one.id):
        parts[root(f"case {shell.id}")][1].append(shell)
    found = [replace(job, gear=tuple(g), shells=tuple(s)) for g, s in parts.values() if g]
    return sorted(found, key=lambda one: (len(one.gear) * len(one.shells), one.gear[0].id))
