"""How many of a kind one case can take by each of its limits. Shared by the heuristic, the model and the reasons."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from itertools import permutations

from shipping.packing.wanted import Air, Gear, Job, Shell, Size

SHARE = 720_720  # divides evenly by every number up to 16


def takes_room(gear: Gear) -> bool:
    """Does it go into a trunk by its size, and not into a rack or slots?"""
    return not gear.units and not gear.slots and gear.size_mm is not None


def turns(gear: Gear) -> set[Size]:
    """The ways it may be put down; what stays upright turns on its foot only."""
    return _turned(gear.size_mm, gear.upright) if gear.size_mm else set()


@lru_cache(maxsize=4096)
def _turned(size: Size, upright: bool) -> set[Size]:
    length, width, height = size
    flat = {(length, width, height), (width, length, height)}
    return flat if upright else {tuple(one) for one in permutations(size)}  # type: ignore[misc]


def grid(gear: Gear, shell: Shell) -> int:
    """How many of this kind alone go into a trunk, all turned alike; fragile things make one layer only."""
    if shell.inside_mm is None or gear.size_mm is None:
        return 0
    return _grid(gear.size_mm, gear.upright, gear.fragile, shell.inside_mm)


@lru_cache(maxsize=65536)
def _grid(size: Size, upright: bool, one_layer: bool, inside: Size) -> int:
    counts = []
    for one in _turned(size, upright):
        across = [room // side if side else 0 for room, side in zip(inside, one, strict=True)]
        counts.append(across[0] * across[1] * (min(1, across[2]) if one_layer else across[2]))
    return max(counts, default=0)


def share(gear: Gear, shell: Shell) -> int:
    """The part of a trunk that one of them takes, in parts of SHARE; as many as the grid takes just fit."""
    sized = gear.size_mm is not None and shell.inside_mm is not None
    fits = _grid(gear.size_mm, gear.upright, False, shell.inside_mm) if sized else 0
    return SHARE // fits if fits else SHARE + 1


def why_not(gear: Gear, shell: Shell, job: Job) -> str:
    """Why not even one of them may go into this case, or "" where one may."""
    if gear.family not in shell.families:
        return "family"
    if gear.boxed and gear.id not in shell.made_for:
        return "packaging"
    if shell.made_for and gear.id not in shell.made_for:
        return "family"
    if gear.stays and not gear.at_home_in(shell.id):
        return "stays"
    air = job.air_of(shell)
    if air is not None and (grounded := air.keeps_out(gear)):
        return grounded
    if gear.units:
        return _rack(gear, shell, job) or _mass(gear, shell)
    if gear.slots:
        return ("" if gear.slots <= shell.slots_for(gear.family) else "slots") or _mass(gear, shell)
    if gear.size_mm is not None and grid(gear, shell) == 0:
        return "room"
    return _mass(gear, shell)


def _mass(gear: Gear, shell: Shell) -> str:
    return "" if gear.mass_g <= shell.room_g else "mass"


def _rack(gear: Gear, shell: Shell, job: Job) -> str:
    if gear.units > shell.units:
        return "units"
    return "depth" if gear.depth_mm + job.clearance_mm > shell.depth_mm else ""


def most(gear: Gear, shell: Shell, job: Job) -> int:
    """The most of this kind that one case can take if nothing else is in it."""
    if why_not(gear, shell, job):
        return 0
    limits = [gear.count if not gear.stays else gear.at_home_in(shell.id)]
    if gear.mass_g:
        limits.append(shell.room_g // gear.mass_g)
    if gear.units:
        limits.append(shell.units // gear.units)
    elif gear.slots:
        limits.append(shell.slots_for(gear.family) // gear.slots)
    elif gear.size_mm is not None:
        limits.append(grid(gear, shell))
    if gear.not_in_one_case:
        limits.append(1)
    air = job.air_of(shell)
    if air is not None and air.passenger and gear.is_loose_lithium and gear.mass_g:
        limits.append(air.net_g // gear.mass_g)
    return min(limits)


def too_many_by_air(air: Air, job: Job, inside: Mapping[str, int]) -> int:
    """How many lithium batteries by themselves are in a case beyond what may fly with what runs on them."""
    held = [(job.kinds[ident], count) for ident, count in inside.items() if count]
    packs = [(gear, count) for gear, count in held if gear.is_loose_lithium]
    served = [gear.runs_on * count for gear, count in held if gear.runs_on and not gear.battery]
    over = sum(count for _, count in packs) - (sum(served) + air.spares if served else 0)
    grams = sum(gear.mass_g * count for gear, count in packs)
    if air.passenger and grams > air.net_g:
        over = max(over, -(-(grams - air.net_g) // max(gear.mass_g for gear, _ in packs)))
    return max(0, over)


def needs(gear: Gear, shell: Shell) -> dict[str, int]:
    """What one of them takes of each limit of a case."""
    taken = {"mass": gear.mass_g}
    if gear.units:
        taken["units"] = gear.units
    elif gear.slots:
        taken[_slots(gear, shell)] = gear.slots
    elif gear.size_mm is not None:
        taken["room"] = share(gear, shell)
        if gear.fragile:
            taken["top"] = SHARE // max(1, grid(gear, shell))
    return taken


def _slots(gear: Gear, shell: Shell) -> str:
    return f"slots {gear.family}" if shell.compartments else "slots"


def limits(shell: Shell) -> dict[str, int]:
    """What a case has of each: grams, rack units, slots, SHARE for its room and SHARE for its top layer."""
    slots = {f"slots {family}": many for family, many in shell.compartments} or {"slots": shell.slots}
    return {"mass": shell.room_g, "units": shell.units, **slots, "room": SHARE, "top": SHARE}
