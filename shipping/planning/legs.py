"""Legs, vehicles, stacks and border lists as the rules read them."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import NamedTuple

from django.utils import timezone

from inventory.answers.loading import live
from inventory.folding import fold
from inventory.models import Holding, Item, Verb
from inventory.prepared import Asked, Prepared
from inventory.unchanged import kept
from shipping.boards import Phase, departure_day, moments_of, phase_at
from shipping.models import BorderLine, BorderList, Leg
from shipping.packing import facts
from shipping.packing.rules.borders import one_slip_apart
from shipping.planning.cases import proofs_of
from shipping.planning.rows import TOLD, Told

# Where a case stands on a deck: row, place across, tier from the deck up. "2.1.3", or "row 2 place 1 tier 3".
STAND = re.compile(r"^(?:row\s*)?(\d+)(?:\s*[./]\s*|\s+place\s+)(\d+)(?:\s*[./]\s*|\s+tier\s+)(\d+)$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Ride:
    """What the book says of a leg: did it leave, did it arrive, what stands where on its vehicle, what was ticked."""

    departed: datetime | None
    arrived: bool
    stands: Collection[facts.Stand]
    proofs: Mapping[str, facts.Proof]


def rides_of(legs: Collection[Leg], at: datetime) -> dict[int, Ride]:
    """Of each of these legs, by its key; queries grow with their vehicles, of which a show has few."""
    vehicles = {leg.vehicle_id for leg in legs if leg.vehicle_id}
    stands, proofs = _stands(vehicles), {vehicle: _proofs(vehicle, at) for vehicle in vehicles}
    moments = moments_of(legs, at)
    found = {}
    for leg in legs:
        departed, arrived = moments[leg.pk]
        is_there = phase_at(departed, arrived) == Phase.ARRIVED
        told_of = stands.get(leg.vehicle_id or 0, ()), proofs.get(leg.vehicle_id or 0, {})
        found[leg.pk] = Ride(departed[0] if departed else None, is_there, *told_of)
    return found


def leg_facts(leg: Leg, ride: Ride, case_ids: Collection[int], at: datetime) -> facts.Leg:
    return facts.Leg(
        id=leg.pk, name=f"{leg.from_place} to {leg.to_place}", mode=leg.mode, vehicle=_vehicle(leg.vehicle),
        passenger_aircraft=leg.passenger_aircraft, baggage=leg.as_baggage, crosses_border=leg.crosses_border,
        overnight=_overnight(leg), arrived=ride.arrived, holder=leg.driver,
        stands=tuple(one for one in ride.stands if one.case_id in case_ids), proofs=ride.proofs,
        departs_on=departure_day(leg, ride.departed, at),
    )  # fmt: skip


def _overnight(leg: Leg) -> bool | None:
    """Does a night fall between its planned ends? None while one of them is not planned."""
    if leg.departs_at is None or leg.arrives_at is None:
        return None
    return timezone.localdate(leg.departs_at) != timezone.localdate(leg.arrives_at)


def _vehicle(item: Item | None) -> facts.Vehicle | None:
    container = getattr(item.type, "container", None) if item else None
    if item is None or container is None:
        return None if item is None else facts.Vehicle(item.pk, str(item))
    return facts.Vehicle(item.pk, str(item), container.payload_kg, container.inner_length_mm, container.inner_width_mm)


# Asked of every vehicle that a page tells of: put together once.
STANDING = Prepared(
    lambda vehicles: Holding.objects.filter(place__item__in=vehicles).exclude(bay="").order_by("item_id")
    .values_list("place__item_id", "item_id", "bay"),
    vehicles=Asked.IDS,
)  # fmt: skip
TICKS = Prepared(
    lambda vehicles, at: live(at).filter(label__item__in=vehicles, verb=Verb.CHECKED).order_by("happened_at", "pk")
    .values_list(*TOLD),
    vehicles=Asked.TOLD_THINGS, at=Asked.MOMENT,
)  # fmt: skip
LAST_LOAD = Prepared(
    lambda vehicle, at: live(at).filter(place__item=vehicle, verb=Verb.LOADED).order_by("-happened_at", "-pk")
    .values_list("happened_at", "pk")[:1],
    vehicle=Asked.ID, at=Asked.MOMENT,
)  # fmt: skip


def _stands(vehicles: Collection[int]) -> dict[int, list[facts.Stand]]:
    """What stands where on each of these vehicles, as far as it was said when loading."""
    found: dict[int, list[facts.Stand]] = defaultdict(list)
    for vehicle, item, bay in STANDING(vehicles=vehicles):
        if where := STAND.match(bay.strip()):
            found[vehicle].append(facts.Stand(*(int(part) for part in where.groups()), item))
    return found


def _proofs(vehicle: int, at: datetime) -> dict[str, facts.Proof]:
    """What the driver ticked: `checked` entries of the vehicle since something was last loaded."""
    ticks = map(Told._make, TICKS(vehicles=[vehicle], at=at))
    return proofs_of(ticks, next(iter(LAST_LOAD(vehicle=vehicle, at=at)), None))


def border_facts(border: BorderList) -> facts.BorderList:
    return kept(("border", border.pk), None, lambda: _border_facts(BorderList.objects.get(pk=border.pk)))


class _Line(NamedTuple):
    """A line of a list as it is kept, with what the thing that it names says of itself."""

    line: int
    description: str
    item: int | None
    serial: str
    pieces: int
    mass_kg: Decimal | None
    value: Decimal | None
    currency: str
    origin: str
    owner_consents: bool
    item_serial: str | None
    owner: str | None
    is_ours: bool | None


LINES = Prepared(
    lambda lists: BorderLine.objects.filter(border_list__in=lists).order_by("line").values_list(
        "line", "description", "item_id", "serial", "pieces", "mass_kg", "value", "currency", "origin",
        "owner_consents", "item__serial", "item__owner__name", "item__owner__is_ours",
    ),
    lists=Asked.IDS,
)  # fmt: skip


def _border_facts(border: BorderList) -> facts.BorderList:
    lines = [_Line._make(row) for row in LINES(lists=[border.pk])]
    near = _near({line.serial for line in lines if line.item is None and line.serial})
    return facts.BorderList(
        border.pk, border.number, border.issued_at is not None, tuple(_line(line, near) for line in lines)
    )


def _line(line: _Line, near: Mapping[str, str]) -> facts.BorderLine:
    hired = line.owner if line.item is not None and line.owner and not line.is_ours else ""
    return facts.BorderLine(
        line.line, line.description, line.item, line.serial, line.item_serial or "", line.pieces, line.mass_kg,
        line.value, line.currency, line.origin, hired, line.owner_consents,
        near.get(line.serial, "") if line.item is None else "",
    )  # fmt: skip


def _near(serials: Collection[str]) -> dict[str, str]:
    """For a serial that is none of ours: one of ours that is one slip away."""
    if not serials:
        return {}
    lengths = {len(fold(serial)) for serial in serials}
    ours = [s for s in Item.objects.exclude(serial="").values_list("serial", flat=True) if len(fold(s)) in lengths]
    found = {}
    for serial in serials:
        close = (s for s in ours if fold(s) == fold(serial) or one_slip_apart(fold(s), fold(serial)))
        found[serial] = next(close, "")
    return found
