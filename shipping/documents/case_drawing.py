"""What the drawing on a case list shows: the units of a rack case from the side, or the slots of a hand case."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from inventory.drawings.section import kilograms
from inventory.models import Item
from shipping.documents.stowage import Stowed
from shipping.packing.racks import Racked, balance_pct, bottom_of


@dataclass(frozen=True, slots=True)
class SlotWords:
    key: str
    label: str
    words: str
    mass: str
    state: str


@dataclass(frozen=True, slots=True)
class RackUnit:
    """One unit of a rack. `bottom` is its lowest rack unit from the floor; None: nobody has said."""

    key: str
    words: str
    units: int
    bottom: int | None
    mass_kg: Decimal | None
    depth_mm: int | None
    on_rails: bool


@dataclass(frozen=True, slots=True)
class Rack:
    """A rack case from the side. `balance_pct` is the height its contents balance at; None while that is not known."""

    rack_units: int
    usable_depth_mm: int | None
    units: tuple[RackUnit, ...]
    balance_pct: int | None


def rack_of(case: Item, rows: Sequence[Stowed]) -> Rack | None:
    container = getattr(case.type, "container", None)
    if container is None or not container.rack_units:
        return None
    units = tuple(_unit(row) for row in rows if row.here and row.depth == 0 and row.item.type.rack_units)
    racked = [Racked(unit.bottom, unit.units, unit.mass_kg) for unit in units]
    height = balance_pct(container.rack_units, racked) if units else None
    return Rack(container.rack_units, container.usable_depth_mm, units, None if height is None else round(height))


def _unit(row: Stowed) -> RackUnit:
    kind = row.item.type
    return RackUnit(
        str(row.item.id), row.item.name or str(kind), kind.rack_units or 1, bottom_of(row.bay),
        kind.mass_kg, kind.rack_depth_mm, bool(kind.needs_rails),
    )  # fmt: skip


def slots_of(case: Item, rows: Sequence[Stowed]) -> tuple[SlotWords, ...]:
    """The compartments of the case in their order, each with what lies in it now."""
    container = getattr(case.type, "container", None)
    if container is None or container.rack_units:
        return ()
    held: dict[str, list[Stowed]] = {}
    for row in rows:
        if row.here and row.depth == 0:
            held.setdefault(row.bay, []).append(row)
    return tuple(_slot(one.label, held.get(one.label, [])) for one in container.compartments.all())


def _slot(label: str, held: Sequence[Stowed]) -> SlotWords:
    if not held:
        return SlotWords(label, label, "", "", "empty")
    first = held[0].item
    words = first.called if len(held) == 1 else f"{len(held)} things"
    mass = kilograms(first.type.mass_kg) if len(held) == 1 else ""
    return SlotWords(label, label, words, mass, "" if all(row.expected for row in held) else "wrong")
