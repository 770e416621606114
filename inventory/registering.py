"""New things into the book: the row, its code, and the room inside it, in one step."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import transaction

from inventory import codes
from inventory.models import ContainerType, Item, ItemType, Kind, Label, LabelKind, Place, PlaceKind


def label_kind(item_type: ItemType) -> str:
    """Which label a thing of this type wears."""
    if item_type.kind in {Kind.CASE, Kind.VEHICLE}:
        return LabelKind.CASE
    if item_type.kind == Kind.DRIVE:
        return LabelKind.DRIVE
    return LabelKind.CORD if item_type.kind in {Kind.CORD, Kind.CABLE} else LabelKind.ITEM


@transaction.atomic
def register(item_type: ItemType, *, at: datetime, code: str = "", **fields: Any) -> Item:
    """Add one item (or lot) with its code, and the place inside it where its type can hold things."""
    item = Item(type=item_type, added_at=at, **fields)
    item.save()
    kind = label_kind(item_type)
    if code:
        Label.objects.create(code=code, kind=kind, item=item, issued_at=at, bound_at=at)
    else:
        codes.issue([item], at=at, kind=kind)
    if ContainerType.objects.filter(item_type=item_type).exists():
        inside_of(item)
    return item


def new_inside(item: Item, **more: Any) -> Place:
    """The place inside a new container, for those who add many at once."""
    place = Place(item=item, name=f"inside {item}"[:120], kind=PlaceKind.INSIDE, **more)
    place.refresh_keys()
    return place


def inside_of(item: Item) -> Place:
    """The place inside a container; made the first time it is asked for."""
    return Place.objects.get_or_create(item=item, defaults={"name": f"inside {item}", "kind": PlaceKind.INSIDE})[0]
