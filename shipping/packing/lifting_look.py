"""A closer look at one lift: the NIOSH revised lifting equation. It refuses the lifts it was not made for.

Source: DHHS (NIOSH) 94-110, revision of September 2021. Its metric and its US figures are not exact conversions of
each other, so a lift is given in one system throughout: cm and kg, or in and lb. Degrees, lifts a minute.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import prod

from shipping.packing.lifting import CAUTION, NoFigure

COUPLING = {"good": (1.0, 1.0), "fair": (0.95, 1.0), "poor": (0.9, 0.9)}
# Table 5: per frequency, short, moderate and long work, each for hands below 75 cm and from there up.
FREQUENCY: dict[float, tuple[float, ...]] = {
    0.2: (1.0, 1.0, 0.95, 0.95, 0.85, 0.85), 0.5: (0.97, 0.97, 0.92, 0.92, 0.81, 0.81),
    1: (0.94, 0.94, 0.88, 0.88, 0.75, 0.75), 2: (0.91, 0.91, 0.84, 0.84, 0.65, 0.65),
    3: (0.88, 0.88, 0.79, 0.79, 0.55, 0.55), 4: (0.84, 0.84, 0.72, 0.72, 0.45, 0.45),
    5: (0.8, 0.8, 0.6, 0.6, 0.35, 0.35), 6: (0.75, 0.75, 0.5, 0.5, 0.27, 0.27),
    7: (0.7, 0.7, 0.42, 0.42, 0.22, 0.22), 8: (0.6, 0.6, 0.35, 0.35, 0.18, 0.18),
    9: (0.52, 0.52, 0.3, 0.3, 0, 0.15), 10: (0.45, 0.45, 0.26, 0.26, 0, 0.13),
    11: (0.41, 0.41, 0, 0.23, 0, 0), 12: (0.37, 0.37, 0, 0.21, 0, 0), 13: (0, 0.34, 0, 0, 0, 0),
    14: (0, 0.31, 0, 0, 0, 0), 15: (0, 0.28, 0, 0, 0, 0),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Units:
    """The equation's figures in one system of units: mass, then reach, height and travel with their ends."""

    length: str
    mass: str
    constant: float
    near: float
    far: float
    knuckle: float
    slope: float
    high: float
    travel_add: float
    travel_far: float


METRIC = Units("cm", "kg", 23.0, 25, 63, 75, 0.003, 175, 4.5, 175)
US = Units("in", "lb", 51.0, 10, 25, 30, 0.0075, 70, 1.8, 70)


class NotFor(StrEnum):
    """Lifts the equation says nothing about."""

    ONE_HAND = "lifted with one hand"
    LONG_DAY = "more than eight hours of it"
    SEATED = "seated or kneeling"
    CRAMPED = "in a cramped space"
    UNSTABLE = "a load that shifts"
    MOVING = "while carrying, pushing or pulling"
    FAST = "a fast lift"
    SLIPPERY = "on a slippery floor"
    CLIMATE = "in heat, cold or damp"
    TEAM = "lifted by more than one person"
    BARROW = "with a barrow or a shovel"
    FAR = "carried further than 10 m"
    PERSON = "by somebody young, pregnant or in poor health"


@dataclass(frozen=True, slots=True)
class Lift:
    """`reach`: hands from the ankles; `height`: hands from the floor; `travel`: up or down; `twist` in degrees.

    `began` is the height of the hands where the lift began, if this is its end: how often counts from there.
    """

    reach: float
    height: float
    travel: float
    twist: float = 0
    per_minute: float = 0.2
    work: str = "short"
    grip: str = "fair"
    not_for: frozenset[NotFor] = frozenset()
    units: Units = METRIC
    began: float | None = None


@dataclass(frozen=True, slots=True)
class Look:
    """`index` is load over recommended mass; None where nothing is recommended at all. `factors` made it, by name."""

    recommended: float
    index: float | None
    factors: tuple[tuple[str, float], ...] = ()
    caution: str = CAUTION


