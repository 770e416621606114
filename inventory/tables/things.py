"""The list of things: its columns once, for the page, CSV and XLSX alike."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.db.models import F, QuerySet
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from inventory.models import Item
from inventory.tables.paging import NarrowFirst
from inventory.templatetags.words import venue_time


def link_to(item: Item, words: str) -> SafeString:
    code = item.code
    return format_html('<a href="{}">{}</a>', reverse("item", args=[code]), words) if code else format_html("{}", words)


class ThingTable(tables.Table):
    """One line a thing. Sorting and filters stand in the address; `pk` ends every order, so no page repeats a line."""

    called = tables.Column("Thing", empty_values=())
    code = tables.Column("Code", empty_values=(), orderable=False, attrs={"td": {"class": "mono"}})
    serial = tables.Column("Serial", order_by=("serial", "pk"), attrs={"td": {"class": "mono"}})
    kind = tables.Column("Kind", accessor="type__get_kind_display", order_by=("type__kind", "pk"))
    quantity = tables.Column(
        "Pieces", order_by=("quantity", "pk"), attrs={"th": {"class": "num"}, "td": {"class": "num"}}
    )
    home = tables.Column("Home", order_by=("home_system__name", "home_case__number", "pk"), empty_values=())
    place = tables.Column("In", accessor="holding__place", order_by=("holding__place__name", "holding__bay", "pk"))
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

    def value_code(self, record: Item) -> str:
        return record.code

    def render_home(self, record: Item) -> str:
        return self.value_home(record) or "—"

    def value_home(self, record: Item) -> str:
        return ", ".join(str(part) for part in (record.home_set or record.home_system, record.home_case) if part)

    def render_place(self, value: Any) -> SafeString:
        words = str(value.item) if value.item_id else value.name
        return format_html('<a href="{}">{}</a>', reverse("place", args=[value.pk]), words)

    def value_place(self, value: Any) -> str:
        return str(value.item) if value.item_id else value.name

    def render_since(self, value: Any) -> str:
        return venue_time(value)

    def value_since(self, value: Any) -> Any:
        return value

    def render_owner(self, value: Any) -> SafeString | str:
        return "ours" if value.is_ours else format_html('<span class="hired">{}, hired in</span>', value)

    def value_owner(self, value: Any) -> str:
        return str(value)


def lines(found: QuerySet[Item]) -> NarrowFirst:
    """These things as the table's rows, a page at a time."""
    return NarrowFirst(found, rows())


def rows() -> QuerySet[Item]:
    """Everything a line needs, in a fixed number of queries."""
    return Item.objects.with_words().select_related("holding__place__item__type", "holding__entry")
