"""What a rack case's facts say of its balance, and what setting the heaviest lowest would gain. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from shipping.packing.facts import Case, Piece
from shipping.packing.racks import (
    TIP_CAUTION,
    Balance,
    RackCase,
    Racked,
    balance,
    balance_pct,
    bottom_of,
    heaviest_low,
    sides,
)

LEAST_GAIN = 0.5  # degrees: below that nobody unbolts anything


@dataclass(frozen=True, slots=True)
class Proposal:
    """The units in their lowest order from the floor, and the degrees of lean that gains. `gain`: None: not known."""

    units: tuple[Racked, ...]
    gain: float | None
    balance: Balance | None

    @property
    def sentence(self) -> str:
        order = ", ".join(f"{one.name} in {place_words(one)}" for one in self.units)
        gain = f"It would tip {self.gain:.1f}° later. " if self.gain is not None else ""
        return f"{gain}From the floor up: {order}. Keep the free units that a maker asks for between them."


@dataclass(frozen=True, slots=True)
class CaseBalance:
    """`contents_pct` is the height of the contents' balance in the rack opening; `whole` is of the case as lifted."""

    units: tuple[Racked, ...]
    contents_pct: Decimal | None
    whole: Balance | None
    lacks: tuple[str, ...]
    proposal: Proposal | None
    caution: str = TIP_CAUTION

    @property
    def sentence(self) -> str:
        if self.whole is None:
            return f"Where it balances is not known: {', '.join(self.lacks[:4])}."
        return (
            f"The whole case balances {self.whole.height_mm:.0f} mm above the ground, {self.whole.height_share:.0%} of "
            f"its height. It tips {self.whole.tip_words} of lean."
        )


def place_words(one: Racked) -> str:
    if one.bottom is None:
        return "no unit said"
    top = one.bottom + one.units - 1
    return f"U{one.bottom}" if one.units < 2 else f"U{one.bottom} to U{top}"


def racked_in(case: Case) -> list[Racked]:
    """The units of a rack case, each with the mass of what is fitted in it."""
    return [
        Racked(bottom_of(unit.bay), unit.rack_units or 0, _with_fitted(unit, case), unit.rack_depth_mm, unit.name)
        for unit in _units(case)
    ]


def _units(case: Case) -> list[Piece]:
    return [piece for piece in case.pieces if piece.rack_units and piece.within is None]


def _sum(masses: Sequence[Decimal | None]) -> Decimal | None:
    known = [mass for mass in masses if mass is not None]
    return sum(known, Decimal(0)) if len(known) == len(masses) else None


def _with_fitted(unit: Piece, case: Case) -> Decimal | None:
    return _sum([piece.total_kg for piece in case.pieces if piece is unit or piece.within == unit.id])


def rack_case(case: Case) -> RackCase:
    """The shell of a rack case, with what lies in it and is not bolted in."""
    units = {unit.id for unit in _units(case)}
    loose = [piece.total_kg for piece in case.pieces if piece.id not in units and piece.within not in units]
    depth, width = sides(case.length_mm, case.width_mm)
    return RackCase(
        case.rack_units or 0, depth, width, case.height_mm, case.usable_depth_mm, case.tare_kg, _sum(loose), case.wheels
    )


def balance_of(case: Case) -> CaseBalance | None:
    """How a rack case balances, and whether another order would be lower. None for what is no rack case, or empty."""
    units = racked_in(case)
    if not case.rack_units or not units:
        return None
    shell = rack_case(case)
    whole = balance(shell, units)
    return CaseBalance(
        tuple(units), balance_pct(case.rack_units, units), whole, tuple(_lacks(shell, units)),
        _proposal(shell, units, whole),
    )  # fmt: skip


def _lacks(shell: RackCase, units: Sequence[Racked]) -> list[str]:
    said = [f"no mass for {one.name}" for one in units if one.mass_kg is None]
    said += [f"no rack unit said for {one.name}" for one in units if one.bottom is None]
    said += ["no mass for something that lies in it"] if shell.loose_kg is None else []
    said += ["no mass of the empty case"] if shell.tare_kg is None else []
    return said + ([] if shell.depth_mm and shell.height_mm else ["no outer size of the case"])


def _proposal(shell: RackCase, units: Sequence[Racked], whole: Balance | None) -> Proposal | None:
    """Another order, where it gains; where nobody said what sits where, simply the lowest one."""
    lowest = heaviest_low(units)
    if len(lowest) < 2 or sum(one.units for one in lowest) > shell.rack_units:
        return None
    after = balance(shell, lowest)
    if any(one.bottom is None for one in units):
        return Proposal(tuple(lowest), None, after)
    gain = after.first[1] - whole.first[1] if after and whole else None
    return Proposal(tuple(lowest), gain, after) if gain is not None and gain >= LEAST_GAIN else None
