"""What each axle carries, by the lever rule: the load as masses at distances from the headboard. Exact until rounded.

Two supports carry a vehicle. With more than two axles those before and those behind the widest gap each act as one
support in their middle and share its load evenly (common practice for planning; a weighbridge decides).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from itertools import combinations, pairwise

from shipping.packing.floor.deck import Axle, Deck, Freight, Spot
from shipping.packing.freight import loading_metres

POUND_G = Fraction(45_359_237, 100_000)  # exact by definition
FEWEST = 2  # one axle carries no lever rule


@dataclass(frozen=True, slots=True)
class AxleLoad:
    """Grams of the load on one axle, and with the empty vehicle where that is entered. The load may lift an axle."""

    axle: Axle
    load_g: int

    @property
    def total_g(self) -> int | None:
        return None if self.axle.empty_g is None else self.load_g + self.axle.empty_g

    @property
    def over_g(self) -> int:
        """How much more than entered; 0 while a figure is missing."""
        if self.total_g is None or self.axle.limit_g is None:
            return 0
        return max(0, self.total_g - self.axle.limit_g)


@dataclass(frozen=True, slots=True)
class Stage:
    """The load from one stop to the next. `offset_mm`: its middle, right of the deck's (negative: left)."""

    when: str
    cases: int
    mass_g: int
    axles: tuple[AxleLoad, ...]
    offset_mm: int

    @property
    def over_g(self) -> int:
        return sum(one.over_g for one in self.axles)


@dataclass(frozen=True, slots=True)
class Weight:
    """One mass with its middle, doubled so that it stays whole, and the stop where it gets off."""

    mass_g: int
    twice_x: int
    twice_y: int
    stop: int


def halves(axles: Sequence[Axle]) -> tuple[list[Axle], list[Axle]]:
    """The front and the rear support: the axles before and behind the widest gap. Raises ValueError below two."""
    known = sorted(axles, key=lambda one: one.at_mm)
    if len(known) < FEWEST or known[0].at_mm == known[-1].at_mm:
        raise ValueError("Two axles at different places are needed to reckon what each carries.")
    gaps = [after.at_mm - before.at_mm for before, after in pairwise(known)]
    cut = gaps.index(max(gaps)) + 1
    return known[:cut], known[cut:]


def _middle(axles: Sequence[Axle]) -> Fraction:
    return Fraction(sum(one.at_mm for one in axles), len(axles))


def axle_loads(axles: Sequence[Axle], mass_g: int, twice_moment: int) -> tuple[AxleLoad, ...]:
    """What each axle carries of a load with this mass and (doubled) moment about the headboard, in gram-millimetres."""
    front, rear = halves(axles)
    base = _middle(rear) - _middle(front)
    on_rear = (Fraction(twice_moment, 2) - mass_g * _middle(front)) / base
    shares = [(front, mass_g - on_rear), (rear, on_rear)]
    return tuple(AxleLoad(axle, round(load / len(group))) for group, load in shares for axle in group)


def can_reckon(deck: Deck) -> bool:
    return len({one.at_mm for one in deck.axles}) >= FEWEST


def front_share(deck: Deck, loads: Sequence[AxleLoad]) -> Fraction | None:
    """The part of the whole mass on the front axles; None while an empty mass is not entered."""
    totals = [one.total_g for one in loads]
    whole = sum(one for one in totals if one is not None)
    if None in totals or whole <= 0:
        return None
    front = {one.at_mm for one in halves(deck.axles)[0]}
    return Fraction(sum(one.total_g or 0 for one in loads if one.axle.at_mm in front), whole)


def weights(freight: Freight, spots: Iterable[Spot]) -> list[Weight]:
    found = []
    for spot in spots:
        cargo = freight.by_id[spot.cargo]
        (x, y, _), (length, width, _) = spot.at_mm, spot.size_mm
        found.append(Weight(cargo.mass_g or 0, 2 * x + length, 2 * y + width, cargo.stop))
    return found


def stages(deck: Deck, load: Sequence[Weight]) -> list[Stage]:
    """At departure, then after each stop while something is still on board."""
    found = []
    for gone in range(len(deck.stops)):
        aboard = [one for one in load if one.stop > gone]
        if aboard:
            found.append(_stage(deck, aboard, f"after {deck.stops[gone - 1]}" if gone else "at departure"))
    return found


def _stage(deck: Deck, aboard: Sequence[Weight], when: str) -> Stage:
    mass = sum(one.mass_g for one in aboard)
    moment = sum(one.mass_g * one.twice_x for one in aboard)
    loads = axle_loads(deck.axles, mass, moment) if can_reckon(deck) else ()
    across = sum(one.mass_g * one.twice_y for one in aboard)
    offset = round(Fraction(across - mass * deck.size_mm[1], 2 * mass)) if mass else 0
    return Stage(when, len(aboard), mass, loads, offset)


def deck_metres(spots: Iterable[Spot], stacked: int = 1) -> Decimal:
    """Loading metres of what stands on the deck itself: how road freight is counted (common practice)."""
    floor = (spot.size_mm for spot in spots if spot.at_mm[2] == 0)
    return sum((loading_metres(length, width, stacked) for length, width, _ in floor), Decimal(0))


def bridge_limit_lb(length_ft: int, axles: int) -> int:
    """Pounds that a group of two or more axles may carry on the bridges of the United States, by its outer length.

    W = 500 (LN / (N - 1) + 12 N + 36), to the nearest 500 lb (23 U.S.C. 127, from memory). Raises ValueError below two.
    """
    if axles < FEWEST:
        raise ValueError("The formula is for two or more axles.")
    exact = Fraction(length_ft * axles, axles - 1) + 12 * axles + 36
    return 500 * int(exact + Fraction(1, 2))


def bridge_groups(axles: Sequence[Axle]) -> list[tuple[int, int, tuple[Axle, ...]]]:
    """Every run of two or more neighbouring axles: outer length in whole feet (nearest), how many, and which."""
    known = sorted(axles, key=lambda one: one.at_mm)
    runs = [known[first : last + 1] for first, last in combinations(range(len(known)), 2)]
    return [(_feet(run[-1].at_mm - run[0].at_mm), len(run), tuple(run)) for run in runs]


@dataclass(frozen=True, slots=True)
class BridgeGroup:
    """Neighbouring axles: what the formula has them carry, and the most they do at any stage of the drive."""

    names: tuple[str, ...]
    length_ft: int
    limit_g: int
    load_g: int


def bridge_table(deck: Deck, told: Sequence[Stage]) -> list[BridgeGroup]:
    """Every group by the formula; nothing while an empty mass is not entered."""
    totals = [{one.axle.at_mm: one.total_g for one in stage.axles} for stage in told if stage.axles]
    if not totals or any(total is None for one in totals for total in one.values()):
        return []
    found = []
    for length, many, axles in bridge_groups(deck.axles):
        most = max(sum(one[axle.at_mm] or 0 for axle in axles) for one in totals)
        limit = round(bridge_limit_lb(length, many) * POUND_G)
        found.append(BridgeGroup(tuple(axle.name for axle in axles), length, limit, most))
    return found


def _feet(millimetres: int) -> int:
    return int(Fraction(millimetres * 10, 3048) + Fraction(1, 2))
