"""Why not everything goes: a set of things that cannot go together, and of which every smaller one can.

By air a battery goes only beside what runs on it. That is its company, no burden to be named: whatever of the load runs
on batteries may go along where it helps. So what cannot go does not go with more named either, and a set is as small as
it can be once no single thing can be taken out.
"""

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
    rails, along = {one.rails for one in job.gear}, company(job)
    groups = {one.together: one.id for one in job.gear if one.together}
    asked = [one for one in job.gear if one.id not in rails and groups.get(one.together, one.id) == one.id]
    return [one.id for one in sorted(asked, key=lambda one: (one.id not in along, -one.count, one.id))]


def company(job: Job) -> frozenset[str]:
    """Kinds that may go along unnamed: by air what runs on batteries, with its group and the rails it needs."""
    if job.air is None or not any(one.is_loose_lithium for one in job.gear):
        return frozenset()
    served = [one for one in job.gear if one.runs_on and not one.battery]
    groups = {one.together for one in served if one.together}
    found = {one.id for one in served} | {one.id for one in job.gear if one.together in groups}
    return frozenset(found | {job.kinds[ident].rails for ident in found if job.kinds[ident].rails in job.kinds})


def _fewest(job: Job, counts: Counts, ident: str, remaining: Callable[[], float]) -> Counts:
    """The fewest of a kind with which the rest still cannot go, found by halving."""
    low, high = 0, counts[ident]
    while low < high:
        middle = (low + high) // 2
        if _goes(job, _with(job, counts, ident, middle), remaining):
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


def asked_of(job: Job, counts: Counts) -> tuple[Job, Counts]:
    """The named things with the company there is for them, and how many of each kind may stay behind."""
    along = company(job) if any(counts.get(one.id) for one in job.gear if one.is_loose_lithium) else frozenset()
    many = {one.id: one.count if one.id in along else counts.get(one.id, 0) for one in job.gear}
    gear = tuple(replace(one, count=many[one.id]) for one in job.gear if many[one.id])
    return replace(job, gear=gear), {one.id: many[one.id] - counts.get(one.id, 0) for one in gear}


def _goes(whole: Job, counts: Counts, remaining: Callable[[], float]) -> bool:
    """Do all of these go into the cases, by their limits? Raises OutOfTime."""
    job, may_stay = asked_of(whole, counts)
    if not job.gear or all(many <= may_stay[ident] for ident, many in home_first(job).left.items()):
        return True
    if Pooling(job).bound([], max(0.05, remaining()), Stop()).bound > sum(may_stay.values()):
        return False
    family = Family(job, {})
    for ident, var in family.left.items():
        family.model.upper[var] = may_stay[ident]
    found = highs(family.model, max(0.05, remaining()))
    if found.values is None and not found.impossible:
        raise OutOfTime
    return not found.impossible
