"""The independent check of a floor plan: places, masses and order, read from the freight alone.

It imports nothing of the planner, not even its arithmetic, so a mistake there cannot hide itself here.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import combinations

from shipping.packing.floor.deck import Axle, Cargo, Deck, FloorPlan, Freight, Spot

Standing = tuple[Cargo, Spot]


def judge_floor(freight: Freight, plan: FloorPlan) -> tuple[str, ...]:
    """Every limit that a plan breaks, in words; an empty tuple is a plan that may be shown."""
    said = list(_counts(freight, plan))
    known = {one.id: one for one in freight.cargo}
    stand = [(known[spot.cargo], spot) for spot in plan.spots if spot.cargo in known]
    for cargo, spot in stand:
        said += _fits(freight.deck, cargo, spot)
    said += _apart(stand)
    said += _stacks(freight.deck, stand)
    said += _order(stand, plan.first_off_kept)
    said += _masses(freight.deck, stand)
    return tuple(said)


def _counts(freight: Freight, plan: FloorPlan) -> Iterator[str]:
    """Nothing lost, nothing doubled."""
    seen = Counter(spot.cargo for spot in plan.spots)
    for one in plan.left:
        seen[one.gear] += one.count
        if one.count < 1 or not one.reason:
            yield f"{one.gear} stays behind without a count or a reason."
    wanted = Counter({one.id: one.count for one in freight.cargo})
    for ident in sorted(set(seen) | set(wanted)):
        if seen[ident] != wanted[ident]:
            yield f"{ident}: {seen[ident]} planned, {wanted[ident]} to plan."


def _fits(deck: Deck, cargo: Cargo, spot: Spot) -> Iterator[str]:
    """Its own size, turned only if it may, inside the walls and through the door."""
    size = cargo.size_mm
    turned = (size[1], size[0], size[2]) if size else None
    if size is None or spot.size_mm not in (size, turned):
        yield f"{cargo.name} has another size in the plan."
    elif spot.size_mm != size and not cargo.turns:
        yield f"{cargo.name} is turned, and may not be."
    for at, side, room in zip(spot.at_mm, spot.size_mm, deck.size_mm, strict=True):
        if at < 0 or at + side > room:
            yield f"{cargo.name} sticks out of {deck.name}."
    if deck.door_mm is not None and (spot.size_mm[2] > deck.door_mm[1] or min(spot.size_mm[:2]) > deck.door_mm[0]):
        yield f"{cargo.name} does not go through the door of {deck.name}."


def _meet(one: Spot, other: Spot, axis: int) -> bool:
    start, end = one.at_mm[axis], one.at_mm[axis] + one.size_mm[axis]
    return start < other.at_mm[axis] + other.size_mm[axis] and other.at_mm[axis] < end


def _apart(stand: Sequence[Standing]) -> Iterator[str]:
    for (cargo, one), (near, other) in combinations(stand, 2):
        if all(_meet(one, other, axis) for axis in range(3)):
            yield f"{cargo.name} and {near.name} would be in one place."


def _under(spot: Spot, stand: Sequence[Standing]) -> list[Standing]:
    """All that a case stands over, at any depth, the lowest first."""
    below = [
        (cargo, one) for cargo, one in stand
        if one.at_mm[2] < spot.at_mm[2] and _meet(one, spot, 0) and _meet(one, spot, 1)
    ]  # fmt: skip
    return sorted(below, key=lambda each: each[1].at_mm[2])


def _stacks(deck: Deck, stand: Sequence[Standing]) -> Iterator[str]:
    borne: Counter[Spot] = Counter()
    for cargo, spot in stand:
        below = _under(spot, stand)
        if spot.at_mm[2] == 0:
            continue
        if not below or not _carries(below[-1][1], spot):
            yield f"{cargo.name} does not stand wholly on one case."
            continue
        yield from _may_stand(deck, cargo, below)
        for _, under in below:
            borne[under] += cargo.mass_g or 0
        if len(below) >= deck.tiers:
            yield f"{cargo.name} is more than {deck.tiers} high."
    for cargo, spot in stand:
        if borne[spot] > (cargo.on_top_g or 0):
            yield f"{cargo.name} would carry {borne[spot] / 1000:g} kg; {_entered(cargo.on_top_g)}."


def _entered(limit_g: int | None) -> str:
    return "nobody has said what it takes" if limit_g is None else f"it takes {limit_g / 1000:g} kg"


def _carries(under: Spot, spot: Spot) -> bool:
    inside = all(
        under.at_mm[axis] <= spot.at_mm[axis]
        and spot.at_mm[axis] + spot.size_mm[axis] <= under.at_mm[axis] + under.size_mm[axis]
        for axis in range(2)
    )
    return inside and under.at_mm[2] + under.size_mm[2] == spot.at_mm[2]


def _may_stand(deck: Deck, cargo: Cargo, below: Sequence[Standing]) -> Iterator[str]:
    base = below[-1][0]
    if not cargo.stacks:
        yield f"{cargo.name} may not stand on another case."
    if cargo.mass_g is None or base.mass_g is None:
        yield f"{cargo.name} stands on {base.name}, and a mass is not known."
    elif cargo.mass_g > base.mass_g:
        yield f"{cargo.name} is heavier than {base.name} under it."
    if deck.lift_g is not None and (cargo.mass_g or 0) > deck.lift_g:
        yield f"{cargo.name} is too heavy to be lifted onto another case."
    if any(cargo.stop > one.stop for one, _ in below):
        yield f"{cargo.name} stands on a case that gets off before it."


def _order(stand: Sequence[Standing], first_off_kept: bool) -> Iterator[str]:
    """Last in, first out: nothing that gets off later stands between a case and the door."""
    for (cargo, one), (near, other) in combinations(stand, 2):
        if not _meet(one, other, 1) or _meet(one, other, 0):
            continue
        inner, outer = (cargo, near) if one.at_mm[0] < other.at_mm[0] else (near, cargo)
        if inner.stop < outer.stop:
            yield f"{outer.name} stands in the way of {inner.name}, which gets off before it."
        elif first_off_kept and inner.stop == outer.stop and inner.first_off and not outer.first_off:
            yield f"{outer.name} stands in the way of {inner.name}, which is wanted first."


def _masses(deck: Deck, stand: Sequence[Standing]) -> Iterator[str]:
    whole = sum(cargo.mass_g or 0 for cargo, _ in stand)
    if deck.payload_g is not None and whole > deck.payload_g:
        yield f"{deck.name} would carry {(whole - deck.payload_g) / 1000:g} kg more than is entered for it."
    if len({axle.at_mm for axle in deck.axles}) < 2:
        return
    for gone in range(len(deck.stops)):
        aboard = [(cargo, spot) for cargo, spot in stand if cargo.stop > gone]
        if aboard:
            yield from _axles(deck, aboard, "at departure" if not gone else f"after {deck.stops[gone - 1]}")


def _axles(deck: Deck, aboard: Sequence[Standing], when: str) -> Iterator[str]:
    """Each mass alone on the lever between the two ends of the vehicle; the ends part at the widest gap."""
    ordered = sorted(deck.axles, key=lambda axle: axle.at_mm)
    cut = max(range(1, len(ordered)), key=lambda at: (ordered[at].at_mm - ordered[at - 1].at_mm, -at))
    front, rear = ordered[:cut], ordered[cut:]
    nose, tail = (Fraction(sum(axle.at_mm for axle in end), len(end)) for end in (front, rear))
    on_tail = Fraction(0)
    for cargo, spot in aboard:
        on_tail += (cargo.mass_g or 0) * (spot.at_mm[0] + Fraction(spot.size_mm[0], 2) - nose) / (tail - nose)
    on_nose = sum(cargo.mass_g or 0 for cargo, _ in aboard) - on_tail
    yield from _over(front, on_nose, when)
    yield from _over(rear, on_tail, when)
    empties = [axle.empty_g for axle in ordered]
    if deck.front_pct and None not in empties:
        whole = on_nose + on_tail + sum(axle.empty_g or 0 for axle in ordered)
        on_front = on_nose + sum(axle.empty_g or 0 for axle in front)
        if on_front * 100 < whole * deck.front_pct - 1:
            yield f"Less than {deck.front_pct} % of the mass is on the front {when}."


def _over(end: Sequence[Axle], load: Fraction, when: str) -> Iterator[str]:
    for axle in end:
        if axle.limit_g is None or axle.empty_g is None:
            continue
        total = axle.empty_g + load / len(end)
        if total > axle.limit_g + 1:
            yield f"{axle.name} would carry {float(total) / 1000:.1f} kg {when}; {axle.limit_g / 1000:g} kg is entered."
