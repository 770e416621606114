"""The list of things: its columns once, for the page, CSV and XLSX alike."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import islice
from typing import Any

import django_tables2 as tables
from django.db.models import F, QuerySet
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from inventory.models import Item, Place
from inventory.tables.by_place import ByPlace
from inventory.tables.drawing import Drawn
from inventory.tables.paging import NarrowFirst
from inventory.templatetags.words import venue_time

TOGETHER = 500  # things read whole at once for a file


def link_to(item: Item, words: str) -> SafeString:
    code = item.code
    return format_html('<a href="{}">{}</a>', reverse("item", args=[code]), words) if code else format_html("{}", words)


class ThingTable(Drawn):
    """One line a thing. Sorting and filters stand in the address; `pk` ends every order, so no page repeats a line."""

    called = tables.Column("Thing", empty_values=())
    code = tables.Column("Code", empty_values=(), orderable=False, attrs={"td": {"class": "mono"}})
    serial = tables.Column("Serial", order_by=("serial", "pk"), attrs={"td": {"class": "mono"}})
    kind = tables.Column("Kind", accessor="type__get_kind_display", order_by=("type__kind", "pk"))
    quantity = tables.Column(
        "Pieces", order_by=("quantity", "pk"), attrs={"th": {"class": "num"}, "td": {"class": "num"}}
    )
    home = tables.Column("Home", order_by=("home_system__name", "home_case__number", "pk"), empty_values=())
    place = tables.Column("In", accessor="holding__place", order_by=("holding__place__name", "pk"))
    bay = tables.Column("Bay", accessor="holding__bay", orderable=False)
    since = tables.Column(
        "Since", accessor="holding__entry__happened_at", order_by=("holding__entry__happened_at", "pk")
    )
    owner = tables.Column("Owner", order_by=("owner__name", "pk"))

    class Meta:
        empty_text = "No thing fits this. Take a filter away, or look the word up in the box above."

    def order_called(self, queryset: QuerySet[Item], is_descending: bool) -> tuple[QuerySet[Item], bool]:
        """By number, then by name; what has no number stands after what has."""
        number = F("number").desc(nulls_last=True) if is_descending else F("number").asc(nulls_last=True)
        names = ("type__maker", "type__name", "name", "serial", "pk")
        return queryset.order_by(number, *(f"-{name}" if is_descending else name for name in names)), True

    def render_called(self, record: Item) -> SafeString:
        return link_to(record, self.value_called(record))

    def value_called(self, record: Item) -> str:
        words = record.name or str(record.type)
        return f"{record.number} {words}" if record.number else words

    def render_code(self, record: Item) -> str:
        return record.code

    def render_serial(self, record: Item) -> str:
        return record.serial

    def render_kind(self, record: Item) -> str:
        return str(record.type.get_kind_display())

    def render_quantity(self, record: Item) -> int:
        return record.quantity

    def render_home(self, record: Item) -> str:
        return ", ".join(str(part) for part in (record.home_set or record.home_system, record.home_case) if part)

    def render_place(self, record: Item) -> SafeString | str:
        place = _held(record, "place")
        return format_html('<a href="{}">{}</a>', reverse("place", args=[place.pk]), place.called) if place else ""

    def value_place(self, value: Place) -> str:
        return value.called

    def render_bay(self, record: Item) -> str:
        return _held(record, "bay") or ""

    def render_since(self, record: Item) -> str:
        entry = _held(record, "entry")
        return venue_time(entry.happened_at) if entry else ""

    def value_since(self, value: Any) -> Any:
        return value

    def render_owner(self, record: Item) -> SafeString | str:
        owner = record.owner
        return "ours" if owner.is_ours else format_html('<span class="hired">{}, hired in</span>', owner)

    def value_owner(self, value: Any) -> str:
        return str(value)


def _held(record: Item, what: str) -> Any:
    """Something of where a thing is, if anybody ever said."""
    return getattr(record.holding, what) if hasattr(record, "holding") else None


class ThingLines(NarrowFirst):
    """Things as the table's rows. By place and by number they are read in the order itself, not sorted as a whole.

    `anywhere` are the same things, whatever place they are asked for; `within` the place they are to be in or under,
    None for anywhere.
    """

    def __init__(self, found: QuerySet[Item], anywhere: QuerySet[Item], within: Place | None) -> None:
        super().__init__(found, rows())
        self.anywhere, self.within, self.found, self.sort = anywhere, within, found, ""

    def order_by(self, aliases: Sequence[str]) -> None:
        super().order_by(aliases)
        self.sort = aliases[0] if len(aliases) == 1 else ""

    def keys(self, start: int, stop: int | None) -> list[int]:
        if self.sort in {"place", "-place"}:
            return list(islice(self._by_place(start), None if stop is None else stop - start))
        if self.sort in {"called", "-called"} and stop is not None:
            return self._by_number(start, stop)
        return super().keys(start, stop)

    def __iter__(self) -> Iterator[Any]:
        """All of them, as a file holds them."""
        if self.sort not in {"place", "-place"}:
            yield from super().__iter__()
            return
        keys = self._by_place()
        while some := list(islice(keys, TOGETHER)):
            yield from self._whole(some)

    def _by_place(self, start: int = 0) -> Iterator[int]:
        return ByPlace(self.anywhere, self.within, backwards=self.sort.startswith("-")).keys(start)

    def _by_number(self, start: int, stop: int) -> list[int]:
        """What has a number stands first, either way: the others are sorted only for a page that they stand on."""
        numbered = self.found.filter(number__isnull=False)
        order = "-number" if self.sort.startswith("-") else "number"
        keys = list(numbered.order_by(order).values_list("pk", flat=True)[start:stop])
        if len(keys) == stop - start:
            return keys
        before = start + len(keys) if keys or not start else numbered.count()
        rest = self.data.filter(number=None).values_list("pk", flat=True)
        return keys + list(rest[max(0, start - before) : stop - before])


def lines(found: QuerySet[Item], anywhere: QuerySet[Item] | None = None, within: Place | None = None) -> Any:
    """These things as the table's rows, a page at a time."""
    return ThingLines(found, found if anywhere is None else anywhere, within)


# What a line says of a thing and of what it belongs to; the rest of the hundred columns is left where it is.
WORDS = ("number", "name", "serial", "type__maker", "type__name")
SAID = (
    *WORDS, "quantity", "type__kind", "owner__name", "owner__is_ours", "home_system__name", "home_set__name",
    *(f"home_case__{word}" for word in WORDS), "holding__bay", "holding__place__name",
    *(f"holding__place__item__{word}" for word in WORDS), "holding__entry__happened_at",
)  # fmt: skip


def rows() -> QuerySet[Item]:
    """Everything a line needs, in a fixed number of queries."""
    things = Item.objects.with_words().select_related("home_case__type", "holding__place__item__type", "holding__entry")
    return things.only(*SAID)
