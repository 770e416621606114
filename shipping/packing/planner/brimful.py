"""Alike cases that only their rack units fill, each filled nearly to the brim with few large things.

Best fit leaves many cases a little short; looking at whole contents of one case at a time, and letting a little room go
for larger things, often saves a case (minimum bin slack: Gupta and Ho 1999, Fleszar and Hindi 2002; from memory).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace

from shipping.packing.planner import fitting
from shipping.packing.wanted import Content, Gear, Job, Shell

ONE_IN = 25  # of the units of a case as many may be let go, two at least


def fuller(parts: Sequence[Job], contents: Mapping[str, Content]) -> dict[str, Content] | None:
    """The same plan with those families filled anew that then need fewer cases; None where there is none."""
    found, better = dict(contents), False
    for part in parts:
        used = sum(shell in found for shell in part.cases)
        anew = _filled(part) if _is_plain(part) else None
        if anew is not None and len(anew) < used:
            found = {case: held for case, held in found.items() if case not in part.cases} | anew
            better = True
    return found if better else None


def _is_plain(part: Job) -> bool:
    """Nothing but units and mass counts, and one case is like another."""
    bare = {replace(shell, id="", name="") for shell in part.shells}
    return part.air is None and not part.split_batteries and len(bare) == 1 and all(map(_is_free, part.gear)) and all(
        fitting.most(gear, part.shells[0], part) for gear in part.gear
    )  # fmt: skip


def _is_free(gear: Gear) -> bool:
    tied = gear.together or gear.rails or gear.stays or gear.boxed or gear.convoy or gear.not_in_one_case
    return bool(gear.units) and not tied


def _filled(part: Job) -> dict[str, Content] | None:
    """The fewest cases of a few ways to fill them; the first that reaches what the units alone ask for."""
    size = part.shells[0].units
    fewest = -(-sum(gear.units * gear.count for gear in part.gear) // size)
    best: dict[str, Content] | None = None
    for spare in range(max(2, size // ONE_IN) + 1):
        found = _one_way(part, spare)
        if found is not None and (best is None or len(found) < len(best)):
            best = found
        if best is not None and len(best) <= fewest:
            break
    return best


def _one_way(part: Job, spare: int) -> dict[str, Content] | None:
    """Case by case, the largest thing and what goes best with it; None where the cases or their masses do not do."""
    order = sorted(part.gear, key=lambda one: (-one.units, one.id))
    left = Counter({gear.id: gear.count for gear in order})
    found: dict[str, Content] = {}
    for shell in part.shells:
        if not left.total():
            break
        inside = _inside(shell, order, left, spare)
        if sum(part.kinds[ident].mass_g for ident in inside) > shell.room_g:
            return None
        left -= Counter(inside)
        found[shell.id] = tuple(sorted(Counter(inside).items()))
    return None if left.total() else found


def _inside(shell: Shell, order: list[Gear], left: Counter[str], spare: int) -> tuple[str, ...]:
    """For each sum of units one way to reach it, the large things first; of the fullest sums the one with fewest."""
    first = next(gear for gear in order if left[gear.id])
    reached: dict[int, tuple[str, ...]] = {first.units: (first.id,)}
    for gear in order:
        for _ in range(left[gear.id] - (gear is first)):
            more = {total + gear.units: (*inside, gear.id) for total, inside in reached.items()}
            more = {total: inside for total, inside in more.items() if total <= shell.units and total not in reached}
            if not more:
                break
            reached |= more
    full = [total for total in reached if total >= shell.units - spare] or [max(reached)]
    return reached[min(full, key=lambda total: (len(reached[total]), -total))]
