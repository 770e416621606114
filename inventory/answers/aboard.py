"""What is in some containers at a moment, at any depth: level by level, whatever their number."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime

from inventory.answers.loading import placings_of, told
from inventory.models import Entry, Holding, Place


@dataclass(slots=True)
class Load:
    """The things in one container, and every place in it."""

    things: set[int] = field(default_factory=set)
    places: set[int] = field(default_factory=set)


def loads_of(
    containers: Collection[int], at: datetime, added: Mapping[int, Collection[int]] | None = None
) -> dict[int, Load]:
    """By container, its load; `added` are things to be reckoned in it too, with all that is in them."""
    loads = {one: Load(set(added.get(one, ())) if added else set()) for one in containers}
    level = {(one, place) for one, place in _insides({one: {one, *load.things} for one, load in loads.items()})}
    while level:
        here: dict[int, set[int]] = defaultdict(set)
        for one, place in level:
            loads[one].places.add(place)
        held = _held({place for _, place in level}, at)
        for one, place in level:
            here[one] |= held[place] - loads[one].things - {one}
        for one, items in here.items():
            loads[one].things |= items
        level = {(one, place) for one, place in _insides(here) if place not in loads[one].places}
    return loads


def _insides(items: Mapping[int, Collection[int]]) -> Iterator[tuple[int, int]]:
    """Of each container, the places that these things of it are round."""
    wanted = {item for some in items.values() for item in some}
    places = dict(Place.objects.filter(item__in=wanted).values_list("item_id", "pk"))
    return ((one, places[item]) for one, some in items.items() for item in some if item in places)


def _held(places: set[int], at: datetime) -> dict[int, set[int]]:
    """Of each place, the things right in it."""
    found: dict[int, set[int]] = defaultdict(set)
    if not Entry.objects.filter(happened_at__gt=at).exists():
        rows = Holding.objects.filter(place__in=places, item__retired_at=None).values_list("place_id", "item_id")
        for place, item in rows:
            found[place].add(item)
        return found
    ever = told(at).filter(place__in=places, label__item__isnull=False)
    items = set(ever.values_list("label__item_id", flat=True).distinct())
    for item, row in placings_of(items, at).holders().items():
        if row.place in places:
            found[row.place].add(item)
    return found
