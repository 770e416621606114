"""Places, people and organisations: one row, one form."""

from __future__ import annotations

from typing import Any
from zoneinfo import available_timezones

from django import forms

from inventory.models import Organisation, Person, Place, PlaceKind

KINDS = [choice for choice in PlaceKind.choices if choice[0] in {"store", "shelf", "room", "venue"}]


class PlaceForm(forms.ModelForm):
    """A place that stands still. Insides of cases and people's hands are made by themselves."""

    kind = forms.ChoiceField(choices=KINDS)

    class Meta:
        model = Place
        fields = ("name", "kind", "purpose", "parent", "time_zone", "is_ours", "note")
        labels = {"parent": "Part of", "is_ours": "Ours to lock", "purpose": "Used as"}
        help_texts = {"time_zone": "Of a store or venue, such as Europe/London.", "is_ours": ""}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fixed = Place.objects.filter(kind__in=[kind for kind, _ in KINDS]).exclude(pk=self.instance.pk)
        if "parent" in self.fields:  # a desk that only shows a place has no fields to fill
            self.fields["parent"].queryset = fixed

    def clean_time_zone(self) -> str:
        zone = self.cleaned_data["time_zone"].strip()
        if zone and zone not in available_timezones():
            raise forms.ValidationError(f"“{zone}” is no time zone. Write it as Europe/London or America/New_York.")
        return zone

    def clean_parent(self) -> Place | None:
        parent = self.cleaned_data["parent"]
        above = parent
        while above is not None:
            if above.pk == self.instance.pk:
                raise forms.ValidationError("A place cannot be part of itself.")
            above = above.parent
        return parent


class PersonForm(forms.ModelForm):
    class Meta:
        model = Person
        fields = ("name", "phone", "email", "organisation", "role", "deputy")
        labels = {"deputy": "Who decides while they are away"}


class OrganisationForm(forms.ModelForm):
    class Meta:
        model = Organisation
        fields = ("name", "phone", "address", "is_ours")
        labels = {"is_ours": "This is us"}
