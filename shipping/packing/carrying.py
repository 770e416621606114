"""An earlier plan carried over to a changed load: what still holds stays as it was, the rest is placed anew. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace

from shipping.packing.geometry import judge_plan
from shipping.packing.planner import boxes, firstfit
from shipping.packing.planner.byhand import levels_by_hand
from shipping.packing.planner.families import families
from shipping.packing.planner.fitting import takes_room
from shipping.packing.planner.reasons import explain
from shipping.packing.planner.vans import gross_g
from shipping.packing.wanted import Content, Job, Placed, Plan

NAME = "carried over"


def carry(job: Job, contents: Mapping[str, Content], vans: Mapping[str, str]) -> Plan | None:
    """The plan for this load that is nearest to the earlier one; None where what came out fails the check."""
    filling = _filled(job, contents)
    held, layouts, out = _laid_out(job, filling.contents())
    riding, alone = _riding(job, held, vans)
    behind = Counter(filling.left) + out
    for case in alone:
        behind.update(dict(held.pop(case)))
        layouts.pop(case, None)
    left = explain(job, dict(behind))
    plan = Plan(held, riding, layouts, left, levels_by_hand(job, held, left, families(job)), NAME)
    return None if judge_plan(job, plan) else replace(plan, breaches=())


def _filled(job: Job, contents: Mapping[str, Content]) -> firstfit.Filling:
    """What was where, first; then the rest into the fullest open case that takes it, then into a closed one."""
    filling = firstfit.Filling(job)
    rest = [(bundle, _again(filling, bundle, many, contents)) for bundle, many in firstfit.bundles(job)]
    for bundle, many in rest:
        held = sorted(filling.open_cases(), key=lambda case: (filling.free[case]["mass"], case))
        order = [*held, *(one.id for one in job.shells if one.id not in held)]
        for _ in range(many):
            case = next((one for one in order if filling.fits(bundle, job.cases[one])), None)
            if case is not None:
                filling.put(bundle, job.cases[case])
                continue
            for gear, count in bundle:
                filling.left[gear.id] = filling.left.get(gear.id, 0) + count
    return filling


def _again(
    filling: firstfit.Filling, bundle: firstfit.Bundle, many: int, contents: Mapping[str, Content]
) -> int:  # fmt: skip
    """Put back as many of a bundle as were in each case; how many are still without a place."""
    for case in sorted(set(contents) & set(filling.job.cases)):
        was = dict(contents[case])
        there = min(was.get(gear.id, 0) // count for gear, count in bundle)
        while many and there and filling.fits(bundle, filling.job.cases[case]):
            filling.put(bundle, filling.job.cases[case])
            many, there = many - 1, there - 1
    return many


def _laid_out(
    job: Job, contents: dict[str, Content]
) -> tuple[dict[str, Content], dict[str, tuple[Placed, ...]], Counter[str]]:
    """Each trunk with its layout; what does not go in is taken out, last kinds first."""
    held: dict[str, Content] = {}
    layouts: dict[str, tuple[Placed, ...]] = {}
    out: Counter[str] = Counter()
    for case, content in contents.items():
        while content and any(takes_room(job.kinds[ident]) for ident, _ in content):
            layout = boxes.lay_out(job, job.cases[case], content)
            if layout is not None:
                layouts[case] = layout
                break
            ident = next(one for one, _ in reversed(content) if takes_room(job.kinds[one]))
            gone = dict(content)[ident] if job.kinds[ident].together else 1
            out[ident] += gone
            content = tuple((one, n - gone if one == ident else n) for one, n in content if one != ident or n > gone)
        if content:
            held[case] = content
    return held, layouts, out


def _riding(job: Job, contents: Mapping[str, Content], vans: Mapping[str, str]) -> tuple[dict[str, str], list[str]]:
    """As before where there is room still; else onto the emptiest vehicle that takes it; and what finds none."""
    contents, room = job.for_vans(contents), {van.id: van.payload_g for van in job.vans}
    riding: dict[str, str] = {}
    if not room:
        return {}, []
    for case in sorted(contents, key=lambda one: (one not in vans, -gross_g(job, one, contents[one]), one)):
        mass = gross_g(job, case, contents[case])
        wish = [vans[case]] if vans.get(case) in room else []
        takers = [one for one in [*wish, *sorted(room, key=lambda van: (-room[van], van))] if room[one] >= mass]
        if takers:
            riding[case] = takers[0]
            room[takers[0]] -= mass
    return riding, sorted(set(contents) - set(riding))
