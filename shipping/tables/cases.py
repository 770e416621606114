"""The list of cases, its columns declared once."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html

from inventory.models import Item
from inventory.tables.drawing import Drawn
from inventory.templatetags.words import band, meaning


class CaseTable(Drawn):
    number = tables.Column(verbose_name="Case", empty_values=())
    name = tables.Column(verbose_name="What", empty_values=())
    system = tables.Column(verbose_name="System", accessor="home_system__colour", order_by="home_system__name")
    things = tables.Column(verbose_name="Things in it", attrs={"td": {"class": "num"}})
    seal = tables.Column(verbose_name="Seal", empty_values=(), orderable=False)
    place = tables.Column(verbose_name="Where", accessor="holding__place__name")

    class Meta:
        order_by = "number"
        empty_text = "No case is in the book yet. Import your gear sheet, or add a case among the things."

    def __init__(self, *args: Any, seals: dict[int, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.seals = seals

    def render_number(self, record: Item) -> str:
        return format_html('<a href="{}"><strong>{}</strong></a>', address(record), record)

    def render_name(self, record: Item) -> str:
        return record.name or str(record.type)

    def render_system(self, record: Item) -> str:
        if record.home_system is None:
            return ""
        colour = record.home_system.colour
        return format_html("{} {}", record.home_system.name, band(colour) if colour else "")

    def render_things(self, record: Any) -> int:
        """Counted by the query of the list."""
        return int(record.things)

    def render_place(self, record: Item) -> str:
        place = record.holding.place if hasattr(record, "holding") else None
        return place.name if place else "nobody has said"

    def render_seal(self, record: Item) -> str:
        number = self.seals.get(record.pk)
        return format_html("{} <code>{}</code>", meaning("settled", "sealed"), number) if number else "open"


def address(case: Item) -> str:
    """The page of a case: by its number, else by a code of it."""
    return reverse("case", args=[case.number or case.code or str(case.pk)])
