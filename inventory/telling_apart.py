"""What sets alike things apart in a list of offers: whose they are, where they are, serial tail, code."""

from __future__ import annotations

from collections.abc import Collection

from inventory.models import Item


def apart(items: Collection[int]) -> dict[int, str]:
    """By item: Heron · in CUR-10, home HER-10 · serial …7521E · code 9AFAHFA. Two queries for any number."""
    known = ("type", "home_system", "home_set", "home_case__type", "holding__place__item__type", "owner")
    found = Item.objects.filter(pk__in=items).select_related(*known).prefetch_related("labels")
    return {item.pk: " · ".join(filter(None, _marks(item))) for item in found}


def _marks(item: Item) -> list[str]:
    of = item.home_set or item.home_system
    hired = "" if item.owner.is_ours else f"hired from {item.owner}"
    serial = f"serial …{item.serial[-5:]}" if item.serial else "no serial"
    codes = [label.code for label in item.labels.all() if label.retired_at is None]
    return [str(of or "of no system"), hired, _where(item), serial, f"code {codes[-1]}" if codes else "no label in use"]


def _where(item: Item) -> str:
    """Where it is by the book, and its home case if that is another."""
    place = getattr(getattr(item, "holding", None), "place", None)
    at = str(place.item or place) if place is not None else ""
    home = str(item.home_case) if item.home_case else ""
    if not at:
        return f"nobody said where, home {home}" if home else "nobody said where"
    return f"in {at}, home {home}" if home and home != at else f"in {at}"
