"""What goes on one vehicle, in the order it is loaded from the headboard to the door, and who counted it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from inventory.drawings.floor import Floor
from inventory.papers import Draft, Form, moment
from shipping.decks import Drawn, drawn_for, stops_of, together
from shipping.documents.around import Around
from shipping.documents.stowage import POUND_KG, Gross, mass_words, size_words
from shipping.models import ConsignmentCase, Leg
from shipping.packing.lifting import Band

FORM = Form("truck-sheet", "truck load sheet", "leg", ("a4", "letter"))
FULL_SIZE, SMALLER = 16, 24  # lines that fit one page at 14 pt, and at 10 pt; more go on to a next page


@dataclass(frozen=True, slots=True)
class LoadLine:
    """One case. `turn` counts the order of loading; `stop` is where it gets off, when there are several."""

    key: str
    turn: int
    label: str
    row: str
    stop: str
    colour: str
    code: str
    size: str
    kg: str
    lb: str
    weighed: bool
    running: str
    lift: str
    on_top: str
    room: str
    seal: str
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
    stops: tuple[str, ...]
    lines: tuple[LoadLine, ...]
    cases: int
    total: str
    weighed: int
    payload: str
    unweighed: int
    size: str
    floor: Floor | None = None
    floor_words: str = ""
    floor_advice: tuple[str, ...] = ()


def on_top_words(limit: Decimal | None) -> str:
    if limit is None:
        return "ask"
    return "nothing" if limit == 0 else f"{limit.normalize():f} kg"


def lift_words(lift: Band, mass: Decimal | None) -> str:
    """The lift band in as few words as a column has room for."""
    if mass is None:
        return "weigh it"
    return f"{lift.people} {'person' if lift.people == 1 else 'people'}" if lift.people else "wheels, aid"


def _whole(value: Decimal | None) -> str:
    return "?" if value is None else f"{value:.0f}"


@dataclass(frozen=True, slots=True)
class Aboard:
    """One case as it travels on a vehicle: its place in its consignment, its leg, its row and its mass."""

    trip: ConsignmentCase
    leg: Leg
    stop: int
    row: str
    gross: Gross


def in_load_order(aboard: Sequence[Aboard]) -> list[Aboard]:
    """Rows as loaded, else the last stop first and its first-off group last: first needed, nearest the door."""
    return sorted(aboard, key=lambda one: (_rank(one.row), -one.stop, one.trip.first_off, one.trip.position))


def _rank(row: str) -> tuple[int, int, str]:
    """Rows as numbers where they are; cases without a row go after them."""
    digits = "".join(letter for letter in row.split(".")[0] if letter.isdecimal())
    return (0, int(digits), row) if digits else (1, 0, "~")


def _aboard(legs: Sequence[Leg], around: Around, drawn: Drawn | None) -> list[Aboard]:
    """Each case with the row it was loaded in, or is planned for."""
    stops, show = stops_of(legs), legs[0].consignment.show
    by_consignment = {leg.consignment_id: leg for leg in legs}
    planned = dict(drawn.places) if drawn else {}
    return [
        Aboard(
            trip, leg, stops.index(str(leg.to_place)),
            around.row_on(leg.vehicle, trip.case) or planned.get(trip.case_id, ""),
            around.gross(trip.case, around.rows(trip.case, show)),
        )
        for trip in around.trips(show)
        if (leg := by_consignment.get(trip.consignment_id))
    ]  # fmt: skip


def _lines(aboard: Sequence[Aboard], stops: Sequence[str], around: Around) -> tuple[LoadLine, ...]:
    lines, running = [], Decimal(0)
    for turn, one in enumerate(aboard, 1):
        running += one.gross.kg or 0
        lines.append(_line(one, turn, running, stops, around))
    return tuple(lines)


def _line(one: Aboard, turn: int, running: Decimal, stops: Sequence[str], around: Around) -> LoadLine:
    case, mass, system = one.trip.case, one.gross.kg, one.trip.case.home_system
    return LoadLine(
        key=str(case.id), turn=turn, label=str(case), row=one.row, colour=system.colour if system else "",
        stop=f"{one.stop + 1}" if len(stops) > 1 else "", code=case.code, size=size_words(case),
        kg=_whole(mass), lb=_whole(mass and mass / POUND_KG), weighed=one.gross.weighed is not None,
        running=f"{running:.0f}", lift=lift_words(around.lift(mass, one.leg), mass),
        on_top=on_top_words(case.type.max_on_top_kg), room=one.trip.to_room, seal=around.seal(case),
        first_off=one.trip.first_off,
    )  # fmt: skip


def _plan(at: datetime | None) -> str:
    return moment(at) if at else "not planned"


def build(leg: Leg, medium: str, around: Around) -> Draft:
    """One sheet a vehicle: all that it carries from this place. The plate and a weighbridge decide, not these sums."""
    show, vehicle = leg.consignment.show, leg.vehicle
    legs = together(leg, around)
    drawn = drawn_for(legs, around)
    stops, aboard = stops_of(legs), in_load_order(_aboard(legs, around, drawn))
    container = getattr(vehicle.type, "container", None) if vehicle else None
    known = [one.gross.kg for one in aboard if one.gross.kg is not None]
    size = "full" if len(aboard) <= FULL_SIZE else "smaller" if len(aboard) <= SMALLER else "long"
    body = TruckSheet(
        leg=f"{leg.from_place} to {', '.join(stops)}", show=" + ".join(str(one.consignment) for one in legs),
        vehicle=str(vehicle) if vehicle else f"{leg.mode}, waybill {leg.waybill or 'not known'}",
        plate=vehicle.registration if vehicle else "", carrier=leg.carrier, driver=leg.driver,
        phone=leg.driver_phone, departs=_plan(leg.departs_at), arrives=_plan(leg.arrives_at),
        stops=tuple(stops) if len(stops) > 1 else (), lines=_lines(aboard, stops, around), cases=len(aboard),
        total=mass_words(sum(known, Decimal(0))), unweighed=len(aboard) - len(known),
        weighed=sum(one.gross.weighed is not None for one in aboard), size=size,
        payload=f"{container.payload_kg:.0f} kg" if container and container.payload_kg else "not entered",
        floor=drawn.floor if drawn else None, floor_words=drawn.words if drawn else "",
        floor_advice=drawn.advice if drawn else (),
    )  # fmt: skip
    return Draft(FORM, medium, f"leg {leg.pk}", f"Truck load sheet {leg}", body, show.code)
