"""The independent check of a plan: counts, limits and places, read from the load alone, apart from the planner.

It imports nothing of the planner, so a mistake there cannot hide itself here. It says what is broken, in words.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from itertools import combinations

from shipping.packing.wanted import Air, Content, Gear, Job, Placed, Plan, Shell


def judge_plan(job: Job, plan: Plan) -> tuple[str, ...]:
    """Every limit that a plan breaks; an empty tuple is a plan that may be shown."""
    said = [*_counts(job, plan), *_apart(job, plan), *_together(job, plan), *_vans(job, plan)]
    for ident, content in plan.contents.items():
        shell = next((one for one in job.shells if one.id == ident), None)
        if shell is None:
            said.append(f"{ident} is not a case of this load.")
        else:
            said += _case(job, shell, content, plan.layouts.get(ident))
    return tuple(said)


def _counts(job: Job, plan: Plan) -> Iterator[str]:
    """Nothing lost, nothing doubled."""
    seen: Counter[str] = Counter()
    for content in plan.contents.values():
        for ident, count in content:
            seen[ident] += count
            if count < 1:
                yield f"{ident} is packed {count} times."
    for one in plan.left:
        seen[one.gear] += one.count
    for ident in sorted(set(seen) | {gear.id for gear in job.gear}):
        wanted = sum(gear.count for gear in job.gear if gear.id == ident)
        if seen[ident] != wanted:
            yield f"{ident}: {seen[ident]} planned, {wanted} to plan."


def _lines(job: Job, content: Content) -> list[tuple[Gear, int]]:
    known = {gear.id: gear for gear in job.gear}
    return [(known[ident], count) for ident, count in content if ident in known]


def _case(job: Job, shell: Shell, content: Content, layout: tuple[Placed, ...] | None) -> Iterator[str]:
    lines = _lines(job, content)
    gross = shell.tare_g + sum(gear.mass_g * count for gear, count in lines)
    if gross > shell.max_gross_g:
        yield f"{shell.name} would weigh {gross / 1000:g} kg; {shell.max_gross_g / 1000:g} kg is entered for it."
    if shell.lift_g and gross > shell.lift_g:
        yield f"{shell.name} would weigh {gross / 1000:g} kg; {shell.lift_g / 1000:g} kg is entered for lifting it."
    yield from _rails(shell, lines)
    for gear, _ in lines:
        if gear.family not in shell.families or (shell.made_for and gear.id not in shell.made_for):
            yield f"{gear.name} does not belong in {shell.name}."
        if gear.boxed and gear.id not in shell.made_for:
            yield f"{gear.name} travels in its own packaging, which {shell.name} is not."
        if gear.units and gear.depth_mm + job.clearance_mm > shell.depth_mm:
            yield f"{gear.name} is too deep for {shell.name}."
    for gear, count in lines:
        if gear.stays and count > sum(many for case, many in gear.homes if case == shell.id):
            yield f"{gear.name} stays in its usual case, which is not {shell.name}."
    yield from _capacity(shell, lines)
    yield from _batteries(job, shell, lines)
    yield from _layout(shell, [(gear, count) for gear, count in lines if _by_room(gear)], layout)


def _rails(shell: Shell, lines: list[tuple[Gear, int]]) -> Iterator[str]:
    """With each frame one set of its rails, in the same case."""
    held = {gear.id: count for gear, count in lines}
    for rails in sorted({gear.rails for gear, _ in lines if gear.rails}):
        frames = sum(count for gear, count in lines if gear.rails == rails)
        if held.get(rails, 0) < frames:
            yield f"{shell.name} has {held.get(rails, 0)} of {rails} with {frames} that need it."


def _batteries(job: Job, shell: Shell, lines: list[tuple[Gear, int]]) -> Iterator[str]:
    if job.split_batteries and len({gear.battery for gear, _ in lines}) == 2:
        yield f"{shell.name} mixes batteries with other gear."
    if job.air is not None and not shell.rides:
        yield from _by_air(job.air, shell, lines)


def _by_air(air: Air, shell: Shell, lines: list[tuple[Gear, int]]) -> Iterator[str]:
    """Batteries in one case that flies: each by itself against what runs on it there, and what is in equipment."""
    alone = needed = grams = 0
    for gear, count in lines:
        if gear.chemistry == "lead":
            yield f"{gear.name} is lead-acid, in {shell.name}, and flies."
        if gear.battery and gear.chemistry == "lithium":
            alone, grams = alone + count, grams + gear.mass_g * count
        elif gear.chemistry == "lithium" and gear.battery_mwh > air.most_mwh:
            yield f"{gear.name} holds {gear.battery_mwh / 1000:g} Wh of lithium, in {shell.name}, and flies."
        if gear.runs_on > 0 and not gear.battery:
            needed += gear.runs_on * count
    if not alone:
        return
    if air.baggage:
        yield f"{shell.name} is baggage and holds {alone} lithium batteries by themselves."
    if alone > (needed + air.spares if needed else 0):
        yield f"{shell.name} holds {alone} lithium batteries by themselves; what is with them needs {needed}."
    if air.passenger and grams > air.net_g:
        yield f"{shell.name} holds {grams / 1000:g} kg of lithium batteries; {air.net_g / 1000:g} kg may fly."


def _by_room(gear: Gear) -> bool:
    return not gear.units and not gear.slots and gear.size_mm is not None


def _capacity(shell: Shell, lines: list[tuple[Gear, int]]) -> Iterator[str]:
    units = sum(gear.units * count for gear, count in lines)
    if units > shell.units:
        yield f"{shell.name} has {shell.units} U; {units} U are planned."
    slots: Counter[str] = Counter()
    for gear, count in lines:
        if gear.slots and not gear.units:
            slots[gear.family if shell.compartments else "any"] += gear.slots * count
    for family, taken in sorted(slots.items()):
        has = dict(shell.compartments).get(family, 0) if shell.compartments else shell.slots
        if taken > has:
            yield f"{shell.name} has {has} slots for {family}; {taken} are planned."


def _layout(shell: Shell, lines: list[tuple[Gear, int]], layout: tuple[Placed, ...] | None) -> Iterator[str]:
    if not lines:
        return
    if layout is None or shell.inside_mm is None:
        yield f"{shell.name} has no layout that shows its content goes in."
        return
    if Counter(one.gear for one in layout) != Counter({gear.id: count for gear, count in lines}):
        yield f"{shell.name}: the layout is not of its content."
    known = {gear.id: gear for gear, _ in lines}
    for one in layout:
        yield from _stands(shell, known.get(one.gear), one)
    for one, other in combinations(layout, 2):
        if _overlap(one, other):
            yield f"{one.gear} and {other.gear} would be in one place in {shell.name}."
        elif _on_fragile(known, one, other):
            yield f"Something stands on a fragile thing in {shell.name}."


def _stands(shell: Shell, gear: Gear | None, one: Placed) -> Iterator[str]:
    """Its own size, upright if it must be, and inside."""
    if gear is None or sorted(one.size_mm) != sorted(gear.size_mm or ()):
        yield f"{shell.name}: {one.gear} has another size in the layout."
    elif gear.upright and one.size_mm[2] != (gear.size_mm or (0, 0, 0))[2]:
        yield f"{gear.name} is not upright in {shell.name}."
    room = shell.inside_mm or (0, 0, 0)
    if any(at < 0 or at + side > free for at, side, free in zip(one.at_mm, one.size_mm, room, strict=True)):
        yield f"{one.gear} sticks out of {shell.name}."


def _meets(one: Placed, other: Placed, axis: int) -> bool:
    return (
        one.at_mm[axis] < other.at_mm[axis] + other.size_mm[axis]
        and other.at_mm[axis] < one.at_mm[axis] + one.size_mm[axis]
    )


def _overlap(one: Placed, other: Placed) -> bool:
    return all(_meets(one, other, axis) for axis in range(3))


def _on_fragile(known: dict[str, Gear], one: Placed, other: Placed) -> bool:
    """Is one over the other, and the lower one fragile? At any height: what is above it can come down on it."""
    if not (_meets(one, other, 0) and _meets(one, other, 1)):
        return False
    low = one if one.at_mm[2] < other.at_mm[2] else other
    return low.gear in known and known[low.gear].fragile


def _apart(job: Job, plan: Plan) -> Iterator[str]:
    """What is to be apart, a part and its spare, copies: in different cases; copies never on one vehicle either."""
    where: dict[tuple[str, str], list[tuple[str, str]]] = defaultdict(list)
    for ident, content in plan.contents.items():
        for gear, count in _lines(job, content):
            said = [("apart", gear.apart), ("spare", gear.spare), *(("copies", one) for one in gear.copies)]
            for word, tag in said:
                where[word, tag] += [(gear.id, ident)] * (count if tag else 0)
    for (word, tag), rows in sorted(where.items()):
        vans = 1 if word == "copies" else 2 if word == "apart" else len(job.vans) + 1
        for (gear, case), (other, near) in combinations(rows, 2):
            if case == near:
                yield f"{gear} and {other} ({tag}) are to be in different cases."
            elif len(job.vans) >= vans and plan.vans.get(case) == plan.vans.get(near) is not None and gear != other:
                yield f"{gear} and {other} ({tag}) are to be in different vehicles."


def _together(job: Job, plan: Plan) -> Iterator[str]:
    cases: dict[str, set[str]] = defaultdict(set)
    vans: dict[str, set[str]] = defaultdict(set)
    for ident, content in plan.contents.items():
        for gear, _ in _lines(job, content):
            if gear.together:
                cases[gear.together].add(ident)
            if gear.convoy and ident in plan.vans:
                vans[gear.convoy].add(plan.vans[ident])
    yield from (f"{tag} is to be in one case." for tag, where in sorted(cases.items()) if len(where) > 1)
    yield from (f"{tag} is to be on one vehicle." for tag, where in sorted(vans.items()) if len(where) > 1)


def _vans(job: Job, plan: Plan) -> Iterator[str]:
    shells = {one.id: one for one in job.shells}
    loads: Counter[str] = Counter()
    for case, van in plan.vans.items():
        inside = _lines(job, plan.contents.get(case, ()))
        loads[van] += shells[case].tare_g + sum(gear.mass_g * count for gear, count in inside)
    for van in job.vans:
        if loads[van.id] > van.payload_g:
            over = (loads[van.id] - van.payload_g) / 1000
            yield f"{van.name} would carry {over:g} kg more than is entered for it."
    other_way = {case for case in plan.vans if shells[case].off_vans}
    yield from (f"{case} goes another way, and is planned onto {plan.vans[case]}." for case in sorted(other_way))
    carried = {case for case in plan.contents if case not in shells or not shells[case].off_vans}
    if job.vans and set(plan.vans) - other_way != carried:
        missing = sorted(carried ^ (set(plan.vans) - other_way))
        yield f"No vehicle, or no content: {', '.join(missing)}."
