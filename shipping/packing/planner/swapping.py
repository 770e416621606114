"""Trunks that do not go in, put right by one exchange: a thing of theirs against one of another trunk, or for nothing.

No more may move from its usual home by it, every limit of both cases holds, and both are laid out before it counts.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from shipping.packing.planner import boxes
from shipping.packing.planner.firstfit import Bundle, Filling, loose_in
from shipping.packing.planner.fitting import takes_room
from shipping.packing.planner.trunks import goes_in, laid_out
from shipping.packing.wanted import Content, Gear, Job, Shell

TRIES, MOST_OVER = 16, 3


@dataclass(frozen=True, slots=True)
class _Swap:
    mine: Gear
    other: Shell
    theirs: Gear | None
    relief: int


def swapped(job: Job, contents: dict[str, Content]) -> dict[str, Content]:
    """The same contents but for some exchanges; what none helps, or too many trunks, stays as it is."""
    filling, over = Filling.of(job, contents, {}), laid_out(job, contents)[1]
    if len(over) <= MOST_OVER:
        for case in over:
            _put_right(filling, job.cases[case])
    return filling.contents()


def _put_right(filling: Filling, shell: Shell) -> None:
    """What frees most room is tried first."""
    for swap in sorted(_swaps(filling, shell), key=lambda one: -one.relief)[:TRIES]:
        _exchange(filling, shell, swap.mine, swap.other, swap.theirs)
        if all(goes_in(filling.job, one, filling.held[one.id], boxes.WAYS) for one in (shell, swap.other)):
            return
        _exchange(filling, swap.other, swap.mine, shell, swap.theirs)


def _swaps(filling: Filling, shell: Shell) -> Iterator[_Swap]:
    others = [filling.job.cases[case] for case in sorted(filling.open_cases() - {shell.id})]
    for mine in _sized(filling, shell):
        for other in others:
            for theirs in (None, *_sized(filling, other)):
                relief = _volume(mine) - (_volume(theirs) if theirs else 0)
                if theirs != mine and relief > 0 and _may(filling, shell, mine, other, theirs):
                    yield _Swap(mine, other, theirs, relief)


def _sized(filling: Filling, shell: Shell) -> list[Gear]:
    return [gear for gear in loose_in(filling, shell) if takes_room(gear)]


def _volume(gear: Gear) -> int:
    length, width, height = gear.size_mm or (0, 0, 0)
    return length * width * height


def _may(filling: Filling, shell: Shell, mine: Gear, other: Shell, theirs: Gear | None) -> bool:
    """By what each case may hold, and by moves; the filling is as before."""
    change = _kept_less(filling, mine, shell) - _kept_more(filling, mine, other)
    if theirs is not None:
        change += _kept_less(filling, theirs, other) - _kept_more(filling, theirs, shell)
    if change > 0:
        return False
    filling.take(_one(mine), shell)
    if theirs is not None:
        filling.take(_one(theirs), other)
    may = filling.fits(_one(mine), other) and (theirs is None or filling.fits(_one(theirs), shell))
    filling.put(_one(mine), shell)
    if theirs is not None:
        filling.put(_one(theirs), other)
    return may


def _one(gear: Gear) -> Bundle:
    return ((gear, 1),)


def _kept_less(filling: Filling, gear: Gear, shell: Shell) -> int:
    """Does one that leaves leave its home?"""
    return int(filling.held[shell.id].get(gear.id, 0) <= gear.at_home_in(shell.id))


def _kept_more(filling: Filling, gear: Gear, shell: Shell) -> int:
    return int(filling.held[shell.id].get(gear.id, 0) < gear.at_home_in(shell.id))


def _exchange(filling: Filling, shell: Shell, mine: Gear, other: Shell, theirs: Gear | None) -> None:
    filling.take(_one(mine), shell)
    filling.put(_one(mine), other)
    if theirs is not None:
        filling.take(_one(theirs), other)
        filling.put(_one(theirs), shell)
