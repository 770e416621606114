"""A big book from a seeded generator: 200,000 items and 2,000,000 entries with histories like real ones.

Half of the cases go on trips: a case's items are packed by scan, drives each into its slot, it is sealed, loaded,
unloaded, opened, and half of its items are scanned at check-in. Trips fall on cases unevenly, so that some have moved
hundreds of times. Every tenth case is a box of drives; the first of its drives are a set that records on some of
its trips. One loading in a hundred is taken back and done again. What belongs in the other half lies in the main store.
"""

from __future__ import annotations

import random
import uuid
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from django.db import connection, transaction

from inventory import codes
from inventory.folding import fold, fold_confusable, natural
from inventory.models import (
    Compartment,
    ContainerType,
    DriveSet,
    Entry,
    Item,
    ItemType,
    Kind,
    Label,
    LabelKind,
    Organisation,
    Place,
    PlaceKind,
)

ZERO = datetime(2026, 3, 14, 12, 0, tzinfo=UTC)
SERIAL_LETTERS = "ACDEFHJKMNPRTWXY"
CHUNK = 20_000
BOXES = 10  # every tenth case is a box of drives
MEMBERS = 6  # drives of a set


@dataclass(frozen=True)
class Size:
    items: int = 200_000
    entries: int = 2_000_000
    per_case: int = 24


def insert(table: str, columns: list[str], rows: Iterable[tuple[Any, ...]]) -> int:
    """Bulk insert by the database's own fast way; returns how many."""
    if connection.vendor == "postgresql":
        return _copy(table, columns, rows)
    marks = ",".join("?" * len(columns))
    names = ",".join(f'"{column}"' for column in columns)
    count = 0
    with connection.cursor() as cursor:
        raw = cursor.connection
        for chunk in _chunks(rows):
            raw.executemany(f'INSERT INTO "{table}" ({names}) VALUES ({marks})', chunk)
            count += len(chunk)
    return count


def _copy(table: str, columns: list[str], rows: Iterable[tuple[Any, ...]]) -> int:
    names = ",".join(f'"{column}"' for column in columns)
    count = 0
    with connection.cursor() as cursor, cursor.copy(f'COPY "{table}" ({names}) FROM STDIN') as copy:
        for row in rows:
            copy.write_row(row)
            count += 1
    return count


def _chunks(rows: Iterable[tuple[Any, ...]]) -> Iterator[list[tuple[Any, ...]]]:
    chunk: list[tuple[Any, ...]] = []
    for row in rows:
        chunk.append(row)
        if len(chunk) == CHUNK:
            yield chunk
            chunk = []
    if chunk:
        yield chunk


def _moment(value: datetime) -> Any:
    return value if connection.vendor == "postgresql" else value.replace(tzinfo=None).isoformat(sep=" ")


def key_of(value: uuid.UUID) -> Any:
    return value if connection.vendor == "postgresql" else value.hex


def uuid7(at: datetime, draw: random.Random) -> uuid.UUID:
    ms = int(at.timestamp() * 1000)
    return uuid.UUID(int=ms << 80 | 0x7 << 76 | draw.getrandbits(12) << 64 | 0b10 << 62 | draw.getrandbits(62))


