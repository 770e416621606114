"""A closer look at one lift: the NIOSH revised lifting equation, metric. It refuses the lifts it was not made for.

Source: DHHS (NIOSH) 94-110, revision of September 2021. Centimetres, degrees, lifts a minute, kilograms.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from shipping.packing.lifting import CAUTION, NoFigure

CONSTANT_KG = 23.0
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


@dataclass(frozen=True, slots=True)
class Lift:
    """`reach`: hands from the ankles; `height`: hands from the floor; `travel`: up or down; `twist` in degrees."""

    reach: float
    height: float
    travel: float
    twist: float = 0
    per_minute: float = 0.2
    work: str = "short"
    grip: str = "fair"
    not_for: frozenset[NotFor] = frozenset()


@dataclass(frozen=True, slots=True)
class Look:
    """`index` is load over recommended mass; None where nothing is recommended at all."""

    recommended_kg: float
    index: float | None
    caution: str = CAUTION


def look(lift: Lift, load_kg: float) -> Look:
    """The recommended mass of one lift and how the load compares. Raises NoFigure where the equation does not apply."""
    if lift.not_for:
        words = ", ".join(sorted(lift.not_for))
        raise NoFigure(f"The equation gives no figure: {words}. Ask the person in charge.")
    kilograms = CONSTANT_KG * _reach(lift) * _height(lift) * _travel(lift) * _twist(lift)
    kilograms *= COUPLING[lift.grip][lift.height >= 75] * _often(lift)
    return Look(kilograms, load_kg / kilograms if kilograms else None)


def _reach(lift: Lift) -> float:
    return 0.0 if lift.reach > 63 else 25 / max(25, lift.reach)


def _height(lift: Lift) -> float:
    return 1 - 0.003 * abs(lift.height - 75) if 0 <= lift.height <= 175 else 0.0


def _travel(lift: Lift) -> float:
    return 0.0 if lift.travel > 175 else 0.82 + 4.5 / max(25, lift.travel)


def _twist(lift: Lift) -> float:
    return 1 - 0.0032 * lift.twist if 0 <= lift.twist <= 135 else 0.0


def _often(lift: Lift) -> float:
    """Table 5, straight lines between its rows."""
    column = ("short", "moderate", "long").index(lift.work) * 2 + (lift.height >= 75)
    often = max(0.2, lift.per_minute)
    if often > 15:
        return 0.0
    below = max(one for one in FREQUENCY if one <= often)
    above = min(one for one in FREQUENCY if one >= often)
    low, high = FREQUENCY[below][column], FREQUENCY[above][column]
    return low if below == above else low + (high - low) * (often - below) / (above - below)
