"""What goes on one vehicle, from the headboard to the door, and who counted it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from inventory.models import Holding, Item
from inventory.papers import Draft, Form, moment
from shipping.documents.case_label import mass_words
from shipping.documents.packing_list import travelling
from shipping.documents.stowage import code_of, computed_kg, stowed
from shipping.models import ConsignmentCase, Leg
from shipping.packing.lifting import CAUTION, band

FORM = Form("truck-sheet", "truck load sheet", "leg", ("a4", "letter"))


@dataclass(frozen=True, slots=True)
class LoadLine:
    key: str
    label: str
    row: str
    colour: str
    code: str
    size: str
    gross: str
    running: str
    lift: str
    on_top: str
    room: str
    first_off: bool


@dataclass(frozen=True, slots=True)
class TruckSheet:
    leg: str
    show: str
    vehicle: str
    plate: str
    carrier: str
    driver: str
    phone: str
    departs: str
    arrives: str
    lines: tuple[LoadLine, ...]
    cases: int
    total: str
    payload: str
    unweighed: int
    guide: str


def size_words(item: Item) -> str:
    """Length, width and height in centimetres, rounded up: what a loader judges a gap by."""
    sides = (item.type.length_mm, item.type.width_mm, item.type.height_mm)
    return "size not known" if None in sides else "×".join(str(-(-side // 10)) for side in sides if side) + " cm"


def on_top_words(limit: Decimal | None) -> str:
    if limit is None:
        return "ask"
    return "nothing on top" if limit == 0 else f"{limit.normalize():f} kg at most"


def _rows_on(leg: Leg, cases: list[Item]) -> dict[int, str]:
    """The row each case was loaded in, as scanned."""
    if leg.vehicle is None:
        return {}
    held = Holding.objects.filter(item__in=cases, place__item=leg.vehicle)
    return {holding.item_id: holding.bay for holding in held}


def in_load_order(trips: list[ConsignmentCase], rows: dict[int, str]) -> list[ConsignmentCase]:
    """Rows as loaded; without a row, the last one needed goes on first and the first-off group stands by the door."""
    return sorted(trips, key=lambda trip: (rows.get(trip.case_id) or "~", trip.first_off, trip.position))


def _lines(
    trips: list[ConsignmentCase], rows: dict[int, str], masses: dict[int, Decimal | None]
) -> tuple[LoadLine, ...]:
    lines, running = [], Decimal(0)
    for trip in trips:
        case, mass = trip.case, masses[trip.case_id]
        running += mass or 0
        system = case.home_system
        lines.append(
            LoadLine(
                key=str(case.id), label=str(case), row=rows.get(case.id, ""), colour=system.colour if system else "",
                code=code_of(case), size=size_words(case), gross=mass_words(mass), running=f"{running:.0f} kg",
                lift=band(mass).words, on_top=on_top_words(case.type.max_on_top_kg), room=trip.to_room,
                first_off=trip.first_off,
            )
        )  # fmt: skip
    return tuple(lines)


def _plan(at: datetime | None) -> str:
    return moment(at) if at else "not planned"


def build(leg: Leg, medium: str, at: datetime) -> Draft:
    """One sheet per leg. Masses are computed from what is entered; the plate and a weighbridge decide."""
    show = leg.consignment.show
    trips = [trip for trip in travelling(show) if trip.consignment_id == leg.consignment_id]
    cases = [trip.case for trip in trips]
    held = stowed(cases, show)
    masses = {case.id: computed_kg(case, held[case.id]) for case in cases}
    rows = _rows_on(leg, cases)
    container = getattr(leg.vehicle.type, "container", None) if leg.vehicle else None
    known = [mass for mass in masses.values() if mass is not None]
    body = TruckSheet(
        leg=f"{leg.from_place} to {leg.to_place}", show=str(leg.consignment),
        vehicle=str(leg.vehicle) if leg.vehicle else f"{leg.mode}, waybill {leg.waybill or 'not known'}",
        plate=leg.vehicle.registration if leg.vehicle else "", carrier=leg.carrier, driver=leg.driver,
        phone=leg.driver_phone, departs=_plan(leg.departs_at), arrives=_plan(leg.arrives_at),
        lines=_lines(in_load_order(trips, rows), rows, masses), cases=len(cases),
        total=mass_words(sum(known, Decimal(0))),
        payload=f"{container.payload_kg:.0f} kg" if container and container.payload_kg else "not entered",
        unweighed=len(masses) - len(known), guide=CAUTION,
    )  # fmt: skip
    return Draft(FORM, medium, f"leg {leg.pk}", f"Truck load sheet {leg}", body, show.code)
