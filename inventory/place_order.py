"""Places stay in the order of what they are called: the key that lists sort by follows each change of the words.

A place made by itself has it from `Place.save`; this is for the words of the thing that a place is the inside of.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import Any

from django.db.models import QuerySet
from django.db.models.signals import post_save

from inventory.models import Item, ItemType, Place

OF_THINGS = ("number", "name", "serial", "type", "type_id")
OF_TYPES = ("maker", "name")
WORDS = ("name", "sort_key", "item__number", "item__name", "item__serial", "item__type__maker", "item__type__name")
AT_ONCE = 500


def follow() -> None:
    """From now on the key follows the words; both are in one transaction, which `Item.save` sees to."""
    post_save.connect(_thing_saved, sender=Item, dispatch_uid="order of places, by thing")
    post_save.connect(_type_saved, sender=ItemType, dispatch_uid="order of places, by type")


def _thing_saved(instance: Item, created: bool, update_fields: Collection[str] | None, **_: Any) -> None:
    if not created and _touched(update_fields, OF_THINGS):
        put_in_order(Place.objects.filter(item=instance))


def _type_saved(instance: ItemType, created: bool, update_fields: Collection[str] | None, **_: Any) -> None:
    if not created and _touched(update_fields, OF_TYPES):
        put_in_order(Place.objects.filter(item__type=instance, item__number=None))


def _touched(fields: Collection[str] | None, words: Collection[str]) -> bool:
    return fields is None or any(one in fields for one in words)


def out_of_order(places: QuerySet[Place]) -> Iterator[Place]:
    """Those whose key is not that of what they are called, each with the right one, not yet saved."""
    for place in places.select_related("item__type").only("item", *WORDS).order_by("pk"):
        before = place.sort_key
        place.refresh_keys()
        if before is None or bytes(before) != place.sort_key:
            yield place


def put_in_order(places: QuerySet[Place]) -> None:
    Place.objects.bulk_update(list(out_of_order(places)), ["sort_key"], batch_size=AT_ONCE)
