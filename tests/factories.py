"""Plain makers of things with sane defaults: make_item(serial="71B04K")."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from inventory.ledger import Witness
from inventory.models import (
    Compartment,
    ContainerType,
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
