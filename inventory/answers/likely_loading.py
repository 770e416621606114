"""From the database to a trail: the rows round one lost thing, in a number of queries that does not grow."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q, QuerySet

from inventory.answers.book import SIGHT
from inventory.answers.likely import SAME_TIME, LookHere, Seen, Spot, Trail, last_sight, places_to_look
from inventory.answers.loading import live
from inventory.answers.values import Reason, Strength
from inventory.models import Entry, Item, Place, PlaceKind
from inventory.registering import inside_of

OWN_ROWS, MATES, NEAR, MATE_ROWS, CASE_ROWS, TWINS = 300, 200, 400, 3000, 2000, 8
UNSURE = frozenset(
    {Strength.MISSING, Strength.UNKNOWN, Strength.PLANNED_ONLY, Strength.WAS_IN_HERE, Strength.SAID}
)  # fmt: skip
COLUMNS = ("id", "happened_at", "label__item", "place", "grade", "verb", "by")


@dataclass(frozen=True, slots=True)
class WhereToLook:
    """Places to look for one thing, the likeliest first, each with the points that put it there."""

    answer: str
    sentence: str
    at: datetime
    looks: tuple[LookHere, ...]
    reasons: tuple[Reason, ...] = ()


def where_to_look(item: Item, at: datetime) -> WhereToLook:
    """The ranked places; `answer` is the first one's name, or "nowhere" if nothing speaks for any place."""
    looks = tuple(places_to_look(trail_of(item, at)))
    if not looks:
        return WhereToLook("nowhere", f"Nothing in the book says where to look for {item}. Scan it when found.", at, ())
    reasons = tuple(
        Reason(look.name, f"{look.name}: {look.why}.", "Look there; scan it when found.", (), (item.pk,))
        for look in looks
    )
    return WhereToLook(looks[0].name, f"Look for {item} in {looks[0].name} first: {looks[0].why}.", at, looks, reasons)


def trail_of(item: Item, at: datetime) -> Trail:
    """What the book holds round this thing up to a moment."""
    twins = _twins(item)
    homes = {twin.pk: _home(twin) for twin in twins}
    own = _rows(live(at).filter(label__item=item.pk).order_by("-happened_at", "-id")[:OWN_ROWS])
    twin_rows = _rows(live(at).filter(label__item__in=homes).order_by("-happened_at", "-id")[:MATE_ROWS])
    known = {row[0] for row in own} | {row[0] for row in twin_rows}
    rows = [*own, *twin_rows]
    home = _home(item)
    places = {row[1].place for row in rows} | set(homes.values()) | {home}
    bare = Trail(item.pk, _sorted(own), {}, home, homes)
    last = last_sight(bare)
    if last is not None:
        more = _handled(bare.place_at(item.pk, last.at), home, last, at)
        rows += [row for row in more if row[0] not in known]
        places |= {row[1].place for row in more}
    rows, spots = _with_cases(rows, places, at)
    return Trail(item.pk, _sorted(rows), spots, home, homes)


Keyed = tuple[object, Seen]


def _rows(entries: Iterable[Entry] | QuerySet[Entry]) -> list[Keyed]:
    found = []
    for pk, when, item, place, grade, verb, by in entries.values_list(*COLUMNS):
        found.append((pk, Seen(when, item, place, grade in SIGHT, verb, by)))
    return found


def _sorted(rows: Iterable[Keyed]) -> tuple[Seen, ...]:
    unique = dict(rows)
    return tuple(row for _, row in sorted(unique.items(), key=lambda pair: (pair[1].at, pair[0])))


def _handled(place: int | None, home: int | None, last: Seen, at: datetime) -> list[Keyed]:
    """What was in the same case, what went in or out of it since, and what was packed at the same hour.

    Of a thing last seen in a room or in hands, the case is the one that it should have gone back to.
    """
    since = last.at - SAME_TIME
    near = live(at).filter(happened_at__gte=since, happened_at__lte=last.at + SAME_TIME, place__item__isnull=False)
    found = _rows(near.filter(label__item__isnull=False).order_by("happened_at", "id")[:NEAR])
    inside = next((one for pk in (place, home) for one in Place.objects.filter(pk=pk, item__isnull=False)), None)
    if inside is None:
        return found
    mates = live(at).filter(place=inside, label__item__isnull=False).order_by("-happened_at")
    ids = {*mates.values_list("label__item", flat=True)[:MATES], inside.item_id}
    return found + _rows(live(at).filter(label__item__in=ids).order_by("-happened_at", "-id")[:MATE_ROWS])


def _with_cases(rows: list[Keyed], places: set[int | None], at: datetime) -> tuple[list[Keyed], dict[int, Spot]]:
    """The rows with those of every container that they name, and the places of all of them."""
    spots = _spots(places)
    cases = {spot.item for spot in spots.values() if spot.item is not None}
    placed = live(at).filter(label__item__in=cases, place__isnull=False)
    rows = rows + _rows(placed.order_by("-happened_at", "-id")[:CASE_ROWS])
    broken = Q(verb="seal broken", label__item__in=cases)
    rows += _rows(live(at).filter(broken).order_by("-happened_at", "-id")[:MATES])
    return rows, spots | _spots({row.place for _, row in rows} - spots.keys())


def _spots(places: Iterable[int | None]) -> dict[int, Spot]:
    found = Place.objects.filter(pk__in=[one for one in places if one is not None]).select_related("item", "parent")
    passing = (PlaceKind.ROAD, PlaceKind.GONE)
    return {one.pk: Spot(_name(one), one.item_id, one.kind == PlaceKind.PERSON, one.kind in passing) for one in found}


def _name(place: Place) -> str:
    if place.item is not None:
        return place.item.number or str(place.item)
    if place.kind == PlaceKind.PERSON:
        return f"the hands of {place.name}"
    return f"{place.name}, {place.parent}" if place.parent else place.name


def _home(item: Item) -> int | None:
    return inside_of(item.home_case).pk if item.home_case_id else None


def _twins(item: Item) -> list[Item]:
    """Alike things of other systems."""
    if item.quantity != 1 or item.home_system_id is None:
        return []
    alike = Item.objects.in_stock().filter(type=item.type_id).exclude(home_system=None)
    return list(alike.exclude(home_system=item.home_system_id).select_related("home_case__type").order_by("pk")[:TWINS])
