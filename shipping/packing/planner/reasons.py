"""Why something stays behind, as the smallest change that would carry it; never just "impossible"."""

from __future__ import annotations

from collections import Counter

from shipping.packing.planner.fitting import why_not
from shipping.packing.wanted import Gear, Job, Left

LIMITS = {
    "units": "too few rack units",
    "depth": "too little depth",
    "mass": "too little mass allowed",
    "slots": "too few slots",
    "room": "too little room inside",
    "stays": "it is to stay in its usual case",
    "packaging": "it travels in its original packaging, and none of it is in this load",
}


def explain(job: Job, behind: dict[str, int]) -> tuple[Left, ...]:
    """What stays behind, each kind with its count and why."""
    return tuple(Left(ident, count, _why(job.kinds[ident], job)) for ident, count in sorted(behind.items()) if count)


def _why(gear: Gear, job: Job) -> str:
    """No case at all would take one: the nearest miss. Else the cases that would are full."""
    said = {shell.id: why_not(gear, shell, job) for shell in job.shells}
    rails = job.kinds.get(gear.rails)
    if gear.rails and sum(one.count for one in job.gear if one.rails == gear.rails) > (rails.count if rails else 0):
        return f"There are {rails.count if rails else 0} of its rails ({gear.rails}). Add the rails that are missing."
    takers = [shell for shell in job.shells if not said[shell.id]]
    if takers:
        kinds = Counter(shell.name for shell in takers)
        return f"Each case that takes it ({', '.join(sorted(kinds)[:3])}) is full. One more such case would carry it."
    near = [shell for shell in job.shells if said[shell.id] != "family"]
    if not near:
        return f"No case of this load takes {gear.family}. Add one."
    return _nearest(gear, job, {shell.id: said[shell.id] for shell in near})


def _nearest(gear: Gear, job: Job, said: dict[str, str]) -> str:
    words = Counter(said.values()).most_common(1)[0][0]
    shells = [job.cases[ident] for ident, why in said.items() if why == words]
    if words == "depth":
        most = max(shell.depth_mm for shell in shells)
        needs = f"{gear.depth_mm} + {job.clearance_mm} mm of depth"
        return f"It needs {needs}; the deepest case that has the units is {most} mm."
    if words == "units":
        return f"It needs {gear.units} U; the tallest case has {max(shell.units for shell in shells)} U."
    if words == "mass":
        most = max(shell.room_g for shell in shells)
        return f"It weighs {gear.mass_g / 1000:g} kg; no case may hold more than {most / 1000:g} kg."
    return f"No case takes it: {LIMITS[words]}."
