"""A rack case drawn from the side: as it stands, and as it would balance lowest."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from django.utils.safestring import SafeString

from inventory.drawings.section import CaseSection, RackPiece, case_section
from shipping.packing import facts
from shipping.packing.balancing import CaseBalance
from shipping.packing.racks import Balance, balance_pct, bottom_of


def section_of(about: facts.Case, balanced: CaseBalance | None, limit_pct: Decimal) -> CaseSection:
    """The section of a rack case with its balance, its centre of mass and the height to stay below."""
    section = CaseSection(
        about.number, about.rack_units or 1, about.usable_depth_mm, _pieces(about), balance_limit=float(limit_pct) / 100
    )
    if balanced is None:
        return section
    height = balanced.contents_pct
    return _with_centre(replace(section, balance=None if height is None else float(height) / 100), balanced.whole)


def _with_centre(section: CaseSection, whole: Balance | None) -> CaseSection:
    """The section with the balance of the whole case on it, where that is known."""
    return section if whole is None else replace(
        section, centre=(whole.front_share, whole.height_share), tips=whole.tip_words
    )  # fmt: skip


def drawing_of_lowest(about: facts.Case, balanced: CaseBalance | None, limit_pct: Decimal) -> SafeString | str:
    """The section in the order that is proposed; nothing where none is."""
    if balanced is None or balanced.proposal is None:
        return ""
    proposal = balanced.proposal
    pieces = tuple(RackPiece(one.name, one.units, one.bottom, one.mass_kg, one.depth_mm) for one in proposal.units)
    height = balance_pct(about.rack_units or 1, proposal.units)
    section = CaseSection(
        about.number, about.rack_units or 1, about.usable_depth_mm, pieces, balance_limit=float(limit_pct) / 100,
        balance=None if height is None else float(height) / 100,
    )  # fmt: skip
    return case_section(_with_centre(section, proposal.balance))


def _pieces(about: facts.Case) -> tuple[RackPiece, ...]:
    units = [one for one in about.pieces if one.rack_units and one.within is None]
    return tuple(
        RackPiece(
            one.name, one.rack_units or 1, bottom_of(one.bay), one.mass_kg, one.rack_depth_mm, bool(one.needs_rails)
        )
        for one in units
    )  # fmt: skip