class Book:
    """Builds the book in the current, empty database. Repeatable: the same seed gives the same book."""

    def __init__(self, size: Size, seed: int = 7) -> None:
        self.size, self.draw = size, random.Random(seed)
        self.case_count = size.items // (size.per_case + 1)
        self.going = self.case_count // 2

    @transaction.atomic
    def build(self) -> None:
        owner = Organisation.objects.create(name="Lanternfold Field Pictures", is_ours=True)
        self._places()
        self._types()
        self._items(owner.pk)
        self._labels()
        self._insides()
        insert(Entry._meta.db_table, ENTRY_COLUMNS, self._entries())

    def _places(self) -> None:
        self.stores = [
            Place.objects.create(name=name, kind=PlaceKind.STORE, time_zone="Europe/London", is_ours=True)
            for name in ("Mill Yard", "Quay Unit")
        ]
        self.venues = [Place.objects.create(name=f"venue {n}", kind=PlaceKind.VENUE) for n in range(48)]

    def _types(self) -> None:
        self.types = [
            ItemType.objects.create(name=f"Ebbmark part {n}", maker="Orrinvale", mass_kg=1 + n % 9) for n in range(300)
        ]
        self.drive = ItemType.objects.create(name="Ingot 4T", maker="Pomandre", kind=Kind.DRIVE, mass_kg=0.5)
        self.case_type = ItemType.objects.create(name="Power case", maker="Fettlewick", kind=Kind.CASE)
        self.box_type = ItemType.objects.create(name="Drive box", maker="Fettlewick", kind=Kind.CASE)
        self.vehicle_type = ItemType.objects.create(name="Box 7.5 t", kind=Kind.VEHICLE)
        for item_type in (self.case_type, self.vehicle_type):
            ContainerType.objects.create(item_type=item_type, tare_kg=15)
        box = ContainerType.objects.create(item_type=self.box_type, tare_kg=4)
        slots = range(1, self.size.per_case + 2)
        Compartment.objects.bulk_create(Compartment(container=box, label=str(n), position=n) for n in slots)
        boxes = range(0, self.going, BOXES)
        sets = [DriveSet(name=f"SET-{n:04}", slug=f"set-{n:04}", bays="1 2 3 4 5 6") for n in boxes]
        DriveSet.objects.bulk_create(sets)
        self.sets = dict(zip(boxes, DriveSet.objects.order_by("name").values_list("pk", flat=True), strict=True))

    def _serial(self) -> str:
        first, last = self.draw.choices(SERIAL_LETTERS, k=2)
        return f"{self.draw.randint(10, 99)}{first}{self.draw.randint(1000, 9999)}{last}"

    def _items(self, owner: int) -> None:
        columns = [
            "id", "type_id", "serial", "identity", "serial_key", "serial_skeleton", "name", "number", "quantity",
            "home_case_id", "owner_id", "registration", "note", "added_at",
        ]  # fmt: skip
        insert(Item._meta.db_table, columns, self._item_rows(owner))

    def _item_rows(self, owner: int) -> Iterator[tuple[Any, ...]]:
        added, seen = _moment(ZERO - timedelta(days=2000)), set()
        rest = (owner, "", "", added)
        for n in range(40):
            yield n + 1, self.vehicle_type.pk, "", None, "", "", "", f"VAN-{n:02}", 1, None, *rest
        self.first_case = 41
        for n in range(self.case_count):
            case_type = self.case_type if n % BOXES else self.box_type
            yield self.first_case + n, case_type.pk, "", None, "", "", "", f"C{n:05}", 1, None, *rest
        self.first_item = self.first_case + self.case_count
        self.item_count = self.size.items - self.case_count - 40
        for n in range(self.item_count):
            item_type = self.types[n % 300] if n % self.case_count % BOXES else self.drive
            serial = self._serial()
            while (item_type.maker, serial) in seen:
                serial = self._serial()
            seen.add((item_type.maker, serial))
            key = fold(serial)
            identity, skeleton = f"{fold(item_type.maker)}|{key}", fold_confusable(serial)
            home = self.first_case + n % self.case_count
            yield self.first_item + n, item_type.pk, serial, identity, key, skeleton, "", None, 1, home, *rest

    def _labels(self) -> None:
        columns = ["id", "code", "kind", "item_id", "issued_at", "bound_at", "note"]
        at, seen = _moment(ZERO - timedelta(days=2000)), set()

        def rows() -> Iterator[tuple[Any, ...]]:
            for pk in range(1, self.size.items + 1):
                code = ""
                while not code or code in seen or code[-1] not in codes.ALPHABET:
                    code = codes.with_check("".join(self.draw.choices(codes.ALPHABET, k=codes.LENGTH - 1)))
                seen.add(code)
                yield pk, code, LabelKind.ITEM, pk, at, at, ""

        insert(Label._meta.db_table, columns, rows())

    def _insides(self) -> None:
        columns = ["id", "name", "kind", "purpose", "item_id", "time_zone", "is_ours", "note", "sort_key"]
        self.first_inside = 1000
        numbers = Item.objects.filter(pk__lt=self.first_item).order_by("pk").values_list("pk", "number")
        rows = (
            (self.first_inside + pk, f"inside {pk}", PlaceKind.INSIDE, "stock", pk, "", False, "", natural(number))
            for pk, number in numbers
        )
        insert(Place._meta.db_table, columns, rows)

    def _entries(self) -> Iterator[tuple[Any, ...]]:
        made = 0
        for row in self._beginning(ZERO - timedelta(days=1800)):
            yield row
            made += 1
        trips = (self.size.entries - made) // (int(self.size.per_case * 1.5) + 4)
        for trip in range(trips):
            at = ZERO - timedelta(days=1799) * (1 - (trip + 1) / (trips + 2))
            yield from self._trip(at)

    def _beginning(self, at: datetime) -> Iterator[tuple[Any, ...]]:
        store = self.stores[0].pk
        for pk in range(1, self.first_item):
            yield self._row("placed", pk, store, at)
        for n in range(self.item_count):
            if n % self.case_count >= self.going:
                yield self._row("placed", self.first_item + n, store, at)
        for index, drive_set in self.sets.items():
            for n, item in enumerate(self._home_items(index)[:MEMBERS], 1):
                yield self._row("joined", item, None, at, bay=str(n), drive_set=drive_set)

    def _home_items(self, index: int) -> range:
        return range(self.first_item + index, self.first_item + self.item_count, self.case_count)

    def _trip(self, at: datetime) -> Iterator[tuple[Any, ...]]:
        index = int(self.going * self.draw.random() ** 2)  # the busiest of 4,000 goes on one trip in sixty
        case, items = self.first_case + index, self._home_items(index)
        inside = self.first_inside + case
        for n, item in enumerate(items):
            bay = "" if index % BOXES else str(n + 1)
            yield self._row("packed", item, inside, at + n * timedelta(seconds=4), bay=bay)
        yield from self._way(case, index, at + timedelta(minutes=2))
        for item in items:
            if self.draw.random() < 0.5:
                yield self._row("seen", item, None, at + timedelta(minutes=12))

    def _way(self, case: int, index: int, at: datetime) -> Iterator[tuple[Any, ...]]:
        step, van = timedelta(minutes=2), self.first_inside + 1 + case % 40
        store = self.stores[0].pk if self.draw.random() < 0.8 else self.stores[1].pk
        yield self._row("sealed", case, None, at, seal=f"{self.draw.randint(0, 999999):06}")
        loaded = self._row("loaded", case, van, at + step)
        yield loaded
        if self.draw.random() < 0.01:
            yield self._row("corrected", None, None, at + 1.2 * step, corrects=loaded[1])
            yield self._row("loaded", case, van, at + 1.4 * step)
        venue = store if self.draw.random() < 0.6 else self.draw.choice(self.venues).pk
        yield self._row("unloaded", case, venue, at + 3 * step)
        yield self._row("seal broken", case, None, at + 4 * step)
        if index in self.sets and self.draw.random() < 0.2:
            show = f"S{self.draw.randint(1, 400)}"
            for verb, when in (("recording", 4.2), ("stopped", 4.8)):
                yield self._row(verb, None, None, at + when * step, drive_set=self.sets[index], reference=show)

    def _row(
        self, verb: str, label: int | None, place: int | None, at: datetime, *, seal: str = "", bay: str = "",
        drive_set: int | None = None, corrects: Any = None, reference: str = "",
    ) -> tuple[Any, ...]:  # fmt: skip
        pk, moment = uuid7(at, self.draw), _moment(at)
        said = (
            key_of(pk),
            key_of(pk),
            verb,
            label,
            place,
            seal,
            "scan",
            moment,
            moment,
            bay,
            drive_set,
            corrects,
            reference,
        )
        return *said, *_REST, *_UNSAID


_REST = ("", "", "", "", "", "", "", "", False, "Ida Penrake", "kit manager")
ENTRY_COLUMNS = [
    "id", "act", "verb", "label_id", "place_id", "seal", "grade", "happened_at", "received_at", "bay", "drive_set_id",
    "corrects", "reference", "serial", "condition", "note", "rule", "value", "field", "before", "after", "stated", "by",
    "role",
]  # fmt: skip
# Whatever else an entry must have, as it is when nothing is said of it.
_OTHERS = [field for field in Entry._meta.concrete_fields if not field.null and field.column not in ENTRY_COLUMNS]
_UNSAID = tuple(field.get_default() for field in _OTHERS)
ENTRY_COLUMNS += [field.column for field in _OTHERS]
