"""Why not everything goes: a set of things that cannot go together, and of which every smaller one can."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from shipping.packing.planner.cases import Family
from shipping.packing.planner.engines import Stop, highs
from shipping.packing.planner.firstfit import home_first
from shipping.packing.planner.pooled import Pooling
from shipping.packing.wanted import Content, Job

Counts = dict[str, int]


class OutOfTime(Exception):
    """Nothing was shown of a set in the time there was."""


def smallest(job: Job, remaining: Callable[[], float], stop: Stop) -> Content:
    """Take one kind after another out, or fewer of it, as long as what is left still cannot go; () if time ran out.

    What cannot go does not go with more beside it, so one pass is enough. Rails come and go with their frames.
    """
    counts = {one.id: one.count for one in job.gear}
    try:
        for ident in _order(job):
            counts = _fewest(job, counts, ident, lambda: remaining() if not stop.is_set else 0.0)
    except OutOfTime:
        return ()
    return tuple((ident, count) for ident, count in sorted(counts.items()) if count)


def _order(job: Job) -> list[str]:
    """What is most of goes first: then few kinds are left. Rails are not asked for by themselves, groups as one."""
    rails = {one.rails for one in job.gear}
    served = {one.id for one in job.gear if one.runs_on and job.air is not None}
    groups = {one.together: one.id for one in job.gear if one.together}
    asked = [one for one in job.gear if one.id not in rails and groups.get(one.together, one.id) == one.id]
    return [one.id for one in sorted(asked, key=lambda one: (one.id in served, -one.count, one.id))]


def _fewest(job: Job, counts: Counts, ident: str, remaining: Callable[[], float]) -> Counts:
    """The fewest of a kind with which the rest still cannot go, found by halving.

    By air batteries need company, so what runs on them is taken out only once no battery is left in the set.
    """
    packs = any(counts[one.id] for one in job.gear if one.is_loose_lithium)
    if job.air is not None and job.kinds[ident].runs_on and packs:
        return counts
    low, high = 0, counts[ident]
    while low < high:
        middle = (low + high) // 2
        if _goes(_only(job, _with(job, counts, ident, middle)), remaining):
            low = middle + 1
        else:
            high = middle
    return _with(job, counts, ident, high)


def _with(job: Job, counts: Counts, ident: str, many: int) -> Counts:
    """The counts with so many of a kind; a group is there whole or not at all, rails are as many as their frames."""
    gear = job.kinds[ident]
    group = [one for one in job.gear if one.together and one.together == gear.together] or [gear]
    changed = counts | {one.id: (one.count if many else 0) if gear.together else many for one in group}
    for rails in {one.rails for one in job.gear if one.rails and one.rails in changed}:
        frames = sum(changed[one.id] for one in job.gear if one.rails == rails)
        changed[rails] = min(job.kinds[rails].count, frames)
    return changed


def _only(job: Job, counts: Counts) -> Job:
    return replace(job, gear=tuple(replace(one, count=counts[one.id]) for one in job.gear if counts[one.id]))


def _goes(job: Job, remaining: Callable[[], float]) -> bool:
    """Does all of it go into the cases, by their limits? Raises OutOfTime."""
    if not job.gear or not home_first(job).left:
        return True
    if Pooling(job).bound([], max(0.05, remaining()), Stop()).bound > 0:
        return False
    family = Family(job, {})
    for var in family.left.values():
        family.model.upper[var] = 0
    found = highs(family.model, max(0.05, remaining()))
    if found.values is None and not found.impossible:
        raise OutOfTime
    return not found.impossible
