"""What the list of things can be narrowed by. All of it stands in the address."""

from __future__ import annotations

import django_filters as filters
from django.db.models import Q, QuerySet

from inventory.folding import fold
from inventory.forms.selects import LongSelect
from inventory.models import DriveSet, Item, Kind, Organisation, Place, PlaceKind, System

STANDING = (("", "in stock"), ("retired", "written off"), ("all", "all"))


class ThingFilter(filters.FilterSet):
    words = filters.CharFilter(label="Name, number or serial", method="by_words")
    kind = filters.ChoiceFilter(label="Kind", choices=Kind.choices, field_name="type__kind", empty_label="any")
    system = filters.ModelChoiceFilter(
        widget=LongSelect,
        label="Belongs to",
        queryset=System.objects.all(),
        field_name="home_system",
        empty_label="any system",
    )
    set = filters.ModelChoiceFilter(
        widget=LongSelect,
        label="Drive set",
        queryset=DriveSet.objects.all(),
        field_name="home_set",
        empty_label="any set",
    )
    owner = filters.ModelChoiceFilter(
        widget=LongSelect, label="Owner", queryset=Organisation.objects.all(), empty_label="anybody"
    )
    place = filters.ModelChoiceFilter(
        widget=LongSelect,
        label="Is in or under",
        queryset=Place.objects.exclude(kind__in=(PlaceKind.INSIDE, PlaceKind.GONE, PlaceKind.ROAD)),
        method="by_place",
        empty_label="anywhere",
    )
    standing = filters.ChoiceFilter(
        label="Shown", choices=STANDING[1:], empty_label=STANDING[0][1], method="by_standing", required=False
    )

    class Meta:
        model = Item
        fields: list[str] = []

    def filter_queryset(self, queryset: QuerySet[Item]) -> QuerySet[Item]:
        if not self.form.cleaned_data.get("standing"):
            queryset = queryset.filter(retired_at=None)
        return super().filter_queryset(queryset)

    @property
    def within(self) -> Place | None:
        """The place asked for; None for anywhere."""
        asked: Place | None = self.form.cleaned_data.get("place")
        return asked

    @property
    def anywhere(self) -> QuerySet[Item]:
        """What fits all that is asked but the place."""
        given = self.form.cleaned_data
        try:
            self.form.cleaned_data = {**given, "place": None}
            return self.filter_queryset(self.queryset.all())
        finally:
            self.form.cleaned_data = given

    def by_words(self, queryset: QuerySet[Item], name: str, value: str) -> QuerySet[Item]:
        return queryset.filter(
            Q(number__icontains=value)
            | Q(name__icontains=value)
            | Q(type__name__icontains=value)
            | Q(serial_key__contains=fold(value))
        )

    def by_place(self, queryset: QuerySet[Item], name: str, value: Place) -> QuerySet[Item]:
        return queryset.filter(holding__place__in=Place.objects.within(value))

    def by_standing(self, queryset: QuerySet[Item], name: str, value: str) -> QuerySet[Item]:
        return queryset.exclude(retired_at=None) if value == "retired" else queryset

    @property
    def in_use(self) -> list[str]:
        """The labels of the filters that are set, for the line above the list."""
        return [str(field.label) for field in self.form if self.form.cleaned_data.get(field.name)]
