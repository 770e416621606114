"""A rack from the side: which unit a thing sits in, and the height at which all of it balances. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import NamedTuple


class Racked(NamedTuple):
    """One unit in a rack: its lowest rack unit from the floor, how many it takes, its mass in kg; None: not said."""

    bottom: int | None
    units: int
    mass_kg: Decimal | None


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
