"""The one next thing to do with a case in front of somebody: load it, take it off, or nothing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from inventory.models import Holding, Item, Kind
from shipping import boards
from shipping.boards import Phase
from shipping.models import ConsignmentCase, Leg

DEPTH = 6  # drive, frame, case, vehicle, and room to spare


class Do(StrEnum):
    LOAD = "load"
    ARRIVE = "arrive"
    UNLOAD = "unload"
    ON_BOARD = "on board"
    NOTHING = ""


@dataclass(frozen=True, slots=True)
class NextStep:
    do: Do
    leg: Leg | None = None
    sentence: str = ""


def next_step(item: Item, at: datetime, reference: str | None = None) -> NextStep:
    """What the first unfinished leg of this case asks for; `reference` keeps to one show."""
    legs = boards.legs().filter(consignment__cases__case=item, consignment__show__cancelled_at=None)
    legs = legs.filter(consignment__show__back_at__gte=at) if reference is None else legs
    legs = legs.filter(consignment__show__code=reference) if reference is not None else legs
    holding = Holding.objects.filter(item=item).select_related("place__item", "entry").first()
    for leg in legs.order_by("departs_at", "position", "pk"):
        step = _of_leg(item, leg, holding, at)
        if step.do:
            return step
    return NextStep(Do.NOTHING)


def _of_leg(item: Item, leg: Leg, holding: Holding | None, at: datetime) -> NextStep:
    phase = boards.phase_of(leg, at)
    vehicle = str(leg.vehicle or "") or leg.carrier or "the carrier"
    on = boards.is_on(holding, leg)
    if phase == Phase.LOADING and on:
        return NextStep(Do.ON_BOARD, leg, f"{item} is on {vehicle}.")
    if phase == Phase.LOADING:
        return NextStep(Do.LOAD, leg, f"{item} goes on {vehicle}, to {leg.to_place}.")
    if phase == Phase.ON_THE_ROAD and on:
        return NextStep(Do.ARRIVE, leg, f"{item} is on the road to {leg.to_place}, on {vehicle}.")
    if phase == Phase.ARRIVED and on:
        return NextStep(Do.UNLOAD, leg, f"{vehicle} has arrived at {leg.to_place}; count {item} off.")
    return NextStep(Do.NOTHING)


def on_show(item: Item, reference: str) -> bool:
    """Is this a case of the show's consignments, or in one of them, or at home in one?"""
    cases = set(ConsignmentCase.objects.filter(consignment__show__code=reference).values_list("case_id", flat=True))
    if not cases:
        return False
    around = {item.pk, item.home_case_id}
    current: int | None = item.pk
    for _level in range(DEPTH):
        current = Holding.objects.filter(item=current).values_list("place__item", flat=True).first()
        if current is None:
            break
        around.add(current)
    return bool(around & cases) or _is_its_vehicle(item, reference)


def _is_its_vehicle(item: Item, reference: str) -> bool:
    vehicle = item.type.kind == Kind.VEHICLE
    return vehicle and Leg.objects.filter(vehicle=item, consignment__show__code=reference).exists()
