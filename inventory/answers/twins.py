"""Alike items of sister systems: which to compare by serial, and which have changed places."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from inventory.answers.owned import Owned, owned
from inventory.answers.values import ItemRef, Reason, Whereabouts
from inventory.answers.whereabouts import KEPT, whereabouts_of
from inventory.models import Item, Kind, System
from inventory.models.things import ItemQuerySet
from inventory.prepared import Asked, Prepared
from inventory.unchanged import kept


@dataclass(frozen=True, slots=True)
class Twin:
    """An item of ours in a sister system's case, and the alike item of theirs in one of ours."""

    item: ItemRef
    in_case: ItemRef
    in_case_of: str
    other: ItemRef
    other_in: ItemRef


@dataclass(frozen=True, slots=True)
class Alike:
    """One item of ours and the items of sister systems that it could be taken for."""

    item: ItemRef
    sisters: tuple[tuple[str, ItemRef], ...]


@dataclass(frozen=True, slots=True)
class Twins:
    """`answer` is crossed or at home; `compare` is the short list to read serials from at strike and return."""

    answer: str
    sentence: str
    system: str
    at: datetime
    reasons: tuple[Reason, ...] = ()
    crossed: tuple[Twin, ...] = ()
    compare: tuple[Alike, ...] = ()


def twins(system: System, at: datetime) -> Twins:
    """Which alike items of `system` and its sisters have changed places, judged by serial."""
    items = list(owned(alike_ids([system])).values())
    wheres = whereabouts_of([item.pk for item in items], at)
    return twins_told(system, at, crossed_twins(system, items, wheres, containers_in(wheres.values())))


def twins_told(system: System, at: datetime, crossed: tuple[Twin, ...]) -> Twins:
    """The same where it is known already which have changed places."""
    reasons = tuple(
        Reason("twin swapped", swap_sentence(twin), SWAP_WAY_OUT, (), (twin.item.id, twin.other.id)) for twin in crossed
    )
    return Twins(
        answer="crossed" if crossed else "at home",
        sentence=reasons[0].sentence if reasons else f"No alike item of {system} is in a sister system's case.",
        system=system.name,
        at=at,
        reasons=reasons,
        crossed=crossed,
        compare=kept(("alike", system.pk), None, lambda: _compare(system, list(owned(alike_ids([system])).values()))),
    )


SWAP_WAY_OUT = "Swap them back, or accept the swap: both homes change, with the reason."


def swap_sentence(twin: Twin) -> str:
    """Both serials in one sentence, for only the serial tells twins apart."""
    return (
        f"{_called(twin.item)} is in {twin.in_case.words}, which is {twin.in_case_of}'s. "
        f"{twin.in_case_of}'s {_called(twin.other)} lies in {twin.other_in.words}."
    )


def alike_ids(systems: Iterable[System]) -> set[int]:
    """Serialised items at home in these systems, and those of the same types at home in another, by their keys."""
    return {pk for (pk,) in ALIKE_IDS(systems=[system.pk for system in systems])}


def _alike(systems: Collection[int]) -> ItemQuerySet:
    types = (
        Item.objects.in_stock()
        .filter(home_system__in=systems, type__serials_required=True, type__is_lot=False)
        .exclude(type__kind__in=(Kind.DRIVE, Kind.CASE, Kind.VEHICLE))  # drives: see their sets
        .values("type")
    )
    return Item.objects.in_stock().filter(type__in=types, home_system__isnull=False)


ALIKE_IDS = Prepared(lambda systems: _alike(systems).order_by().values_list("pk"), systems=Asked.IDS)

ALIKE = 8  # that many are offered; a type may have a hundred


def alike_to(item: Item, at: datetime) -> list[tuple[Owned, Whereabouts]]:
    """Others in stock of the same type, likeliest to be mistaken for it first, and where each is.

    First what lies in a case of this thing's own system, then what has no system, then the others. None of a lot.
    """
    if item.is_lot:
        return []
    others = Item.objects.in_stock().filter(type=item.type_id).exclude(pk=item.pk).order_by("pk")[:KEPT]
    rows = owned(others.values_list("pk", flat=True))
    wheres = whereabouts_of(list(rows), at)
    containers = containers_in(wheres.values())

    def likeliest(other: Owned) -> tuple[bool, bool]:
        case = case_around(wheres[other.pk], containers)
        ours = case is not None and case.system_id == item.home_system_id is not None
        return not ours or other.system_id == item.home_system_id, other.system_id is not None

    return [(other, wheres[other.pk]) for other in sorted(rows.values(), key=likeliest)[:ALIKE]]


def containers_in(wheres: Iterable[Whereabouts]) -> dict[int, Owned]:
    """Every container that any of these chains runs through, by item id."""
    return owned({link.place.item_id for where in wheres for link in where.links if link.place and link.place.item_id})


def case_around(where: Whereabouts, containers: Mapping[int, Owned]) -> Owned | None:
    """The innermost case or frame that belongs to a system: what a thing inside it is counted with."""
    for link in where.links:
        container = containers.get(link.place.item_id) if link.place and link.place.item_id else None
        if container is not None and container.system_id and container.kind != Kind.VEHICLE:
            return container
    return None


def crossed_twins(
    system: System, items: Sequence[Owned], wheres: Mapping[int, Whereabouts], containers: Mapping[int, Owned]
) -> tuple[Twin, ...]:
    """Ours in a sister's case while the alike one of theirs lies in a case of ours."""
    cases = {item.pk: case_around(wheres[item.pk], containers) for item in items if item.pk in wheres}
    theirs_here = defaultdict(list)
    for item in items:
        case = cases.get(item.pk)
        if item.system_id != system.pk and case is not None and case.system_id == system.pk:
            theirs_here[item.type_id, item.system_id].append(item)
    found = []
    for item in items:
        case = cases.get(item.pk)
        if item.system_id == system.pk and _is_a_sisters(case, system):
            others = theirs_here[item.type_id, case.system_id]
            if others:
                found.append(_twin(item, case, others.pop(0), cases))
    return tuple(found)


def _is_a_sisters(case: Owned | None, system: System) -> bool:
    return case is not None and case.system_id not in (None, system.pk)


def _twin(item: Owned, case: Owned, other: Owned, cases: Mapping[int, Owned | None]) -> Twin:
    theirs_in = cases[other.pk]
    return Twin(item.ref, case.ref, case.system or "", other.ref, theirs_in.ref)


def _compare(system: System, items: Sequence[Owned]) -> tuple[Alike, ...]:
    ours = [item for item in items if item.system_id == system.pk]
    sisters = defaultdict(list)
    for item in items:
        if item.system_id != system.pk:
            sisters[item.type_id].append((item.system or "", item.ref))
    return tuple(Alike(item.ref, tuple(sisters[item.type_id])) for item in ours if sisters[item.type_id])


def _called(item: ItemRef) -> str:
    if item.number or not item.serial or item.serial[-6:] in item.name:
        return item.words
    return f"{item.name} {item.serial}"
