"""What left a store under a show's code, and what the ledger says of each of those things since."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, NamedTuple
from uuid import UUID

from django.db.models import Case, F, OuterRef, Q, Subquery, Value, When

from inventory.answers.loading import live
from inventory.answers.places import Room, rooms_by_id
from inventory.answers.refs import NAMED, codes_of, ref_of
from inventory.answers.values import ItemRef
from inventory.models import Grade, Item, Kind, Place, Verb
from inventory.models.catalogue import type_words
from inventory.prepared import Asked, Prepared
from shipping.following import Following, Step, follow
from shipping.models import PackLine

# Inside itself, inside what holds nothing, a vehicle inside anything but a vehicle: neither a placing nor evidence.
CAN_BE = Q(place__item=None) | (
    Q(place__item__type__container__isnull=False)
    & ~Q(place__item=F("label__item"))
    & (~Q(label__item__type__kind=Kind.VEHICLE) | Q(place__item__type__kind=Kind.VEHICLE))
)
DEPTH = 6  # vehicle, case, frame, drive, and room to spare: chains are no deeper


class Goods(NamedTuple):
    """One thing, as far as a return tells of it."""

    ref: ItemRef
    kind: str
    type_id: int
    type_name: str
    system_id: int | None
    system: str
    home_case: str
    count: int
    is_lot: bool
    hired_from: str
    off_hire_at: datetime | None


@dataclass(frozen=True, slots=True)
class Followed:
    """One show's things followed to `at`."""

    reference: str
    state: Following
    rooms: Mapping[int, Room]
    items: Mapping[int, Goods]


def followed(reference: str, at: datetime) -> Followed | None:
    """Read one show's trip, in a number of queries bounded by how deep things are packed; None if nothing left."""
    departures = DEPARTURES(references=[reference], at=at)
    if not departures:
        return None
    since = departures[0][1]
    movers = {item for _entry, _when, item, _place in departures}
    ids = _with_containers(_carried(movers, reference, since, at), since, at)
    holder, imported = _holders(ids, since)
    legs = {entry: place for entry, _when, _item, place in departures if place}
    steps = _steps(ids, since, at, legs)
    planned = _planned(ids, reference)
    rooms = rooms_by_id({*holder.values(), *planned.values(), *legs.values(), *(s.place for s in steps if s.place)})
    state = follow(
        steps,
        [entry for entry, *_ in departures],
        rooms=rooms,
        holder=holder,
        planned=planned,
        imported=imported,
    )
    return Followed(reference, state, rooms, _goods(ids))


DEPARTURES = Prepared(
    lambda references, at: live(at)
    .filter(reference__in=references, verb=Verb.DEPARTED, label__item__isnull=False, place__isnull=False)
    .order_by("happened_at", "id")
    .values_list("id", "happened_at", "label__item_id", "place__leg__from_place"),
    references=Asked.TEXTS, at=Asked.MOMENT,
)  # fmt: skip


def _newest(before: datetime, what: str) -> Subquery:
    """A column of an item's newest placing strictly before a moment; imports only where nothing else stands."""
    placings = live(before).filter(CAN_BE, label__item=OuterRef("pk"), place__isnull=False, happened_at__lt=before)
    last = Case(When(grade=Grade.IMPORT, then=Value(1)), default=Value(0))
    return Subquery(placings.order_by(last, "-happened_at", "-id").values(what)[:1])


# Asked at each depth of packing, of hundreds of things: put together once.
INSIDES = Prepared(
    lambda items: Place.objects.filter(item__in=items).order_by().values_list("pk"), items=Asked.IDS
)  # fmt: skip
BEFORE = Prepared(
    lambda places, since: Item.objects.filter(labels__entries__place__in=places, labels__entries__happened_at__lt=since)
    .annotate(was_in=_newest(since, "place")).filter(was_in__in=places).order_by().values_list("pk").distinct(),
    places=Asked.IDS, since=Asked.TOLD_UNTIL,
)  # fmt: skip
LATER = Prepared(
    lambda places, since, at: live(at).filter(happened_at__gte=since, place__in=places, label__item__isnull=False)
    .order_by().values_list("label__item").distinct(),
    places=Asked.TOLD_PLACES, since=Asked.MOMENT, at=Asked.MOMENT,
)  # fmt: skip
BY_PLAN = Prepared(
    lambda cases, show: Item.objects.in_stock().filter(
        Q(home_case__in=cases) | Q(pk__in=PackLine.objects.filter(show__code__in=show, case__in=cases).values("item"))
    ).order_by().values_list("pk"),
    cases=Asked.IDS, show=Asked.TEXTS,
)  # fmt: skip
AROUND = Prepared(
    lambda items, since, at: Place.objects.filter(
        Q(pk__in=Item.objects.filter(pk__in=items).order_by().annotate(was_in=_newest(since, "place")).values("was_in"))
        | Q(pk__in=live(at).filter(happened_at__gte=since, label__item__in=items).order_by().values("place")),
        item__isnull=False,
    ).order_by().values_list("item"),
    items=Asked.TOLD_THINGS, since=Asked.MOMENT, at=Asked.MOMENT,
)  # fmt: skip
HELD = Prepared(
    lambda items, since: Item.objects.filter(pk__in=items)
    .annotate(was_in=_newest(since, "place"), how=_newest(since, "grade"))
    .order_by("pk").values_list("pk", "was_in", "how"),
    items=Asked.TOLD_THINGS, since=Asked.MOMENT,
)  # fmt: skip