def look(lift: Lift, load: float) -> Look:
    """The recommended mass of one lift and how the load compares. Raises NoFigure where the equation does not apply."""
    refuse(lift.not_for, "The equation")
    factors = (
        ("reach", _reach(lift)), ("height of the hands", _height(lift)), ("distance up or down", _travel(lift)),
        ("twist", _twist(lift)), ("how often", _often(lift)),
        ("grip", COUPLING[lift.grip][lift.height >= lift.units.knuckle]),
    )  # fmt: skip
    mass = lift.units.constant * prod(factor for _, factor in factors)
    return Look(mass, load / mass if mass else None, factors)


def refuse(not_for: frozenset[NotFor], what: str) -> None:
    if not_for:
        words = ", ".join(sorted(not_for))
        raise NoFigure(f"{what} gives no figure: {words}. Plan the lift with the person in charge.")


def worse(*looks: Look) -> Look:
    """Of start and end the one that recommends less: it counts where the load is set down with care."""
    return min(looks, key=lambda one: one.recommended)


def in_words(index: float | None) -> str:
    """What an index says, by the bands of the guide."""
    if index is None:
        return "nothing is recommended for a lift like this"
    if index <= 1:
        return "not above what the equation recommends"
    return "more risk for nearly everybody" if index > 3 else "more risk for some people"


def spread(per_minute: float, minutes_of_15: float) -> float:
    """Lifts a minute over fifteen minutes, where lifting goes on for some of them only."""
    return per_minute * minutes_of_15 / 15


def reach_of(depth: float, height: float, units: Units = METRIC) -> float:
    """How far the hands are from the ankles if nobody measured: half the depth of the load and the body's share."""
    metric = units is METRIC
    share = (20 if height >= 25 else 25) if metric else (8 if height >= 10 else 10)
    return share + depth / 2


def composite(lifts: Sequence[tuple[float, float, float]], work: str, *, high: bool = False) -> float | None:
    """The index of several different lifts in one spell; None where nothing is recommended for one of them.

    Each: its load, the mass recommended for it but for how often, and how often a minute. The hardest counts whole,
    each further one by what its lifts add. `high`: hands at 75 cm (30 in) or above.
    """
    total = 0.0
    index = 0.0
    often = [_table_5(sum(one[2] for one in lifts), work, high=high), *(one[1] for one in lifts)]
    if not all(often):
        return None
    for load, mass, per_minute in sorted(lifts, key=lambda one: -one[0] / (one[1] * _table_5(one[2], work, high=high))):
        before = 1 / _table_5(total, work, high=high) if total else 0.0
        total += per_minute
        index += load / mass * (1 / _table_5(total, work, high=high) - before)
    return index


def _reach(lift: Lift) -> float:
    return 0.0 if lift.reach > lift.units.far else lift.units.near / max(lift.units.near, lift.reach)


def _height(lift: Lift) -> float:
    within = 0 <= lift.height <= lift.units.high
    return 1 - lift.units.slope * abs(lift.height - lift.units.knuckle) if within else 0.0


def _travel(lift: Lift) -> float:
    units = lift.units
    return 0.0 if lift.travel > units.travel_far else 0.82 + units.travel_add / max(units.near, lift.travel)


def _twist(lift: Lift) -> float:
    return 1 - 0.0032 * lift.twist if 0 <= lift.twist <= 135 else 0.0


def _often(lift: Lift) -> float:
    start = lift.height if lift.began is None else lift.began
    return _table_5(lift.per_minute, lift.work, high=start >= lift.units.knuckle)


def _table_5(per_minute: float, work: str, *, high: bool) -> float:
    """Table 5, straight lines between its rows."""
    column = ("short", "moderate", "long").index(work) * 2 + high
    often = max(0.2, per_minute)
    if often > 15:
        return 0.0
    below = max(one for one in FREQUENCY if one <= often)
    above = min(one for one in FREQUENCY if one >= often)
    low, top = FREQUENCY[below][column], FREQUENCY[above][column]
    return low if below == above else low + (top - low) * (often - below) / (above - below)
