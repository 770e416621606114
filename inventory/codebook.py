"""What the texts in a batch of scans name: codes, case numbers, places, sets, photos and phones, in few queries."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from inventory import photos
from inventory.models import Device, DriveSet, Item, ItemAlias, Label, LabelKind, Photo, Place, PlaceKind, Verb
from inventory.naming import code_in
from inventory.registering import inside_of
from inventory.uploads import Scan

PLACE_KEY = re.compile(r"place:([0-9]{1,18})", re.IGNORECASE)
Finder = Callable[[str, str], Place | None]

# Others may know further ways to write a place, such as a leg's. Each is given the text and the verb.
place_finders: list[Finder] = []

WITH_ITEM = ("item__type", "item__home_case__inside", "item__home_set", "item__inside", "item__home_system")


@dataclass(frozen=True, slots=True)
class CodeBook:
    """The rows a batch needs, found before any of its scans is looked at."""

    labels: dict[str, Label]
    places: dict[tuple[str, str], Place]
    sets: dict[str, DriveSet]
    photos: dict[str, Photo]
    makers: dict[UUID, Device]

    def label(self, scan: Scan) -> Label | None:
        return self.labels.get(scan.code)

    def place(self, scan: Scan) -> Place | None:
        return self.places.get((scan.place, scan.verb))


def find_labels(texts: Iterable[str]) -> dict[str, Label]:
    """Labels by the text typed: a code, else a number that is said, or an old number (an alias)."""
    wanted = {text for text in texts if text}
    rows = Label.objects.filter(code__in=wanted).select_related(*WITH_ITEM)
    found = {label.code: label for label in rows}
    numbers = wanted - set(found)
    if not numbers:
        return found
    items = dict(Item.objects.filter(number__in=numbers).values_list("number", "pk"))
    items |= dict(ItemAlias.objects.filter(number__in=numbers - set(items)).values_list("number", "item_id"))
    rows = Label.objects.filter(item__in=items.values()).select_related(*WITH_ITEM)
    by_item = {label.item_id: label for label in sorted(rows, key=lambda row: (row.retired_at is None, row.pk))}
    return found | {number: by_item[pk] for number, pk in items.items() if pk in by_item}


def keep_unknown(unknown: Iterable[str], at: datetime) -> dict[str, Label]:
    """Labels for codes nobody has issued: kept without an item, so that a later adoption changes no entry."""
    new = sorted(set(unknown))
    rows = [Label(code=code, kind=LabelKind.UNKNOWN, issued_at=at) for code in new]
    Label.objects.bulk_create(rows, ignore_conflicts=True)
    return {label.code: label for label in Label.objects.filter(code__in=new).select_related(*WITH_ITEM)}


def find_places(asked: Iterable[tuple[str, str]], labels: dict[str, Label]) -> dict[tuple[str, str], Place]:
    """Places by (text, verb): "place:12", the code or number of a container, or what a finder knows."""
    asked = {pair for pair in asked if pair[0]}
    keys = {text: int(match[1]) for text, _ in asked if (match := PLACE_KEY.fullmatch(text))}
    by_key = Place.objects.select_related("item__type", "item__home_system").in_bulk(set(keys.values()))
    found = {}
    for text, verb in asked:
        place = by_key.get(keys[text]) if text in keys else _other_place(text, verb, labels)
        if place is not None:
            found[text, verb] = place
    return found


def _other_place(text: str, verb: str, labels: dict[str, Label]) -> Place | None:
    label = labels.get(read_place_code(text))
    if label is not None and label.item is not None:
        return inside_of(label.item)
    for finder in place_finders:
        if place := finder(text, verb):
            return place
    return None


def read_place_code(text: str) -> str:
    return code_in(text)[:40]


def gone() -> Place:
    """Where consumed and written-off things are."""
    return Place.objects.get_or_create(name="gone", kind=PlaceKind.GONE)[0]


def open_book(scans: Iterable[Scan]) -> CodeBook:
    """Look up everything these scans name. Codes that nobody knows are simply absent."""
    scans = list(scans)
    labels = find_labels({scan.code for scan in scans} | {read_place_code(scan.place) for scan in scans})
    places = find_places({(scan.place, scan.verb) for scan in scans}, labels)
    for verb in {scan.verb for scan in scans} & {Verb.CONSUMED, Verb.WRITTEN_OFF}:
        places["", verb] = gone()
    named = {scan.drive_set for scan in scans if scan.drive_set}
    sets = DriveSet.objects.filter(slug__in=named) | DriveSet.objects.filter(name__in=named)
    makers = {scan.device for scan in scans if scan.device}
    return CodeBook(
        labels=labels,
        places=places,
        sets={key: row for row in sets for key in (row.slug, row.name)} if named else {},
        photos=photos.named(scan.photo for scan in scans),
        makers=Device.objects.select_related("day_pass", "user__person").in_bulk(makers) if makers else {},
    )