def _ids(rows: Iterable[tuple[Any, ...]]) -> set[int]:
    return {pk for (pk,) in rows}


def _carried(movers: set[int], reference: str, since: datetime, at: datetime) -> set[int]:
    """Everything that was in these at the first departure or was put into them later, at any depth."""
    known = set(movers)
    frontier = set(movers)
    for _level in range(DEPTH):
        places = _ids(INSIDES(items=frontier))
        if not places:
            break
        frontier = _put_into(places, frontier, reference, since, at) - known
        known |= frontier
    return known


def _put_into(places: set[int], containers: set[int], reference: str, since: datetime, at: datetime) -> set[int]:
    before, later = BEFORE(places=places, since=since), LATER(places=places, since=since, at=at)
    return _ids([*before, *later, *BY_PLAN(cases=containers, show=[reference])])


def _with_containers(ids: set[int], since: datetime, at: datetime) -> set[int]:
    """These, and whatever holds or held them since, so that each chain can be walked to its end."""
    known = set(ids)
    frontier = set(ids)
    for _level in range(DEPTH):
        frontier = _ids(AROUND(items=frontier, since=since, at=at)) - known
        if not frontier:
            break
        known |= frontier
    return known


def _holders(ids: set[int], since: datetime) -> tuple[dict[int, int], set[int]]:
    """Who held each item just before `since`, and which of them only by import."""
    rows = [row for row in HELD(items=ids, since=since) if row[1]]
    return {pk: place for pk, place, _how in rows}, {pk for pk, _place, how in rows if how == Grade.IMPORT}


STEP = (
    "id", "happened_at", "label__item_id", "verb", "grade", "by", "place_id", "person__name", "due_at", "note",
    "condition", "quantity", "reference",
)  # fmt: skip


TOLD = Prepared(
    lambda items, since, at: live(at).filter(CAN_BE, happened_at__gte=since, label__item__in=items)
    .order_by("happened_at", "id").values_list(*STEP),
    items=Asked.TOLD_THINGS, since=Asked.MOMENT, at=Asked.MOMENT,
)  # fmt: skip


def _steps(ids: set[int], since: datetime, at: datetime, legs: Mapping[UUID, int]) -> list[Step]:
    """What was told of these since; `legs`: where the leg of each departure starts by the plan."""
    found = []
    for pk, when, item, verb, grade, by, place, person, *more in TOLD(items=ids, since=since, at=at):
        found.append(Step(pk, when, item, verb, grade, by, place, person or "", *more, legs.get(pk)))
    return found


GOODS = Prepared(
    lambda items: Item.objects.filter(pk__in=items).order_by().values_list(
        *NAMED, "type__kind", "type", "home_system", "home_system__name", "home_case__number", "home_case__name",
        "quantity", "type__is_lot", "owner__is_ours", "owner__name", "off_hire_at",
    ),
    items=Asked.IDS,
)  # fmt: skip


def _goods(ids: set[int]) -> dict[int, Goods]:
    codes = codes_of(ids)
    return {row[0]: _one_of(codes.get(row[0], ""), row[: len(NAMED)], *row[len(NAMED) :]) for row in GOODS(items=ids)}


def _one_of(code: str, named: tuple[Any, ...], kind: str, type_id: int, *more: Any) -> Goods:
    system_id, system, number, name, count, is_lot, is_ours, owner, off_hire_at = more
    return Goods(
        ref_of(code, *named), kind, type_id, type_words(*named[-2:]), system_id, system or "", number or name or "",
        count, is_lot, "" if is_ours else owner, off_hire_at,
    )  # fmt: skip


HOMES = Prepared(
    lambda items: Item.objects.filter(pk__in=items, home_case__inside__isnull=False).order_by()
    .values_list("pk", "home_case__inside"),
    items=Asked.IDS,
)  # fmt: skip
LINES = Prepared(
    lambda items, show: PackLine.objects.filter(show__code__in=show, item__in=items, case__inside__isnull=False)
    .order_by("id").values_list("item", "case__inside"),
    items=Asked.IDS, show=Asked.TEXTS,
)  # fmt: skip


def _planned(ids: set[int], reference: str) -> dict[int, int]:
    """Where each is by the plan: its pack line of this show, else its home case."""
    return dict([*HOMES(items=ids), *LINES(items=ids, show=[reference])])
