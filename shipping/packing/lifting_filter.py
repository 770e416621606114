"""The HSE lifting filter: a quick figure by where the hands are. A filter, not a limit. It refuses what it is not for.

Source: HSE L23, 4th edition 2016, and INDG143, from secondary pages; several cells from memory, to be confirmed there.
Kilograms, degrees, lifts a minute.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from shipping.packing.lifting import CAUTION, team_kg
from shipping.packing.lifting_look import NotFor, refuse

SOURCE = "HSE L23 (4th edition 2016) and INDG143, from secondary pages"


class Zone(StrEnum):
    """Where the hands are, from the floor up."""

    FLOOR = "floor to mid lower leg"
    LOWER_LEG = "mid lower leg to knuckle"
    KNUCKLE = "knuckle to elbow"
    ELBOW = "elbow to shoulder"
    SHOULDER = "shoulder and above"


# By zone from the floor up: close to the body, at arm's length.
FIGURES: dict[str, tuple[tuple[int, int], ...]] = {
    "men": ((10, 5), (20, 10), (25, 15), (20, 10), (10, 5)),
    "women": ((7, 3), (13, 7), (16, 10), (13, 7), (7, 3)),
}
# The guidance names 1 to 2, 5 to 8 and over 12 a minute; between those the next stricter share is taken (our choice).
OFTEN = ((Decimal("0.5"), 0), (Decimal(2), 30), (Decimal(8), 50))
MOST_OFTEN = 80


@dataclass(frozen=True, slots=True)
class Handling:
    """One lift as the filter sees it. `far`: the hands are at arm's length anywhere on the way."""

    start: Zone
    end: Zone
    far: bool = False
    figures: str = "women"
    twist: float = 0
    per_minute: Decimal = Decimal("0.2")
    not_for: frozenset[NotFor] = frozenset()


@dataclass(frozen=True, slots=True)
class Filtered:
    """What the filter leaves for one, two and three people, in kg, and the steps that made it."""

    one_kg: Decimal
    steps: tuple[str, ...]
    caution: str = CAUTION

    def team_kg(self, people: int) -> Decimal:
        share = team_kg([self.one_kg] * people)
        return Decimal(share.numerator) / share.denominator


def filtered(lift: Handling) -> Filtered:
    """The figure of the worst zone the hands pass, less what twisting and repeating take. Raises NoFigure."""
    refuse(lift.not_for - {NotFor.TEAM, NotFor.LONG_DAY}, "The filter")
    zones = list(Zone)
    low, high = sorted((zones.index(lift.start), zones.index(lift.end)))
    passed = range(low, high + 1)
    worst = min(passed, key=lambda at: FIGURES[lift.figures][at][lift.far])
    mass = Decimal(FIGURES[lift.figures][worst][lift.far])
    where = "at arm's length" if lift.far else "close to the body"
    steps = [f"{mass} kg: {zones[worst]}, {where}, the least of the zones the hands pass"]
    for less, why in ((twist_pct(lift.twist), "for twisting"), (often_pct(lift.per_minute), "for how often")):
        if less:
            mass = mass * (100 - less) / 100
            steps.append(f"less {less} % {why}: {mass.quantize(Decimal('0.1'))} kg")
    return Filtered(mass, tuple(steps))


def twist_pct(degrees: float) -> int:
    """What twisting takes off, in per cent."""
    return 20 if degrees > 90 else 10 if degrees > 45 else 0


def often_pct(per_minute: Decimal) -> int:
    """What repeating takes off, in per cent."""
    return next((share for most, share in OFTEN if per_minute <= most), MOST_OFTEN)
