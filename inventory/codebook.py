"""What the texts in a batch of scans name: codes, case numbers, places, sets, photos and phones, in few queries."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, NamedTuple
from uuid import UUID

from inventory import photos
from inventory.models import (
    Device,
    DriveSet,
    Item,
    ItemAlias,
    ItemType,
    Label,
    LabelKind,
    Photo,
    Place,
    PlaceKind,
    Verb,
    slim,
)  # fmt: skip
from inventory.naming import code_in
from inventory.prepared import Asked, Prepared
from inventory.registering import inside_of
from inventory.uploads import Scan

PLACE_KEY = re.compile(r"place:([0-9]{1,18})", re.IGNORECASE)
Finder = Callable[[str, str], Place | None]

# Others may know further ways to write a place, such as a leg's. Each is given the text and the verb.
place_finders: list[Finder] = []

# What a scan says of a thing and where it goes, by the names of `Columns`.
COLUMNS = (
    "id", "code", "item_id", "retired_at", "item__number", "item__name", "item__serial", "item__home_system_id",
    "item__type_id", "item__type__maker", "item__type__name", "item__type__kind", "item__home_case_id",
    "item__home_case__number", "item__home_case__name", "item__home_case__serial", "item__home_case__type_id",
    "item__home_case__type__maker", "item__home_case__type__name", "item__home_case__inside__id",
)  # fmt: skip


class Columns(NamedTuple):
    id: int
    code: str
    item_id: Any
    retired_at: datetime | None
    number: Any
    name: Any
    serial: Any
    home_system_id: int | None
    type_id: Any
    maker: Any
    type_name: Any
    kind: Any
    home_id: Any
    home_number: Any
    home_name: Any
    home_serial: Any
    home_type_id: Any
    home_maker: Any
    home_type_name: Any
    home_inside_id: Any


Reader = Callable[[str, Collection[Any]], Iterable[Label]]
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
    return _find(texts, _wholly)


def _find(texts: Iterable[str], read: Reader) -> dict[str, Label]:
    wanted = {text for text in texts if text}
    found = {label.code: label for label in read("code__in", wanted)}
    numbers = wanted - set(found)
    if not numbers:
        return found
    items = dict(Item.objects.filter(number__in=numbers).order_by().values_list("number", "pk"))
    items |= dict(ItemAlias.objects.filter(number__in=numbers - set(items)).values_list("number", "item_id"))
    rows = read("item__in", set(items.values()))
    by_item = {label.item_id: label for label in sorted(rows, key=lambda row: (row.retired_at is None, row.pk))}
    return found | {number: by_item[pk] for number, pk in items.items() if pk in by_item}


def _wholly(lookup: str, keys: Collection[Any]) -> Iterable[Label]:
    return Label.objects.filter(**{lookup: keys}).order_by().select_related(*WITH_ITEM) if keys else ()


def _briefly(lookup: str, keys: Collection[Any]) -> Iterable[Label]:
    """Labels with what a scan says of their things: as rows of few columns, a tenth of the cost of whole ones."""
    return [_label(Columns._make(values)) for values in _BRIEFLY[lookup](keys=keys)]


_BRIEFLY = {
    "code__in": Prepared(
        lambda keys: Label.objects.filter(code__in=keys).order_by().values_list(*COLUMNS), keys=Asked.TEXTS
    ),
    "item__in": Prepared(
        lambda keys: Label.objects.filter(item__in=keys).order_by().values_list(*COLUMNS), keys=Asked.IDS
    ),
}


def _label(row: Columns) -> Label:
    label = {"id": row.id, "code": row.code, "item_id": row.item_id, "retired_at": row.retired_at}
    return slim.known(Label, label, item=_item(row) if row.item_id else None)


def _item(row: Columns) -> Item:
    kind = _type(row.type_id, row.maker, row.type_name, kind=row.kind)
    item = _named(row.item_id, row.number, row.name, row.serial, row.type_id)
    item |= {"home_case_id": row.home_id, "home_system_id": row.home_system_id}
    return slim.known(Item, item, type=kind, home_case=_home(row) if row.home_id else None)


def _home(row: Columns) -> Item:
    kind = _type(row.home_type_id, row.home_maker, row.home_type_name)
    inside = slim.known(Place, {"id": row.home_inside_id, "item_id": row.home_id}) if row.home_inside_id else None
    home = _named(row.home_id, row.home_number, row.home_name, row.home_serial, row.home_type_id)
    return slim.known(Item, home, type=kind, inside=inside)


def _named(pk: int, number: str, name: str, serial: str, type_id: int) -> dict[str, object]:
    return {"id": pk, "number": number, "name": name, "serial": serial, "type_id": type_id}


def _type(pk: int, maker: str, name: str, **more: str) -> ItemType:
    return slim.known(ItemType, {"id": pk, "maker": maker, "name": name, **more})


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
    places = Place.objects.select_related("item__type", "item__home_system")
    by_key = places.in_bulk(set(keys.values())) if keys else {}
    found = {}
    for text, verb in asked:
        place = by_key.get(keys[text]) if text in keys else _other_place(text, verb, labels)
        if place is not None:
            found[text, verb] = place
    return found


def _other_place(text: str, verb: str, labels: dict[str, Label]) -> Place | None:
    label = labels.get(read_place_code(text))
    if label is not None and label.item is not None:
        place = inside_of(label.item)
        place.item = label.item
        return place
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
    containers = {read_place_code(scan.place) for scan in scans if not PLACE_KEY.fullmatch(scan.place)}
    labels = _find({scan.code for scan in scans} | containers, _briefly)
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
