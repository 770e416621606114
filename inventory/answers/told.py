"""What the ledger tells of things: the entries that stand, and the queries that are asked at every step of a chain.

Those are put together once for present knowledge (inventory/prepared.py); what was known at an earlier moment is
asked more seldom.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from datetime import datetime
from functools import cache
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet, Subquery

from inventory.answers import latest
from inventory.answers.stands import Stands
from inventory.models import Entry, Label, Place, Role, Verb
from inventory.prepared import Asked, Prepared, Rows

COLUMNS = (
    "id", "verb", "label__item_id", "place_id", "bay", "quantity", "seal", "grade", "happened_at", "stated",
    "device_id", "by", "note",
)  # fmt: skip


ALL = Q()


def corrections(known_at: datetime | None = None) -> QuerySet[Entry]:
    """`corrected` entries that take back the outer query's entry: its own device's, or a kit manager's."""
    found = Entry.objects.filter(
        Q(device=OuterRef("device")) | Q(role=Role.KIT_MANAGER, day_pass=None), corrects=OuterRef("act")
    )
    return found if known_at is None else found.filter(received_at__lte=known_at)


def told(at: datetime | None = None, known_at: datetime | None = None) -> QuerySet[Entry]:
    """Entries up to a moment, and received by another; taken back or not. Without order."""
    found = Entry.objects.order_by()
    if at is not None:
        found = found.filter(happened_at__lte=at)
    return found if known_at is None else found.filter(received_at__lte=known_at)


def live(at: datetime | None = None, known_at: datetime | None = None) -> QuerySet[Entry]:
    """Entries that stand: `corrected` ones are no evidence, `amended` ones are never taken back."""
    return told(at, known_at).filter(Stands() if known_at is None else stands_by(known_at))


def stands_by(known_at: datetime | None) -> Q:
    """The same by the corrections received until then."""
    return Q(~Q(verb=Verb.CORRECTED), Q(verb=Verb.AMENDED) | ~Exists(corrections(known_at)))


def _told_of(items: Collection[int], at: datetime, known_at: datetime | None = None, more: Q = ALL) -> Any:
    """What was told of these, oldest first, by the columns of a Row."""
    found = live(at, known_at).filter(more, label__item__in=items)
    return found.order_by("happened_at", "id").values_list(*COLUMNS)


class ToldOf:
    """What was told of things under a condition that may turn on a moment; put together once, by present knowledge."""

    def __init__(self, more: Callable[[Any], Q]) -> None:
        self.more = more
        self.now = Prepared(
            lambda items, at, moment: _told_of(items, at, None, more(moment)),
            items=Asked.TOLD_THINGS, at=Asked.MOMENT, moment=Asked.MOMENT,
        )  # fmt: skip

    def __call__(self, items: Collection[int], at: datetime, known_at: datetime | None, moment: datetime) -> Any:
        if known_at is None:
            return self.now(items=items, at=at, moment=moment)
        return _told_of(items, at, known_at, self.more(moment))


EVERYTHING = ToldOf(lambda moment: ALL)
PLACINGS = ToldOf(lambda moment: Q(place__isnull=False))
PLACED_OR_SINCE = ToldOf(lambda moment: Q(place__isnull=False) | Q(happened_at__gte=moment))


@cache
def newest_few(most: int) -> ToldOf:
    """So many of the newest entries of each code."""
    return ToldOf(lambda moment: latest.since_cut(moment, most))


@cache
def since_before(most: int) -> ToldOf:
    """Everything since a moment, and so many of each code before it."""
    return ToldOf(lambda moment: latest.since_before(moment, most))


# Asked at every step outward and inward: put together once.
SPOTS = Prepared(
    lambda places: Place.objects.filter(pk__in=places).order_by()
    .values_list("pk", "kind", "name", "item", "parent__name", "purpose"),
    places=Asked.IDS,
)  # fmt: skip
INSIDES = Prepared(
    lambda items: Place.objects.filter(item__in=items).order_by().values_list("item_id", "pk"), items=Asked.IDS
)


def newest_of(items: Any, at: Any, known_at: datetime | None = None) -> QuerySet[Label, Any]:
    """When something was last told of each code of these items."""
    newest = told(at, known_at).filter(label=OuterRef("pk")).order_by("-happened_at").values("happened_at")[:1]
    labels = Label.objects.filter(item__in=items).order_by().annotate(newest=Subquery(newest))
    return labels.values_list("item_id", "newest")


NEWEST_OF = Prepared(newest_of, items=Asked.TOLD_THINGS, at=Asked.MOMENT)


def put_in_bays(places: Any, bays: Any, first: Any, at: Any, known_at: datetime | None = None) -> QuerySet[Entry, Any]:
    """What anybody said of these bays of these places since a moment."""
    found = told(at, known_at).filter(place__in=places, bay__in=bays, happened_at__gte=first, label__item__isnull=False)
    return found.values_list("label__item_id").distinct()


PUT_IN_BAYS = Prepared(put_in_bays, places=Asked.TOLD_PLACES, bays=Asked.TEXTS, first=Asked.MOMENT, at=Asked.MOMENT)
EVER_IN = Prepared(
    lambda places: Entry.objects.filter(place__in=places).order_by().values_list("place_id", "label_id").distinct(),
    places=Asked.TOLD_PLACES,
)
OF_LABELS = Prepared(
    lambda labels: Label.objects.filter(pk__in=labels, item__isnull=False).order_by().values_list("pk", "item_id"),
    labels=Asked.IDS,
)


def heard_of(items: Collection[int], at: datetime, known_at: datetime | None) -> Rows:
    """When something was last told of each code of these items: item and moment."""
    return NEWEST_OF(items=items, at=at) if known_at is None else list(newest_of(items, at, known_at))


def put_in(places: set[int | None], bays: set[str], first: datetime, at: datetime, known_at: datetime | None) -> Rows:
    """Items of which anybody said since a moment that they are in one of these bays of these places."""
    if known_at is None:
        return PUT_IN_BAYS(places=places, bays=bays, first=first, at=at)
    return list(put_in_bays(places, bays, first, at, known_at))
