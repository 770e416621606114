"""What goes on one vehicle, from the headboard to the door, and who counted it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from inventory.models import Item
from inventory.papers import Draft, Form, moment
from shipping.documents.around import Around
from shipping.documents.case_label import POUND_KG, mass_words
from shipping.documents.stowage import code_of, computed_kg
from shipping.models import ConsignmentCase, Leg
from shipping.packing.lifting import band

FORM = Form("truck-sheet", "truck load sheet", "leg", ("a4", "letter"))


@dataclass(frozen=True, slots=True)
class LoadLine:
    key: str
    label: str
    row: str
    colour: str
    code: str
    size: str
    kg: str
    lb: str
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


def size_words(item: Item) -> str:
    """Length, width and height in centimetres, rounded up: what a loader judges a gap by; for a column so headed."""
    sides = (item.type.length_mm, item.type.width_mm, item.type.height_mm)
    return "not known" if None in sides else "×".join(str(-(-side // 10)) for side in sides if side)


def on_top_words(limit: Decimal | None) -> str:
    if limit is None:
        return "ask"
    return "nothing" if limit == 0 else f"{limit.normalize():f} kg"


def lift_words(mass: Decimal | None) -> str:
    """The lift band in as few words as a column has room for."""
    people = band(mass).people
    if mass is None:
        return "weigh it"
    return f"{people} {'person' if people == 1 else 'people'}" if people else "wheels, aid"


def _whole(value: Decimal | None) -> str:
    return "?" if value is None else f"{value:.0f}"


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
                code=code_of(case), size=size_words(case), kg=_whole(mass), lb=_whole(mass and mass / POUND_KG),
                running=f"{running:.0f}",
                lift=lift_words(mass), on_top=on_top_words(case.type.max_on_top_kg), room=trip.to_room,
                first_off=trip.first_off,
            )
        )  # fmt: skip
    return tuple(lines)


def _plan(at: datetime | None) -> str:
    return moment(at) if at else "not planned"


def build(leg: Leg, medium: str, around: Around) -> Draft:
    """One sheet per leg. Masses are computed from what is entered; the plate and a weighbridge decide."""
    show, vehicle = leg.consignment.show, leg.vehicle
    trips = [trip for trip in around.trips(show) if trip.consignment_id == leg.consignment_id]
    masses = {trip.case_id: computed_kg(trip.case, around.rows(trip.case, show)) for trip in trips}
    rows = {trip.case_id: around.row_on(vehicle, trip.case) for trip in trips}
    container = getattr(vehicle.type, "container", None) if vehicle else None
    known = [mass for mass in masses.values() if mass is not None]
    body = TruckSheet(
        leg=f"{leg.from_place} to {leg.to_place}", show=str(leg.consignment),
        vehicle=str(vehicle) if vehicle else f"{leg.mode}, waybill {leg.waybill or 'not known'}",
        plate=vehicle.registration if vehicle else "", carrier=leg.carrier, driver=leg.driver,
        phone=leg.driver_phone, departs=_plan(leg.departs_at), arrives=_plan(leg.arrives_at),
        lines=_lines(in_load_order(trips, rows), rows, masses), cases=len(trips),
        total=mass_words(sum(known, Decimal(0))), unweighed=len(masses) - len(known),
        payload=f"{container.payload_kg:.0f} kg" if container and container.payload_kg else "not entered",
    )  # fmt: skip
    return Draft(FORM, medium, f"leg {leg.pk}", f"Truck load sheet {leg}", body, show.code)
