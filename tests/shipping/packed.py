"""A small Heron to try the rules on: a frame case, a drive box, rails, a vehicle and a leg."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from inventory.ledger import Fact, record
from inventory.models import Compartment, ContainerType, DriveSet, Grade, Item, Kind, Place, PlaceKind, Verb
from shipping.models import Consignment, ConsignmentCase, Leg, Show
from tests.factories import (
    IDA,
    T0,
    make_case,
    make_case_type,
    make_drive,
    make_item,
    make_place,
    make_set,
    make_system,
    make_type,
)

BOX = {"for_drives": True, "strict_order": True, "tare_kg": Decimal(5), "max_gross_kg": Decimal(20)}


def make_show(code: str = "FMC", at: datetime = T0, **over: Any) -> Show:
    days = {"leaves_at": -1, "starts_at": 1, "ends_at": 3, "back_at": 7}
    times = {name: at + timedelta(days=n) for name, n in days.items()}
    return Show.objects.get_or_create(code=code, defaults={"name": "Fjellmark Masters Chess", **times, **over})[0]


def make_leg(show: Show, cases: list[Item], *, vehicle: Item | None = None, **over: Any) -> Leg:
    number = Consignment.objects.count() + 1
    consignment = Consignment.objects.create(show=show, name=f"load {number}")
    for position, case in enumerate(cases):
        ConsignmentCase.objects.create(consignment=consignment, case=case, position=position + 1)
    return Leg.objects.create(
        consignment=consignment, position=1, vehicle=vehicle, from_place=make_place(),
        to_place=make_place("Fjellmark Hall", PlaceKind.VENUE), road=make_place(f"road {number}", PlaceKind.ROAD),
        **{"departs_at": T0 + timedelta(hours=12), **over},
    )  # fmt: skip


def make_vehicle(number: str = "Meadowrue", payload: int = 1150) -> Item:
    kind = make_case_type(
        f"van {payload}", kind=Kind.VEHICLE, payload_kg=payload, inner_length_mm=4200, inner_width_mm=1750
    )
    return make_item(kind, number=number)


def make_frame(**over: Any) -> Item:
    kind = make_type(
        "Ebbmark 6",
        "Orrinvale",
        kind=Kind.FRAME,
        rack_units=5,
        rack_depth_mm=600,
        mass_kg=31,
        needs_rails=True,
        supplies=2,
    )
    container, new = ContainerType.objects.get_or_create(item_type=kind)
    for position, label in enumerate("ABCDEF" if new else ""):
        Compartment.objects.create(container=container, kind="bay", label=label, position=position)
    return make_item(kind, **over)


def put(case: Item, *items: Item, bays: str = "", at: datetime = T0, verb: str = Verb.PACKED) -> None:
    """Put things into a case by scan, in slots given with spaces."""
    labels = bays.split() or [""] * len(items)
    facts = [Fact(verb, i, place=case.inside, bay=b, grade=Grade.SCAN) for i, b in zip(items, labels, strict=True)]
    record(facts, by=IDA, at=at)


def join(drive_set: DriveSet, *drives: Item, at: datetime = T0) -> None:
    facts = [
        Fact(Verb.JOINED, d, drive_set=drive_set, bay=b) for d, b in zip(drives, drive_set.bay_labels, strict=False)
    ]
    record(facts, by=IDA, at=at)


def stand(*things: Item, place: Place | None = None, at: datetime = T0) -> None:
    record([Fact(Verb.PLACED, thing, place=place or make_place()) for thing in things], by=IDA, at=at)


@dataclass
class Heron:
    """HER-03 holds HERON-1, three drives, in order; each weighs 0.7 kg."""

    box: Item
    drives: list[Item]
    set: DriveSet


def make_heron(number: str = "HER-03", letters: str = "A B C", name: str = "HERON-1", at: datetime = T0) -> Heron:
    box = make_case(number, make_case_type("drive box", slots="A B C D E F", pockets="pocket", **BOX))
    drive_set = make_set(name, bays=letters, host=make_system(name.split("-")[0].title()))
    drives = [make_drive(f"{number}{letter}71K", home_case=box, home_set=drive_set) for letter in letters.split()]
    type_ = drives[0].type
    type_.mass_kg = Decimal("0.7")
    type_.save()
    stand(box, at=at)
    join(drive_set, *drives, at=at)
    put(box, *drives, bays=letters, at=at)
    return Heron(box, drives, drive_set)
