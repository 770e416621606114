"""The list that a scan is looked up in: what each thing is, where it should go, and where it was put last."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, NamedTuple
from uuid import UUID

from django.db.models import QuerySet
from django.utils import timezone

from inventory.models import DriveSet, Entry, Holding, Item, Kind, Place, Verb
from inventory.prepared import Asked as AskedWith
from inventory.prepared import Prepared
from inventory.saying import Doing, Line

PLACING_WORDS = {Verb.LOADED, Verb.UNLOADED, Verb.PLACED, Verb.PACKED, Verb.FITTED, Verb.ARRIVED, Verb.RECEIVED}


class Placing(NamedTuple):
    """The entry that put a thing where it is."""

    happened_at: datetime
    by: str
    device_id: UUID | None
    label_id: int | None
    verb: str
    place_id: int | None
    bay: str


class Held(NamedTuple):
    """Where a thing was put last, and by which entry."""

    place_id: int
    bay: str
    entry: Placing | None


@dataclass(frozen=True, slots=True)
class Asked:
    """Where should this item go, says whoever plans, when it is scanned so?"""

    item: int
    verb: str
    place: int | None
    reference: str


Planner = Callable[[Iterable[Asked]], dict[Asked, tuple[str, str]]]

# Who knows where things should go in a job. Each answers with a place key and words that follow "goes".
planners: list[Planner] = []


def place_key(place: Place | None) -> str:
    return f"place:{place.pk}" if place else ""


def place_words(place: Place | None) -> str:
    """How people say a place: a container by its own number or name."""
    if place is None:
        return ""
    item = place.item
    return (item.number or item.name or str(item.type)) if item else place.name


def doing_of(verb: str, place: Place | None, bay: str, sets: tuple[str, ...] = ()) -> Doing:
    return Doing(verb=verb, place=place_key(place), place_words=place_words(place), bay=bay, sets=sets)


def holdings_of(items: Iterable[int]) -> dict[int, Held]:
    """Where each of these was put last, by present knowledge."""
    return {
        item: Held(place, bay, Placing._make(entry) if entry[0] is not None else None)
        for item, place, bay, *entry in _HOLDINGS(items=items)
    }


def _holdings(items: list[int]) -> QuerySet[Holding, tuple[Any, ...]]:
    rows = Holding.objects.filter(item__in=items, place__isnull=False).order_by()
    return rows.values_list("item_id", "place_id", "bay", *(f"entry__{name}" for name in Placing._fields))


_HOLDINGS = Prepared(_holdings, items=AskedWith.IDS)


def line_of(item: Item, row: Held | None) -> Line:
    """What a list says of one thing: its name, and where it was put last."""
    if row is None:
        return Line(words=str(item))
    return Line(
        words=str(item),
        done_place=f"place:{row.place_id}",
        done_bay=row.bay,
        done_at=clock(row.entry.happened_at) if row.entry else "",
        done_by=row.entry.by if row.entry else "",
    )


def clock(at: datetime) -> str:
    return f"{timezone.localtime(at):%H:%M}"


def with_plans(line: Line, asked: Asked, item: Item, plans: dict[Asked, tuple[str, str]]) -> Line:
    """The line with where it should go: as planned for the job, else its home case when it is being packed."""
    if asked in plans:
        to, words = plans[asked]
        return replace(line, to=to, to_words=words)
    home = item.home_case
    if asked.verb == Verb.PACKED and home is not None and getattr(home, "inside", None):
        return replace(line, to=place_key(home.inside), to_words=f"in {home}")
    return line


def plans_for(asked: Iterable[Asked]) -> dict[Asked, tuple[str, str]]:
    asked = list(asked)
    found: dict[Asked, tuple[str, str]] = {}
    for planner in planners:
        found |= planner(asked)
    return found


def home_bays(item_ids: Iterable[int]) -> dict[int, tuple[str, str]]:
    """The set and bay each drive joined last, by item id."""
    rows = (
        Entry.objects.filter(verb=Verb.JOINED, label__item__in=list(item_ids), drive_set__isnull=False)
        .order_by("happened_at", "id")
        .values_list("label__item_id", "drive_set__name", "bay")
    )
    return {item: (name, bay) for item, name, bay in rows}


def sets_at_home(places: Iterable[Place]) -> dict[int, tuple[str, ...]]:
    """The sets whose drives belong in each of these frames, by place id."""
    frames = {
        place.pk: place.item.home_system_id for place in places if place.item and place.item.type.kind == Kind.FRAME
    }
    names: dict[int, list[str]] = {}
    for host, name in DriveSet.objects.filter(host__in=set(frames.values()) - {None}).values_list("host", "name"):
        names.setdefault(host, []).append(name)
    return {place: tuple(names.get(system, ())) for place, system in frames.items()}


def after(line: Line, doing: Doing, at: datetime, by: str) -> Line:
    """The line once this scan is recorded: what the next scan of the same thing is told."""
    if not doing.place or doing.verb not in PLACING_WORDS:
        return line
    return replace(line, done_place=doing.place, done_bay=doing.bay or line.done_bay, done_at=clock(at), done_by=by)
