"""The bays of a system's frames: what is fitted in each, and for an empty one the drives that belong in it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from inventory.answers.belonging import belonging, ever_in
from inventory.drawings.bays import BayCell, BayState
from inventory.models import DriveSet, Holding, Item, Kind, System
from inventory.unchanged import kept

POCKET = "pocket"


@dataclass(frozen=True, slots=True)
class Member:
    """A drive of a set of this system: the bay it joined for, and where it is by the book."""

    drive: int
    tail: str
    drive_set: str
    bay: str
    where: str

    @property
    def words(self) -> str:
        return f"{self.bay or 'no bay'} {self.tail} ({self.where})"


@dataclass(frozen=True, slots=True)
class FrameMap:
    """One frame. `expected` says of each set of the system where its drives are that are not in the frame."""

    frame: str
    cells: tuple[BayCell, ...]
    expected: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Book:
    """What is needed to name every bay: members by set, what is fitted, and to which set each fitted one belongs."""

    members: tuple[Member, ...]
    fitted: Mapping[tuple[int, str], Item]
    of: Mapping[int, tuple[DriveSet | None, str]]
    own: frozenset[str]


def frame_maps(system: System, at: datetime) -> list[FrameMap]:
    """Each frame of the system with every bay in its real order. The number of queries is fixed."""
    return list(kept(("frames", system.pk), at, lambda: tuple(_frame_maps(system, at))))


def _frame_maps(system: System, at: datetime) -> list[FrameMap]:
    frames = list(
        Item.objects.in_stock()
        .filter(home_system=system, type__kind=Kind.FRAME, type__container__isnull=False, inside__isnull=False)
        .select_related("type__container", "inside")
        .prefetch_related("type__container__compartments")
        .order_by("id")
    )
    sets = list(system.drive_sets.all())
    held = Holding.objects.filter(place__in=[frame.inside.pk for frame in frames]).exclude(bay="")
    fitted = {(row.place_id, row.bay): row.item for row in held.select_related("item__type") if row.place_id}
    of = belonging({*ever_in(sets, at), *(item.pk for item in fitted.values())}, at)
    book = _Book(tuple(_members(sets, of)), fitted, of, frozenset(one.name for one in sets))
    return [_frame_map(frame, _labels(frame, sets), book) for frame in frames]


def _members(sets: Sequence[DriveSet], of: Mapping[int, tuple[DriveSet | None, str]]) -> Iterable[Member]:
    own = {drive: (one.name, bay) for drive, (one, bay) in of.items() if one in sets and one is not None}
    found = Holding.objects.filter(item__in=own).select_related("place__item__type")
    places = {row.item_id: str(row.place.item or row.place) for row in found if row.place}
    serials = dict(Item.objects.filter(pk__in=own).values_list("pk", "serial"))
    for drive, (name, bay) in sorted(own.items(), key=lambda pair: pair[1]):
        where = places.get(drive, "nobody said where")
        yield Member(drive, serials[drive][-6:] or "no serial", name, bay, where)


def _labels(frame: Item, sets: Sequence[DriveSet]) -> list[str]:
    """The bays of the frame in their order; of a type without bays, those of the sets at home in it."""
    bays = [one.label for one in frame.type.container.compartments.all() if one.kind != POCKET]
    return bays or list(dict.fromkeys(label for one in sets for label in one.bay_labels))


def _frame_map(frame: Item, labels: Sequence[str], book: _Book) -> FrameMap:
    inside = {bay: item for (place, bay), item in book.fitted.items() if place == frame.inside.pk}
    sets_in = {one.name for item in inside.values() if (one := book.of.get(item.pk, (None, ""))[0]) is not None}
    wanted = [one for one in book.members if one.drive_set in sets_in] or list(book.members)
    labels = [*labels, *(bay for bay in inside if bay not in labels)]
    cells = tuple(_cell(bay, inside.get(bay), wanted, book) for bay in labels)
    return FrameMap(str(frame), cells, tuple(_expected(book.members, {item.pk for item in inside.values()})))


def _cell(bay: str, item: Item | None, wanted: Sequence[Member], book: _Book) -> BayCell:
    if item is None:
        due = [one for one in wanted if one.bay == bay]
        if len(due) == 1:
            return BayCell(bay, state=BayState.EMPTY, words=f"{due[0].tail} is in {due[0].where}")
        return BayCell(bay, state=BayState.EMPTY, words=" or ".join(one.tail for one in due))
    tail = item.serial[-6:]
    of, due_bay = book.of.get(item.pk, (None, ""))
    if of is not None and (of.name not in book.own or (due_bay and due_bay != bay)):
        return BayCell(bay, tail, BayState.WRONG, f"this is {of}'s {due_bay}".rstrip())
    return BayCell(bay, tail, BayState.FITTED, of.name if of else "of no set")


def _expected(members: Sequence[Member], inside: set[int]) -> Iterable[str]:
    for name in dict.fromkeys(one.drive_set for one in members):
        drives = [one for one in members if one.drive_set == name]
        out = [one.words for one in drives if one.drive not in inside]
        if len(out) == len(drives):
            yield f"{name} is not in it: {', '.join(out)}."
        elif out:
            yield f"{name} is not whole in it. Missing: {', '.join(out)}."
