"""The small forms of a load: found here, it is broken, left in place, the seal as read."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import forms

from inventory.ledger import Witness
from inventory.models import Entry, Person, Place, PlaceKind
from shipping import loading
from shipping.models import Leg

CODE = {"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}


def code_field(label: str = "Code or number", **more: Any) -> forms.CharField:
    return forms.CharField(label=label, max_length=200, widget=forms.TextInput(attrs=CODE), **more)


class LegForm(forms.Form):
    """Knows its leg, and so the places that come into question."""

    def __init__(self, *args: Any, leg: Leg, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.leg = leg
        if "place" in self.fields:
            self.fields["place"].queryset = places_of(leg)

    def record(self, *, reference: str, by: Witness, at: datetime) -> Entry:
        raise NotImplementedError


def places_of(leg: Leg) -> Any:
    """Where the leg starts and ends, the show's venue, and the rooms and shelves of those."""
    tops = [leg.from_place_id, leg.to_place_id, leg.consignment.show.venue_id]
    near = Place.objects.filter(pk__in=tops) | Place.objects.filter(parent__in=tops)
    return near.exclude(kind__in=[PlaceKind.ROAD, PlaceKind.GONE, PlaceKind.INSIDE, PlaceKind.PERSON]).distinct()


class FoundForm(LegForm):
    code = code_field("Code on it", required=False, help_text="None on it? Leave this empty and say what it is.")
    place = forms.ModelChoiceField(Place.objects.none(), label="Here is")
    note = forms.CharField(label="What it is", max_length=400, required=False)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if not data.get("code") and not data.get("note"):
            raise forms.ValidationError("Scan the code on it, or say in a word what it is.")
        return data

    def record(self, *, reference: str, by: Witness, at: datetime) -> Entry:
        data = self.cleaned_data
        code = data["code"] or loading.found_code()
        return loading.found_here(code, data["place"], reference=reference, by=by, at=at, note=data["note"])


class BrokenForm(LegForm):
    code = code_field()
    note = forms.CharField(label="What is broken", max_length=400)
    photo = forms.FileField(label="Photo", required=False)

    def record(self, *, reference: str, by: Witness, at: datetime) -> Entry:
        from inventory import photos

        data = self.cleaned_data
        photo = photos.keep(data["photo"], by=by.name, at=at) if data["photo"] else None
        return loading.report_fault(data["code"], data["note"], photo, reference=reference, by=by, at=at)


class LeaveForm(LegForm):
    code = code_field()
    place = forms.ModelChoiceField(Place.objects.none(), label="Left in")
    promised_by = forms.CharField(label="Who sees to it", max_length=120, help_text="A name: whose promise is it?")
    due_at = forms.DateField(
        label="Back by",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}),
        help_text="If a day was agreed.",
    )
    note = forms.CharField(label="Where exactly, and why", max_length=400, required=False)

    def record(self, *, reference: str, by: Witness, at: datetime) -> Entry:
        data = self.cleaned_data
        person = Person.objects.filter(name__iexact=data["promised_by"].strip()).first()
        note = data["note"] if person else f"promised by {data['promised_by'].strip()}. {data['note']}".strip()
        promise = loading.LeavePromise(data["place"], person, loading.end_of(data["due_at"]), note)
        label = loading.label_for(data["code"], at)
        return loading.leave_in_place(label, promise, reference=reference, by=by, at=at)


class SealForm(LegForm):
    code = code_field("Case")
    number = forms.CharField(label="Number on the seal", max_length=40, widget=forms.TextInput(attrs=CODE))

    def record(self, *, reference: str, by: Witness, at: datetime) -> Entry:
        data = self.cleaned_data
        return loading.see_seal(data["code"], data["number"], reference=reference, by=by, at=at)
