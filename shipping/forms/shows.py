"""What a person fills in about a show: itself, bookings, consignments, legs, its end."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone

from inventory.models import DriveSet, Item, Kind, Place, PlaceKind, System
from inventory.naming import item_named
from shipping.availability import Thing
from shipping.booking import STAGES
from shipping.models import Leg, Show


class When(forms.DateTimeField):
    """A moment, picked on the device's own picker and read in the current time zone."""

    widget = forms.DateTimeInput({"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")

    def prepare_value(self, value: Any) -> Any:
        return timezone.localtime(value) if hasattr(value, "tzinfo") and value.tzinfo else value


class ShowForm(forms.ModelForm):
    leaves_at = When(label="Prep day: gear is not free from")
    starts_at = When(label="Show starts")
    ends_at = When(label="Show ends")
    back_at = When(label="Back, checked in and wiped by")

    class Meta:
        model = Show
        fields = [
            "code", "name", "client", "venue", "leaves_at", "starts_at", "ends_at", "back_at", "lead", "contact",
            "abroad", "discreet",
        ]  # fmt: skip
        labels = {
            "code": "Code, never changed later",
            "lead": "Road lead",
            "abroad": "Crosses a customs border",
            "discreet": "Keep its name off boxes",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["venue"].queryset = Place.objects.filter(kind=PlaceKind.VENUE)
        if self.instance.pk:
            del self.fields["code"]

    def clean_code(self) -> str:
        code = self.cleaned_data["code"].strip().upper()
        if not all(letter.isalnum() or letter == "-" for letter in code):
            raise forms.ValidationError("Letters, digits and dashes only: it is said on the radio.")
        return code

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        order = ["leaves_at", "starts_at", "ends_at", "back_at"]
        for earlier, later in zip(order, order[1:], strict=False):
            if data.get(earlier) and data.get(later) and data[earlier] > data[later]:
                self.add_error(later, f"This is before “{self.fields[earlier].label}”. Put the times in order.")
        return data


class BookForm(forms.Form):
    """One thing to promise: a system or set from the list, or anything by its code or number."""

    what = forms.ChoiceField(required=False, label="System or drive set")
    thing = forms.CharField(required=False, max_length=80, label="or one thing, by code or number")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        systems = [(f"system:{one.pk}", one.name) for one in System.objects.all()]
        sets = [(f"set:{one.pk}", one.name) for one in DriveSet.objects.all()]
        self.fields["what"].choices = [("", "choose"), ("Systems", systems), ("Drive sets", sets)]

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        words, what = data.get("thing", "").strip(), data.get("what", "")
        if bool(words) == bool(what):
            raise forms.ValidationError("Choose a system or set, or write one code or number: one of the two.")
        data["booked"] = self._item(words) if words else self._whole(what)
        return data

    def _item(self, words: str) -> Thing:
        item = item_named(words)
        if item is None:
            raise forms.ValidationError(f"Nothing has the code or number {words}. Read it once more.")
        return item

    def _whole(self, what: str) -> Thing:
        kind, pk = what.split(":")
        return (System if kind == "system" else DriveSet).objects.get(pk=pk)


class CancelForm(forms.Form):
    stage = forms.ChoiceField(
        label="Where is the gear now?", choices=[(stage, f"{stage}: {words}") for stage, words in STAGES.items()]
    )
    why = forms.CharField(max_length=150, label="Why is it cancelled?")


class CasesField(forms.ModelMultipleChoiceField):
    widget = forms.CheckboxSelectMultiple

    def label_from_instance(self, case: Item) -> str:
        return f"{case.number or case.name} {case.name}".strip()


class ConsignmentForm(forms.Form):
    name = forms.CharField(max_length=60, label="What people call it, e.g. by road")
    cases = CasesField(queryset=Item.objects.none(), label="Cases in it")

    def __init__(self, *args: Any, cases: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["cases"].queryset = cases


class LegForm(forms.ModelForm):
    departs_at = When(required=False, label="Departs, as planned")
    arrives_at = When(required=False, label="Arrives, as planned")

    class Meta:
        model = Leg
        fields = [
            "mode", "from_place", "to_place", "vehicle", "carrier", "waybill", "driver", "driver_phone", "departs_at",
            "arrives_at", "crosses_border", "passenger_aircraft", "as_baggage",
        ]  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        ends = Place.objects.filter(kind__in=(PlaceKind.STORE, PlaceKind.VENUE))
        self.fields["from_place"].queryset = self.fields["to_place"].queryset = ends
        self.fields["vehicle"].queryset = Item.objects.in_stock().filter(type__kind=Kind.VEHICLE)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("from_place") and data.get("from_place") == data.get("to_place"):
            self.add_error("to_place", "It starts and ends at the same place.")
        if data.get("departs_at") and data.get("arrives_at") and data["arrives_at"] <= data["departs_at"]:
            self.add_error("arrives_at", "It arrives before it departs.")
        if "vehicle" in data and not data["vehicle"] and not data.get("waybill"):
            self.add_error("vehicle", "Choose our vehicle, or write the carrier's waybill number.")
        return data


class PromiseForm(forms.Form):
    leaves_at = When(label="Leaves (prep day)")
    back_at = When(label="Back and wiped by")
    systems = forms.ModelMultipleChoiceField(
        System.objects.all(), required=False, widget=forms.CheckboxSelectMultiple, label="Systems"
    )
    sets = forms.ModelMultipleChoiceField(
        DriveSet.objects.all(), required=False, widget=forms.CheckboxSelectMultiple, label="Drive sets"
    )

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("leaves_at") and data.get("back_at") and data["back_at"] <= data["leaves_at"]:
            self.add_error("back_at", "It is back before it leaves.")
        if not data.get("systems") and not data.get("sets"):
            raise forms.ValidationError("Choose at least one system or drive set.")
        return data
