"""How much of what was told of a thing must be read to know where it is: its newest entries, unless they do not do.

A case that was on the road for years has thousands of entries, and its newest few say where it is and how sure that
is. Not always: a bay may have been named long ago, a count taken, a placing imported. `suffices` and `reaches` find
out, and err on the side of reading everything.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from datetime import UTC, datetime
from functools import cache
from typing import Any, NamedTuple

from django.db import connection
from django.db.models import DateTimeField, OuterRef, Q, QuerySet, Subquery
from django.db.models.expressions import RawSQL

from inventory.answers.book import DISPUTED_VERBS, Book, Row, stories
from inventory.models import Entry, Label
from inventory.prepared import Asked, Prepared, Rows

STEPS = (4, 16)  # entries of each code that are read at first, and where those do not do: the few tell most things
BEFORE = 8  # entries of each code before the moment that matters: a placing is most likely among them
EVER = datetime(1, 1, 1, tzinfo=UTC)


class Put(NamedTuple):
    """One way in which an item was ever placed, taken back or not."""

    place: int
    verb: str
    bay: str


class Cuts(NamedTuple):
    """From when on each item's newest entries tell everything, and all codes of these items with their item.

    Items that have no older entries are absent.
    """

    since: dict[int, datetime]
    codes: dict[int, int]


@cache
def _asked_for_cuts(until: str, most: int) -> Prepared:
    def ask(items: Any, moment: Any) -> QuerySet[Label, Any]:
        told = Entry.objects.filter(Q((f"happened_at__{until}", moment)), label=OuterRef("pk"))
        newest = told.order_by("-happened_at", "-id").values("happened_at")[most : most + 1]
        labels = Label.objects.filter(item__in=items).order_by().annotate(cut=Subquery(newest))
        return labels.values_list("pk", "item_id", "cut")

    return Prepared(ask, items=Asked.TOLD_THINGS, moment=Asked.MOMENT)


def cuts_of(items: Collection[int], at: datetime, most: int) -> Cuts:
    """Where the newest so many entries up to a moment begin."""
    return _cuts(_asked_for_cuts("lte", most)(items=items, moment=at))


def cuts_before(items: Collection[int], moment: datetime) -> dict[int, datetime]:
    """The same for everything since a moment, and the newest few entries before it."""
    return _cuts(_asked_for_cuts("lt", BEFORE)(items=items, moment=moment)).since


def _cuts(labels: Rows) -> Cuts:
    since: dict[int, datetime] = {}
    codes: dict[int, int] = {}
    for label, item, cut in labels:
        codes[label] = item or 0
        if cut is not None:
            since[item or 0] = max(cut, since.get(item or 0, cut))
    return Cuts(since, {label: item for label, item in codes.items() if item in since})


def since_cut(at: datetime, most: int) -> Q:
    """Entries no older than their code's cut: the condition behind `cuts_of`."""
    return _since("<=", at, most)


def since_before(moment: datetime, most: int) -> Q:
    """The condition behind `cuts_before`, with so many before the moment."""
    return _since("<", moment, most)


def _since(until: str, moment: datetime, most: int) -> Q:
    """Asked of each code, not of each entry: the database then reads no more of the index than it gives back."""
    cut = f"""COALESCE((SELECT told.happened_at FROM inventory_entry told
        WHERE told.label_id = inventory_label.id AND told.happened_at {until} %s
        ORDER BY told.happened_at DESC, told.id DESC LIMIT 1 OFFSET {most}), %s)"""
    values = [connection.ops.adapt_datetimefield_value(one) for one in (moment, EVER)]
    return Q(happened_at__gte=RawSQL(cut, values, output_field=DateTimeField()))


PUT = Prepared(
    lambda labels: Entry.objects.filter(label__in=labels, place__isnull=False).order_by()
    .values_list("label_id", "place_id", "verb", "bay").distinct(),
    labels=Asked.TOLD_CODES,
)  # fmt: skip


def ever_put(codes: Mapping[int, int]) -> dict[int, set[Put]]:
    """Every way in which the items of these codes were ever placed; read off one index, however often they were."""
    found: dict[int, set[Put]] = defaultdict(set)
    for label, place, verb, bay in PUT(labels=codes.keys()):
        found[codes[label]].add(Put(place, verb, bay))
    return found


def suffices(book: Book, item: int, ever: Collection[Put]) -> bool:
    """Do its newest entries give what all of them would: place, bay, sight, disputes, count, what cannot be?"""
    placings, stay = book.placings(item), book.stay(item)
    if not placings or _imported(book, item):
        return False
    began = len(stay) < len(placings)  # the present stay began within what was read
    named = any(put.bay and put.place == stay[-1].place for put in ever)
    bay_known = began or not named or any(row.bay for row in stay)
    sight_known = began or book.sight(item) is not None
    counted = not book.things[item].is_lot or any(row.verb == "counted" for row in book.rows[item])
    possible = all(book.fits(item, put.place) for put in ever)
    return bay_known and sight_known and counted and possible and _no_older_story(book, item, ever)


def _imported(book: Book, item: int) -> bool:
    """An import counts or not by what else there is, perhaps long ago."""
    return any(row.grade == "import" and row.place is not None for row in book.rows[item])


def _no_older_story(book: Book, item: int, ever: Collection[Put]) -> bool:
    """Can none of the two newest stories be older than what was read, and in dispute?"""
    told = stories(book, item)
    if len(told) > 2 or told[-1].verb not in DISPUTED_VERBS:
        return True
    if len(told) == 2:
        old, new = told
        return old.verb != new.verb or old.place == new.place or old.device == new.device
    return not any(put.verb == told[0].verb and put.place != told[0].place for put in ever)


def reaches(book: Book, item: int, moment: datetime) -> bool:
    """Do the entries that were read say where it was just before a moment?"""
    return not _imported(book, item) and any(row.at < moment for row in book.placings(item))


def shows_interior(book: Book, container: int, sights: Collection[Row], start: datetime | None) -> bool:
    """Do a container's newest entries go back to where its interior is read from, and to its place before that?"""
    if start is None or not reaches(book, container, start):
        return False
    own = book.rows[container]
    oldest = min((row.key for row in sights), default=own[-1].key)
    marks = [[row for row in own if row.verb == "sealed" and row.key <= oldest]]
    if sights and book.things[container].kind == "vehicle":
        marks.append([row for row in own if book.is_placing(row) and row.key <= oldest])
    return all(marks)
