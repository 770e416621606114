"""Two phones, two stories: cases that two people loaded in two places, for one card each."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Count

from inventory.answers.book import Row, dispute
from inventory.answers.loading import book_of, live
from inventory.clocks import skew_words
from inventory.joblines import place_words
from inventory.models import Device, Item, Place, Verb

RECENT = timedelta(days=3)


@dataclass(frozen=True, slots=True)
class Story:
    """One phone's word: who put it where, when by the corrected clock."""

    place: Place
    words: str
    by: str
    at: datetime
    clock: str


@dataclass(frozen=True, slots=True)
class Conflict:
    """The newer story comes last and is what the book goes by until somebody looks."""

    item: Item
    older: Story
    newer: Story

    @property
    def sentence(self) -> str:
        old, new = self.older, self.newer
        return f"{self.item}: two stories. {old.by} put it on {old.words}, {new.by} on {new.words}."


def conflicts(items: Iterable[int], at: datetime) -> list[Conflict]:
    """The disputes among these items; only those that two phones loaded lately are looked into."""
    asked = _loaded_twice(items, at)
    if not asked:
        return []
    book, _ = book_of(asked, at)
    found = {item: pair for item in asked if (pair := dispute(book, item))}
    rows = [row for pair in found.values() for row in pair]
    places = Place.objects.select_related("item__type").in_bulk({row.place for row in rows})
    devices = Device.objects.in_bulk({row.device for row in rows if row.device})
    things = Item.objects.select_related("type").in_bulk(found)
    return [
        Conflict(things[item], _story(old, places, devices), _story(new, places, devices))
        for item, (old, new) in sorted(found.items(), key=lambda pair: str(things[pair[0]]))
    ]


def _loaded_twice(items: Iterable[int], at: datetime) -> set[int]:
    rows = live(at).filter(verb=Verb.LOADED, label__item__in=list(items), happened_at__gt=at - RECENT)
    counted = rows.values("label__item").annotate(places=Count("place", distinct=True)).filter(places__gt=1)
    return set(counted.values_list("label__item", flat=True))


def _story(row: Row, places: dict[int, Place], devices: dict) -> Story:
    place = places[row.place]
    device = devices.get(row.device)
    clock = skew_words(device.name, device.offset_ms) if device and device.offset_ms is not None else ""
    return Story(place=place, words=place_words(place), by=row.by, at=row.at, clock=clock)
