"""What the drawing on a case list shows: the units of a rack case from the side, or the slots of a hand case."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from inventory.drawings.section import kilograms
from inventory.models import Item
from shipping.documents.stowage import Stowed, computed_kg
from shipping.packing.racks import TIP_CAUTION, RackCase, Racked, balance, balance_pct, bottom_of, sides


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
    """A rack case from the side. `balance_pct` is the height its contents balance at; None while that is not known.

    `limit_pct` is the height to stay below. `centre_pct`: the centre of mass of the whole case, in per cent of its
    depth from the front and of its height; `tips` says at what lean it tips.
    """

    rack_units: int
    usable_depth_mm: int | None
    units: tuple[RackUnit, ...]
    balance_pct: int | None
    limit_pct: int
    centre_pct: tuple[int, int] | None
    tips: str
    caution: str


def rack_of(case: Item, rows: Sequence[Stowed], limit_pct: Decimal) -> Rack | None:
    container = getattr(case.type, "container", None)
    if container is None or not container.rack_units:
        return None
    bolted = _with_fitted(rows)
    units = tuple(_unit(row) for row, _ in bolted)
    racked = [Racked(bottom_of(row.bay), row.item.type.rack_units or 1, mass, row.item.type.rack_depth_mm)
              for row, mass in bolted]  # fmt: skip
    height = balance_pct(container.rack_units, racked) if units else None
    whole = balance(_shell(case, rows, bolted), racked) if units else None
    return Rack(
        container.rack_units, container.usable_depth_mm, units, None if height is None else round(height),
        round(limit_pct), None if whole is None else (round(whole.front_share * 100), round(whole.height_share * 100)),
        whole.tip_words if whole else "", TIP_CAUTION if whole else "",
    )  # fmt: skip


def _with_fitted(rows: Sequence[Stowed]) -> list[tuple[Stowed, Decimal | None]]:
    """Each unit of the rack with its mass in kg, what is fitted in it included: those rows come right after it."""
    found: list[tuple[Stowed, Decimal | None]] = []
    fits = False
    for row in rows:
        if row.depth == 0:
            fits = row.here and bool(row.item.type.rack_units)
            if fits:
                found.append((row, _mass(row)))
        elif fits:
            unit, so_far, more = *found[-1], _mass(row)
            found[-1] = (unit, None if so_far is None or more is None else so_far + more)
    return found


def _mass(row: Stowed) -> Decimal | None:
    mass = row.item.type.mass_kg
    return None if mass is None else mass * row.item.quantity


def _shell(case: Item, rows: Sequence[Stowed], bolted: Sequence[tuple[Stowed, Decimal | None]]) -> RackCase:
    """The case around its units. What lies in it loose is what all weighs less the shell and the units."""
    kind, container = case.type, case.type.container
    gross = computed_kg(case, rows)
    masses = [mass for _, mass in bolted]
    loose = None
    if gross is not None and None not in masses:
        loose = gross - container.tare_kg - sum((mass for mass in masses if mass is not None), Decimal(0))
    return RackCase(
        container.rack_units, *sides(kind.length_mm, kind.width_mm), kind.height_mm, container.usable_depth_mm,
        container.tare_kg, loose, container.wheels,
    )  # fmt: skip


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
