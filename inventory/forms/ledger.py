"""What the ledger's page can be narrowed by."""

from __future__ import annotations

import django_filters as filters
from django import forms
from django.db.models import Q, QuerySet

from inventory.forms.selects import LongSelect
from inventory.models import Entry, Place, PlaceKind, Verb
from inventory.naming import item_named, label_named


class LedgerFilter(filters.FilterSet):
    thing = filters.CharFilter(label="Thing (code, number, serial)", method="by_thing")
    by = filters.CharFilter(label="Person", lookup_expr="icontains")
    verb = filters.ChoiceFilter(label="What was done", choices=Verb.choices, empty_label="anything")
    reference = filters.CharFilter(label="Show (its code)", lookup_expr="iexact")
    place = filters.ModelChoiceFilter(
        widget=LongSelect,
        label="Place",
        queryset=Place.objects.exclude(kind__in=(PlaceKind.INSIDE, PlaceKind.ROAD)),
        empty_label="anywhere",
    )
    device = filters.CharFilter(label="Phone (whose)", field_name="device__name", lookup_expr="icontains")
    day = filters.DateFilter(
        label="On the day", field_name="happened_at", lookup_expr="date", widget=forms.DateInput(attrs={"type": "date"})
    )

    class Meta:
        model = Entry
        fields: list[str] = []

    def by_thing(self, queryset: QuerySet[Entry], name: str, value: str) -> QuerySet[Entry]:
        item, label = item_named(value), label_named(value)
        if item is not None:
            return queryset.filter(Q(label__item=item) | Q(place__item=item))
        return queryset.filter(label=label) if label is not None else queryset.none()


class TakeBackForm(forms.Form):
    reason = forms.CharField(
        max_length=250,
        label="Why it is taken back",
        help_text="The entry stays in the book, and so does this.",
    )
