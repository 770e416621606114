"""Why something stays behind, as the smallest change that would carry it; never just "impossible"."""

from __future__ import annotations

from collections import Counter

from shipping.packing.planner import fitting
from shipping.packing.planner.fitting import why_not
from shipping.packing.wanted import Gear, Job, Left, Shell

ASK = "Ask the carrier's dangerous-goods person, or send it by road"
LIMITS = {
    "units": "too few rack units",
    "depth": "too little depth",
    "mass": "too little mass allowed",
    "slots": "too few slots",
    "room": "too little room inside",
    "stays": "it is to stay in its usual case",
    "lead by air": f"it holds a lead-acid battery and flies. {ASK}",
    "watt-hours by air": f"its lithium battery is above what may fly in equipment. {ASK}",
    "cabin only": "as baggage no battery by itself goes into a case. Ask the airline what goes in the cabin, by hand",
    "packaging": "it travels in its original packaging, and none of it is in this load",
}


def explain(job: Job, behind: dict[str, int], spare_g: int | None = None) -> tuple[Left, ...]:
    """What stays behind, each kind with its count and why. `spare_g`: the most that any vehicle can still carry."""
    found = ((ident, count) for ident, count in sorted(behind.items()) if count)
    return tuple(Left(ident, count, _why(job.kinds[ident], count, job, spare_g)) for ident, count in found)


def _why(gear: Gear, many: int, job: Job, spare_g: int | None) -> str:
    """No case at all would take one: the nearest miss. Else the cases that would are full."""
    said = {shell.id: why_not(gear, shell, job) for shell in job.shells}
    rails = job.kinds.get(gear.rails)
    if gear.rails and sum(one.count for one in job.gear if one.rails == gear.rails) > (rails.count if rails else 0):
        return f"There are {rails.count if rails else 0} of its rails ({gear.rails}). Add the rails that are missing."
    takers = [shell for shell in job.shells if not said[shell.id]]
    if takers:
        aboard = all(not shell.off_vans for shell in takers)
        on_vans = aboard and _copy(gear, job)
        return on_vans or _alone(gear, takers, job) or _full(gear, many, takers, job, spare_g if aboard else None)
    near = [shell for shell in job.shells if said[shell.id] != "family"]
    if not near:
        return f"No case of this load takes {gear.family}. Add one."
    near = [shell for shell in near if shell.rides and said[shell.id] not in ("stays", "packaging")] or near
    return _nearest(gear, job, {shell.id: said[shell.id] for shell in near})


def _copy(gear: Gear, job: Job) -> str:
    """With one vehicle only one of those that never share it can go."""
    mine = {tag for tag in job.not_on_one_van(gear) if tag.startswith("copies ")}
    others = [one.name for one in job.gear if one.id != gear.id and mine.intersection(job.not_on_one_van(one))]
    if len(job.vans) != 1 or not others:
        return ""
    return (
        f"It and {others[0]} hold the only copies of the same and do not go on one vehicle. Send it with another, or "
        "make another copy first."
    )


def _alone(gear: Gear, takers: list[Shell], job: Job) -> str:
    """What holds it back by air; a case that rides would take it as it is."""
    if job.air is None or not gear.is_loose_lithium or any(shell.rides for shell in takers):
        return ""
    net = f", {job.air.net_g / 1000:g} kg of them in one case" if job.air.passenger else ""
    return f"By air it goes only with what runs on it, {job.air.spares} more than that needs{net}. {ASK}."


def _full(gear: Gear, many: int, takers: list[Shell], job: Job, spare_g: int | None) -> str:
    """One more case helps only where a vehicle can still carry it. A battery takes what flies only beside its own."""
    if job.air is not None and gear.is_loose_lithium:
        takers = [shell for shell in takers if shell.rides]
    names = ", ".join(sorted({shell.name for shell in takers})[:3])
    said = f"Each case that takes it ({names}) is full"
    if spare_g is not None and spare_g < min(shell.tare_g for shell in takers) + gear.mass_g:
        free = f"{max(0, spare_g) / 1000:g} kg at most are free"
        return f"{said}, and no vehicle could carry one more: {free}. It takes a case and a vehicle more."
    each = max(fitting.most(gear, shell, job) for shell in takers)
    if many > each:
        return f"{said}. One more such case would carry {each} of them."
    return f"{said}. One more such case would carry {'it' if many == 1 else 'them'}."


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
