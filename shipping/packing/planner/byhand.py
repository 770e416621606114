"""How good a plan by hand rules is known to be, before anything was searched for."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

from shipping.packing.planner.cases import CASES, LEFT, MOVES
from shipping.packing.wanted import Content, Job, Left, Level, moves


def levels_by_hand(
    job: Job, contents: Mapping[str, Content], left: Iterable[Left], parts: Sequence[Job]
) -> tuple[Level, ...]:  # fmt: skip
    """The goals with bounds that need no search: what no case takes stays, and each family that packs opens a case.

    `parts` are its families.
    """
    behind = Counter({one.gear: one.count for one in left})
    homeless = sum(gear.count for part in parts if not part.shells for gear in part.gear)
    packing = sum(any(gear.count > behind[gear.id] for gear in part.gear) for part in parts)
    return (
        Level(LEFT, behind.total(), homeless),
        Level(CASES, len(contents), packing),
        Level(MOVES, moves(job, dict(contents)), 0),
    )
