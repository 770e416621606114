"""Reads of the ledger that the rules need, each one query for many things at once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from datetime import datetime
from typing import Any, NamedTuple
from uuid import UUID

from django.db.models import Exists, Max, OuterRef, Q, QuerySet

from inventory.answers.faults import faults_told
from inventory.answers.loading import live
from inventory.models import Entry, Grade, Holding, PlaceKind, Verb
from inventory.prepared import Asked, Prepared

Moment = tuple[datetime, UUID]
LOOKED = (Grade.SCAN, Grade.TICK)
OWN_VERBS = (Verb.SEALED, Verb.SEAL_BROKEN, Verb.WEIGHED, Verb.CHECKED, Verb.SEEN)


class Told(NamedTuple):
    """One entry, as far as a seal, a scale or a look at a case goes."""

    pk: UUID
    happened_at: datetime
    item: int
    type: int
    verb: str
    seal: str
    mass_g: int | None
    rule: str
    value: str
    by: str


TOLD = ("pk", "happened_at", "label__item_id", "label__item__type_id", "verb", "seal", "mass_g", "rule", "value", "by")


def told(entries: QuerySet[Entry]) -> list[Told]:
    """Oldest first."""
    return [Told._make(one) for one in entries.order_by("happened_at", "pk").values_list(*TOLD)]


def moment(entry: Entry | Told) -> Moment:
    return (entry.happened_at, entry.pk)


def newest(times: Iterable[Moment | None]) -> Moment | None:
    return max((one for one in times if one is not None), default=None)


def place_words(holding: Holding | None) -> str:
    """Where a thing is, for the middle of a sentence; nothing if the ledger has no place for it."""
    if holding is None or holding.place is None:
        return ""
    place = holding.place
    return where_words(place.kind, place.name, str(place.item) if place.item else "")


def where_words(kind: str, name: str, holder: str) -> str:
    """Of a place of a kind and a name, `holder` being what it is the inside of, if anything."""
    if holder:
        return f"in {holder}"
    return f"with {name}" if kind == PlaceKind.PERSON else f"at {name}"


# Asked of every page that tells of cases: put together once.
LAST_IN = Prepared(
    lambda places, at: live(at).filter(place__in=places, grade__in=LOOKED, label__item__isnull=False)
    .values_list("place_id", "label__item_id").annotate(newest=Max("happened_at")).order_by(),
    places=Asked.TOLD_PLACES, at=Asked.MOMENT,
)  # fmt: skip
OWN = Prepared(
    lambda items, at: live(at).filter(label__item__in=items, verb__in=OWN_VERBS).order_by("happened_at", "pk")
    .values_list(*TOLD),
    items=Asked.TOLD_THINGS, at=Asked.MOMENT,
)  # fmt: skip
LOOKS = Prepared(
    lambda items, since, at: live(at).filter(label__item__in=items, grade__in=LOOKED, happened_at__gte=since)
    .order_by("happened_at", "pk").values_list("label__item_id", "happened_at", "pk"),
    items=Asked.TOLD_THINGS, since=Asked.MOMENT, at=Asked.MOMENT,
)  # fmt: skip
MOVES = Prepared(
    lambda items, since, at: live(at).filter(
        label__item__in=items, place__isnull=False, grade__in=LOOKED, happened_at__gte=since
    ).order_by("happened_at", "pk").values_list("label__item_id", "place_id", "happened_at", "pk"),
    items=Asked.TOLD_THINGS, since=Asked.MOMENT, at=Asked.MOMENT,
)  # fmt: skip
HERE = Prepared(
    lambda items: Holding.objects.filter(item__in=items).order_by().values_list("item_id", "place_id"),
    items=Asked.IDS,
)  # fmt: skip


def last_changed(insides: dict[int, int], at: datetime) -> dict[int, Moment]:
    """When something was last put into or taken out of each container by scan or tick.

    `insides` maps the id of a container's inside to the id of the case it counts for: a frame's bays to its case.
    """
    rows = LAST_IN(places=insides, at=at)
    found: dict[int, list[Moment]] = defaultdict(list)
    for place_id, when, entry in NEWEST_INTO(places=insides, at=at):
        found[insides[place_id]].append((when, entry))
    for place_id, left in _left(rows, at):
        found[insides[place_id]].append(left)
    return {case: max(times) for case, times in found.items()}


def _newest_into(places: Collection[int], at: datetime) -> QuerySet[Entry, Any]:
    """The newest placing into each container, by scan or tick."""
    later = live(at).filter(place=OuterRef("place"), grade__in=LOOKED).filter(
        Q(happened_at__gt=OuterRef("happened_at")) | Q(happened_at=OuterRef("happened_at"), pk__gt=OuterRef("pk"))
    )  # fmt: skip
    newest = live(at).filter(place__in=places, grade__in=LOOKED).filter(~Exists(later))
    return newest.order_by().values_list("place_id", "happened_at", "pk")


NEWEST_INTO = Prepared(_newest_into, places=Asked.TOLD_PLACES, at=Asked.MOMENT)


def _left(rows: list[tuple[int, int, datetime]], at: datetime) -> Iterable[tuple[int, Moment]]:
    """For each thing that is no longer where it was put: the first placing elsewhere after it, by scan or tick."""
    here = dict(HERE(items={item for _, item, _ in rows}))
    gone = [(place, item, when) for place, item, when in rows if here.get(item) != place]
    if not gone:
        return
    moves: dict[int, list[tuple[int, Moment]]] = defaultdict(list)
    since = min(when for _, _, when in gone)
    for item, where, *key in MOVES(items={item for _, item, _ in gone}, since=since, at=at):
        moves[item].append((where, (key[0], key[1])))
    for place, item, when in gone:
        first = next((then for where, then in moves[item] if where != place and then[0] >= when), None)
        if first is not None:
            yield place, first


def fault_words(item_ids: Collection[int], at: datetime) -> dict[int, str]:
    """The words of the newest fault of each thing that nobody closed since."""
    found = faults_told(item_ids, at)
    return {item: faults[-1].note or faults[-1].condition or "no words given" for item, faults in found.items()}


def own_entries(item_ids: Collection[int], at: datetime) -> dict[int, list[Told]]:
    """What was said of cases themselves: seals, scales, looks; oldest first."""
    found: dict[int, list[Told]] = defaultdict(list)
    for one in map(Told._make, OWN(items=item_ids, at=at)):
        found[one.item].append(one)
    return found


def looked_at(held: dict[int, int], since: datetime, at: datetime) -> dict[int, Moment]:
    """The newest scan or tick, since a time, of anything held: item id to case id in, case id to moment out."""
    return {held[item]: (when, ident) for item, when, ident in LOOKS(items=held, since=since, at=at)}
