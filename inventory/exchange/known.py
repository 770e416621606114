"""What the book already knows that a sheet may speak of, loaded in a fixed number of queries."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from inventory.exchange.lines import Line
from inventory.folding import fold, fold_confusable
from inventory.models import (
    DriveSet,
    Entry,
    Holding,
    ImportedSheet,
    Item,
    ItemAlias,
    ItemType,
    Label,
    Organisation,
    Place,
    PlaceKind,
    System,
    Verb,
)

_CHUNK = 2000
_EARLIER = 50  # how many earlier sheets are looked at for things that are missing now
_STANDING = (PlaceKind.STORE, PlaceKind.SHELF, PlaceKind.ROOM, PlaceKind.VENUE, PlaceKind.PERSON)


@dataclass(slots=True)
class Known:
    """The part of the book that the lines of one sheet touch."""

    items: dict[int, Item] = field(default_factory=dict)
    labels: dict[str, Label] = field(default_factory=dict)
    numbers: dict[str, int] = field(default_factory=dict)
    aliases: dict[str, int] = field(default_factory=dict)
    called: dict[int, str] = field(default_factory=dict)  # the number of each numbered item, as written
    types: dict[str, ItemType] = field(default_factory=dict)
    systems: dict[str, System] = field(default_factory=dict)
    sets: dict[str, DriveSet] = field(default_factory=dict)
    owners: dict[str, Organisation] = field(default_factory=dict)
    ours: Organisation | None = None
    places: dict[str, list[Place]] = field(default_factory=dict)
    placed: set[int] = field(default_factory=set)
    joined: dict[int, tuple[int, str] | None] = field(default_factory=dict)
    earlier: set[int] = field(default_factory=set)
    earlier_sheets: list[int] = field(default_factory=list)

    def by_identity(self) -> dict[str, int]:
        return {item.identity: item.pk for item in self.items.values() if item.identity}

    def by_serial(self) -> dict[str, list[int]]:
        found: dict[str, list[int]] = {}
        for item in self.items.values():
            if item.serial_key:
                found.setdefault(item.serial_key, []).append(item.pk)
        return found

    def numbered(self, text: str) -> int | None:
        """The item that has, or once had, this number."""
        return self.numbers.get(fold(text)) or self.aliases.get(fold(text))


def load(lines: list[Line]) -> Known:
    """Everything the lines could mean. Ten or so queries per 2,000 lines."""
    known = Known()
    _names(known)
    _labels(known, lines)
    types = {ItemType.make_key(line.text("maker"), line.model) for line in lines}
    for part in _chunks(types):
        known.types.update({one.key: one for one in ItemType.objects.select_related("container").filter(key__in=part)})
    wanted = {label.item_id for label in known.labels.values() if label.item_id}
    texts = [text for line in lines for name in ("number", "home_case") if (text := line.text(name))]
    wanted |= {pk for text in texts if (pk := known.numbered(text))}
    wanted |= _with_serials(lines) | _without_serials(known)
    known.earlier, known.earlier_sheets = _earlier(wanted)
    _items(known, wanted | known.earlier)
    _items(known, {item.home_case_id for item in known.items.values() if item.home_case_id} - set(known.items))
    _standing(known)
    return known


def _chunks(values: Iterable[object]) -> Iterator[list[object]]:
    rest = list(values)
    while rest:
        yield rest[:_CHUNK]
        rest = rest[_CHUNK:]


def _names(known: Known) -> None:
    known.systems = {fold(one.name): one for one in System.objects.all()}
    known.sets = {fold(one.name): one for one in DriveSet.objects.select_related("host")}
    known.owners = {fold(one.name): one for one in Organisation.objects.all()}
    known.ours = next((one for one in known.owners.values() if one.is_ours), None)
    for place in Place.objects.filter(kind__in=_STANDING).select_related("parent"):
        known.places.setdefault(fold(place.name), []).append(place)
    known.called = dict(Item.objects.exclude(number=None).values_list("pk", "number"))
    known.numbers = {fold(number): pk for pk, number in known.called.items()}
    known.aliases = {fold(number): pk for pk, number in ItemAlias.objects.values_list("item_id", "number")}


def _labels(known: Known, lines: list[Line]) -> None:
    codes = {line.text("code").upper() for line in lines if line.text("code")}
    codes |= {line.text("home_case").upper() for line in lines if line.text("home_case")}
    for part in _chunks(codes):
        known.labels.update({label.code: label for label in Label.objects.filter(code__in=part)})


def _with_serials(lines: list[Line]) -> set[int]:
    """Items whose serial is, or could be misread as, one of the sheet's."""
    found: set[int] = set()
    skeletons = {fold_confusable(line.serial) for line in lines if line.serial}
    for part in _chunks(skeletons):
        found.update(Item.objects.filter(serial_skeleton__in=part).values_list("pk", flat=True))
    return found


def _without_serials(known: Known) -> set[int]:
    """Items of the sheet's types that nothing tells apart: lots and things without serial and number."""
    found: set[int] = set()
    for part in _chunks(one.pk for one in known.types.values()):
        bare = Item.objects.filter(type_id__in=part, serial="", number=None, retired_at=None)
        found.update(bare.values_list("pk", flat=True))
    return found


def _earlier(wanted: set[int]) -> tuple[set[int], list[int]]:
    """Items of earlier sheets that this one seems to be a later state of, and those sheets: they share an item."""
    found: set[int] = set()
    shared = []
    sheets = ImportedSheet.objects.exclude(committed_at=None).order_by("-committed_at").values_list("pk", "outcome")
    for pk, outcome in sheets[:_EARLIER]:
        items = set(outcome.get("rows", {}).values())
        if items & wanted:
            found |= items
            shared.append(pk)
    return found, shared


def _items(known: Known, wanted: set[int]) -> None:
    for part in _chunks(wanted):
        rows = Item.objects.filter(pk__in=part).select_related(
            "type__container", "owner", "home_case", "home_system", "home_set"
        )
        known.items.update({item.pk: item for item in rows})


def _standing(known: Known) -> None:
    """Which items have a live placing, and which set each was last said to be in."""
    for part in _chunks(known.items):
        placed = Holding.objects.filter(item_id__in=part).exclude(place=None)
        known.placed.update(placed.values_list("item_id", flat=True))
        acts = Entry.objects.filter(verb=Verb.CORRECTED).values("corrects")
        told = (
            Entry.objects.filter(label__item_id__in=part, verb__in=(Verb.JOINED, Verb.DROPPED)).exclude(act__in=acts)
        ).order_by("happened_at", "id")
        for item, verb, one_set, bay in told.values_list("label__item_id", "verb", "drive_set_id", "bay"):
            known.joined[item] = (one_set, bay) if verb == Verb.JOINED else None
