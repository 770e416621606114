"""A rack case from the side: where each unit sits, where the whole balances, when it tips, what order is lowest. Pure.

One rack unit is 44.45 mm (EIA/ECA-310-E, IEC 60297-3-100; from secondary pages). Lengths in mm, masses in kg.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import atan2, degrees
from typing import NamedTuple

UNIT_MM = Decimal("44.45")
PANEL_LESS_MM = Decimal("0.79")
HOLES_MM = (Decimal("6.35"), Decimal("22.225"), Decimal("38.1"))
WHEELS_IN_MM = Decimal(50)
TIP_CAUTION = (
    "Reckoned from entered masses and sizes for a case that stands still on level ground: the shell's mass in its "
    "middle, each unit's in its own middle, wheels 50 mm in from the edges. A ramp, a kerb, a push or an open lid "
    "tips it sooner. A guide, not an approval; follow local rules and the person in charge."
)


class Racked(NamedTuple):
    """One unit in a rack: its lowest rack unit from the floor, how many it takes, its mass in kg; None: not said."""

    bottom: int | None
    units: int
    mass_kg: Decimal | None
    depth_mm: int | None = None
    name: str = ""


def space_mm(units: int) -> Decimal:
    """The height that so many rack units take."""
    return units * UNIT_MM


def panel_mm(units: int) -> Decimal:
    """The height of a front panel of so many rack units: 1/32 in less than its space (from memory)."""
    return space_mm(units) - PANEL_LESS_MM


def holes_mm(units: int) -> list[Decimal]:
    """The heights of the mounting holes above the lowest unit's line."""
    return [unit * UNIT_MM + hole for unit in range(units) for hole in HOLES_MM]


def bottom_of(slot: str) -> int | None:
    """The lowest rack unit that a slot called U3 or 3 stands for."""
    text = slot.upper().removeprefix("U").strip()
    return int(text) if text.isdecimal() else None


def balance_pct(rack_units: int, racked: Sequence[Racked]) -> Decimal | None:
    """Height of the centre of the contents' mass, in per cent of the rack opening; None while something is not said."""
    moment = total = Decimal(0)
    for one in racked:
        if one.bottom is None or one.mass_kg is None:
            return None
        moment += one.mass_kg * (one.bottom - 1 + Decimal(one.units) / 2)
        total += one.mass_kg
    return moment / total / rack_units * 100 if total else Decimal(0)


@dataclass(frozen=True, slots=True)
class RackCase:
    """A rack case from outside, in mm and kg; None: nobody has said. `loose_kg` lies in it and is not bolted in."""

    rack_units: int
    depth_mm: int | None = None
    width_mm: int | None = None
    height_mm: int | None = None
    usable_depth_mm: int | None = None
    tare_kg: Decimal | None = None
    loose_kg: Decimal | None = Decimal(0)
    wheels: bool = False


@dataclass(frozen=True, slots=True)
class Balance:
    """The centre of mass of the whole case above the ground and behind its front face, in mm, and when it tips."""

    height_mm: float
    from_front_mm: float
    height_share: float
    front_share: float
    tips: tuple[tuple[str, float], ...]

    @property
    def first(self) -> tuple[str, float]:
        """The way it tips first, and at how many degrees."""
        return min(self.tips, key=lambda tip: tip[1])

    @property
    def tip_words(self) -> str:
        return ", ".join(f"{way} at {angle:.0f}°" for way, angle in sorted(self.tips, key=lambda tip: tip[1]))


def sides(length_mm: int | None, width_mm: int | None) -> tuple[int | None, int | None]:
    """Depth and width of a rack case from its two floor sides: the longer one is taken as its depth."""
    if length_mm is None or width_mm is None:
        return None, None
    return max(length_mm, width_mm), min(length_mm, width_mm)


def balance(case: RackCase, racked: Sequence[Racked]) -> Balance | None:
    """Where the whole case balances and tips; None while a mass, a place or an outer size is not said.

    Taken: the rack opening in the middle of the height, the front rail as far behind the front face as the usable
    depth leaves at each end, everything in the middle from side to side.
    """
    if case.depth_mm is None or case.width_mm is None or case.height_mm is None or case.tare_kg is None:
        return None
    if case.loose_kg is None or any(one.bottom is None or one.mass_kg is None for one in racked):
        return None
    middle = Decimal(case.depth_mm) / 2, Decimal(case.height_mm) / 2
    points = [(case.tare_kg + case.loose_kg, *middle), *(_point(one, case) for one in racked)]
    total = sum((mass for mass, _, _ in points), Decimal(0))
    if not total:
        return None
    along = float(sum(mass * x for mass, x, _ in points) / total)
    up = float(sum(mass * y for mass, _, y in points) / total)
    return Balance(up, along, up / case.height_mm, along / case.depth_mm, _tips(case, along, up))


def _point(one: Racked, case: RackCase) -> tuple[Decimal, Decimal, Decimal]:
    """The mass of one unit, how far behind the front face it acts, and how high."""
    depth = Decimal(case.depth_mm or 0)
    rail = (depth - (case.usable_depth_mm or depth)) / 2
    floor = (Decimal(case.height_mm or 0) - space_mm(case.rack_units)) / 2
    behind = rail + Decimal(one.depth_mm) / 2 if one.depth_mm is not None else depth / 2
    return one.mass_kg or Decimal(0), behind, floor + ((one.bottom or 1) - 1 + Decimal(one.units) / 2) * UNIT_MM


def _tips(case: RackCase, along: float, up: float) -> tuple[tuple[str, float], ...]:
    """The lean at which the centre of mass stands over each edge, or over the wheels set in from it."""
    inset = float(WHEELS_IN_MM) if case.wheels else 0.0
    reach = {
        "sideways": (case.width_mm or 0) / 2,
        "to the front": along,
        "to the back": (case.depth_mm or 0) - along,
    }
    return tuple((way, max(0.0, degrees(atan2(far - inset, up)))) for way, far in reach.items())


def heaviest_low(racked: Sequence[Racked]) -> list[Racked]:
    """The same units packed from the floor in the order whose balance is lowest: most mass for each rack unit below.

    Exchanging two neighbours that stand the other way round can only lower the balance, so no order is lower. Empty
    while a mass is not said.
    """
    if any(one.mass_kg is None for one in racked):
        return []
    found, bottom = [], 1
    for one in sorted(racked, key=lambda one: -((one.mass_kg or Decimal(0)) / max(1, one.units))):
        found.append(one._replace(bottom=bottom))
        bottom += one.units
    return found
