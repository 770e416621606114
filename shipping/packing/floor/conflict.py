"""Why not every case goes on a deck: a set that cannot all stand on it, and of which every smaller one can.

By rows, stacks, stops and payload; the axles are not asked, since one case less can be worse for them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from shipping.packing.floor import reasons
from shipping.packing.floor.cutting import cut
from shipping.packing.floor.deck import Cargo, Freight
from shipping.packing.floor.firstfit import rows_at_once, stack_up, within
from shipping.packing.floor.pricing import cheapest
from shipping.packing.floor.rows import Rows
from shipping.packing.floor.stacks import allowed_stacks, kinds_of
from shipping.packing.planner.engines import Stop
from shipping.packing.wanted import Content

Remaining = Callable[[], float]
Counts = dict[str, int]


class OutOfTime(Exception):
    """Nothing was shown of a set in the time there was."""


def smallest(freight: Freight, remaining: Remaining, stop: Stop) -> Content:
    """Take one case after another out as long as the rest still cannot all go; () if all goes or time ran out.

    What stood on a case that is taken out stands in its place, so a set that goes goes without any of it too.
    """
    able = [one for one in freight.cargo if not reasons.cannot_go(freight.deck, one)]
    counts = {one.id: one.count for one in able}
    try:
        if goes(_only(freight, counts), remaining, stop):
            return ()
        for cargo in sorted(able, key=_size):
            counts = _fewest(freight, counts, cargo.id, remaining, stop)
    except OutOfTime:
        return ()
    return tuple((ident, count) for ident, count in sorted(counts.items()) if count)


def _size(cargo: Cargo) -> tuple[int, int, str]:
    """The small ones are taken out first: then few are left to name."""
    length, width, _ = cargo.size_mm or (0, 0, 0)
    return length * width, cargo.mass_g or 0, cargo.id


def _fewest(freight: Freight, counts: Counts, ident: str, remaining: Remaining, stop: Stop) -> Counts:
    """The fewest of these cases with which the rest still cannot go, by halving."""
    low, high = 0, counts[ident]
    while low < high:
        middle = (low + high) // 2
        if goes(_only(freight, counts | {ident: middle}), remaining, stop):
            low = middle + 1
        else:
            high = middle
    return counts | {ident: high}


def _only(freight: Freight, counts: Counts) -> Freight:
    cargo = tuple(replace(one, count=counts[one.id]) for one in freight.cargo if counts.get(one.id))
    return Freight(replace(freight.deck, axles=(), front_pct=0), cargo)


def goes(freight: Freight, remaining: Remaining, stop: Stop) -> bool:
    """Do all of these cases stand on the deck, within its payload? Raises OutOfTime."""
    deck = freight.deck
    if deck.payload_g is not None and sum((one.mass_g or 0) * one.count for one in freight.cargo) > deck.payload_g:
        return False
    kinds = kinds_of(freight, keep_first_off=False)
    stacks, all_stacks = allowed_stacks(deck, kinds)
    for high in (True, False):
        if not within(deck, rows_at_once(deck, stack_up(stacks, kinds, high=high)), kinds)[1]:
            return True
    rows = Rows(deck, kinds, stacks)
    rows.leave_nothing(True)
    rows.model.goal = rows.depths
    found = cheapest(cut(rows, rows.model, remaining), remaining, start=None, stop=stop)
    if found.values is not None and rows.model.value(rows.depths, found.values) <= deck.length_mm:
        return True
    if (found.impossible or found.bound > deck.length_mm) and rows.complete and all_stacks:
        return False
    raise OutOfTime
