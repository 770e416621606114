"""Why a thing is not in its usual case in a plan, in one sentence each. Pure."""

from __future__ import annotations

from collections import Counter

from shipping.packing.planner import fitting
from shipping.packing.wanted import Air, Content, Gear, Job, Moved, Shell, moved

FULL = {"mass": "may not get heavier", "units": "has no rack units left", "slots": "has no slot left",
        "room": "has no room left", "top": "has no room left on top"}  # fmt: skip
NEVER = {
    "units": "has too few rack units for it",
    "depth": "is not deep enough for it",
    "mass": "may not hold so much mass",
    "slots": "has too few slots for it",
    "room": "is too small inside for it",
    "lead by air": "flies, and no lead-acid battery is planned to",
    "watt-hours by air": "flies, and its lithium battery is above what may fly in equipment",
    "cabin only": "flies as baggage, and no battery by itself is planned into that",
}


def differences(job: Job, contents: dict[str, Content]) -> list[tuple[Moved, str]]:
    """Only what is not in its usual case, each with why."""
    return [(one, why(job, contents, one)) for one in moved(job, contents)]


def why(job: Job, contents: dict[str, Content], one: Moved) -> str:
    """The first that holds: it does not fit there at all, the case stays behind or is full, or its room is used."""
    gear, shell = job.kinds[one.gear], job.cases.get(one.usual)
    if shell is None:
        return f"{one.usual} does not go."
    if gear.family not in shell.families:
        return f"{one.usual} does not take {gear.family}."
    if never := fitting.why_not(gear, shell, job):
        return f"By what is entered, {one.usual} {NEVER.get(never, 'does not take it')}."
    if one.usual not in contents:
        return f"{one.usual} can then stay behind: one case fewer."
    air = job.air_of(shell)
    if air is not None and gear.is_loose_lithium and _one_too_many(air, job, gear, contents[one.usual]):
        return f"{one.usual} flies, and what is in it takes no more batteries by air."
    full = _full(job, gear, shell, contents[one.usual])
    if full:
        return f"{one.usual} {FULL[full]}."
    mine = set(gear.not_in_one_case)
    if any(mine.intersection(job.kinds[other].not_in_one_case) for other, _ in contents[one.usual]):
        return f"It is kept apart from what is in {one.usual}."
    if job.split_batteries and any(job.kinds[other].battery != gear.battery for other, _ in contents[one.usual]):
        return f"Batteries and the rest do not share {one.usual} by air."
    return f"A plan as good as this one needs the room in {one.usual}, or found none better."


def _one_too_many(air: Air, job: Job, gear: Gear, content: Content) -> bool:
    return fitting.too_many_by_air(air, job, Counter(dict(content)) + Counter({gear.id: 1})) > 0


def _full(job: Job, gear: Gear, shell: Shell, content: Content) -> str:
    """Which limit of its usual case one more of it would break."""
    free = fitting.limits(shell)
    for ident, count in content:
        for name, each in fitting.needs(job.kinds[ident], shell).items():
            free[name] -= each * count
    return next((name for name, each in fitting.needs(gear, shell).items() if each > free[name]), "")
