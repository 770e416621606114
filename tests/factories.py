"""Plain makers of things with sane defaults: make_item(serial="71B04K")."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from typing import Any

from inventory import passes
from inventory.access import token_hash
from inventory.ledger import Witness
from inventory.models import (
    Compartment,
    ContainerType,
    DayPass,
    Device,
    DriveSet,
    Item,
    ItemType,
    Kind,
    Organisation,
    Place,
    PlaceKind,
    Role,
    System,
)
from inventory.registering import register
from shipping.models import Consignment, ConsignmentCase, Leg, Show

T0 = datetime(2026, 3, 14, 12, 0, tzinfo=UTC)
IDA = Witness("Ida Penrake", Role.KIT_MANAGER)
ANA = Witness("Ana Rell", Role.ROAD_LEAD)


def make_owner(name: str = "Lanternfold Field Pictures", **over: Any) -> Organisation:
    return Organisation.objects.get_or_create(name=name, defaults={"is_ours": name.startswith("Lanternfold"), **over})[
        0
    ]


def make_type(name: str = "Pane 24", maker: str = "Kittiwade", **over: Any) -> ItemType:
    return ItemType.objects.get_or_create(
        key=ItemType.make_key(maker, name), defaults={"name": name, "maker": maker, "kind": Kind.OTHER, **over}
    )[0]


def make_case_type(name: str = "Hand case", slots: str = "", pockets: str = "", **over: Any) -> ItemType:
    """A case type of Fettlewick's; `slots` and `pockets` are labels with spaces."""
    item_type = make_type(name, "Fettlewick", kind=over.pop("kind", Kind.CASE), **over.pop("type_fields", {}))
    container, new = ContainerType.objects.get_or_create(item_type=item_type, defaults=over)
    if new:
        labels = [(label, Compartment.CompartmentKind.SLOT) for label in slots.split()]
        labels += [(label, Compartment.CompartmentKind.POCKET) for label in pockets.split()]
        for position, (label, kind) in enumerate(labels):
            Compartment.objects.create(container=container, label=label, kind=kind, position=position)
    return item_type


def make_item(item_type: ItemType | None = None, **over: Any) -> Item:
    fields = {"owner": over.pop("owner", None) or make_owner(), **over}
    at = fields.pop("at", T0)
    return register(item_type or make_type(), at=at, **fields)


def make_case(number: str = "HER-04", item_type: ItemType | None = None, **over: Any) -> Item:
    return make_item(item_type or make_case_type(), number=number, **over)


def make_drive(serial: str, **over: Any) -> Item:
    return make_item(make_type("Ingot 4T", "Pomandre", kind=Kind.DRIVE, solid_state=True), serial=serial, **over)


def make_system(name: str = "Heron", **over: Any) -> System:
    return System.objects.get_or_create(
        slug=name.lower(), defaults={"name": name, "colour": "BLUE", "prefix": name[:3].upper(), **over}
    )[0]


def make_set(name: str = "HERON-1", bays: str = "A B C D E F", **over: Any) -> DriveSet:
    return DriveSet.objects.get_or_create(slug=name.lower(), defaults={"name": name, "bays": bays, **over})[0]


def make_place(name: str = "Mill Yard", kind: str = PlaceKind.STORE, **over: Any) -> Place:
    return Place.objects.get_or_create(name=name, kind=kind, defaults=over)[0]


def make_pass(reference: str = "FMC", **over: Any) -> DayPass:
    """A pass in force from six hours before T0 for three days."""
    fields = {
        "code": f"K7FX-{DayPass.objects.count():04d}",
        "verbs": ",".join(passes.USUAL_VERBS),
        "valid_from": T0 - timedelta(hours=6),
        "valid_until": T0 + timedelta(hours=66),
        "made_by": "Ida Penrake",
        "made_at": T0 - timedelta(hours=6),
        **over,
    }
    return DayPass.objects.create(reference=reference, **fields)


def make_device(name: str = "Pim Osgood", token: str = "", **over: Any) -> Device:
    """A phone: of the pass given, else of a new pass for FMC, unless a user is given. Its token is its name."""
    if "user" not in over and "day_pass" not in over:
        over["day_pass"] = make_pass()
    return Device.objects.create(name=name, token_hash=token_hash(token or name), joined_at=T0, **over)


def make_show(code: str = "FMC", **over: Any) -> Show:
    """A show that left four days before T0 and is back four days after it."""
    fields = {
        "name": "Fjellmark Masters Chess",
        "leaves_at": T0 - timedelta(days=4),
        "starts_at": T0 - timedelta(days=2),
        "ends_at": T0,
        "back_at": T0 + timedelta(days=4),
        **over,
    }
    return Show.objects.get_or_create(code=code, defaults=fields)[0]


def make_vehicle(name: str = "Teasel", payload_kg: int | None = 2400, **over: Any) -> Item:
    return make_item(make_case_type(f"{name} box", kind=Kind.VEHICLE, payload_kg=payload_kg), name=name, **over)


def make_leg(cases: Iterable[Item] = (), vehicle: Item | None = None, show: Show | None = None, **over: Any) -> Leg:
    """A leg home from Fjellmark Hall to Mill Yard, with these cases on its list; by waybill without a vehicle."""
    show = show or make_show()
    consignment = Consignment.objects.create(show=show, name=f"consignment {show.consignments.count() + 1}")
    for position, case in enumerate(cases, 1):
        ConsignmentCase.objects.create(consignment=consignment, case=case, position=position)
    fields = {
        "position": 1,
        "from_place": make_place("Fjellmark Hall", PlaceKind.VENUE),
        "to_place": make_place("Mill Yard", is_ours=True),
        "road": make_place(f"road {consignment}", PlaceKind.ROAD),
        "departs_at": T0 + timedelta(hours=1),
        "arrives_at": T0 + timedelta(days=1),
        **over,
    }
    return Leg.objects.create(consignment=consignment, vehicle=vehicle, **fields)
