"""What a person fills in for one act on a thing. Shape only; inventory/handling.py says what it means."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from inventory.forms.fields import PhotoMixin, PlaceMixin, ThingField, ThingsField, WhenMixin
from inventory.models import Item, Person, Place, PlaceKind
from inventory.models.places import Purpose

CONDITIONS = (("", "not said"), ("good", "good"), ("worn", "worn"), ("damaged", "damaged"), ("wet", "wet"))


class PutForm(WhenMixin, PlaceMixin):
    field_order = ("place", "container", "bay", "note", "happened_at")


class CheckInForm(PhotoMixin, WhenMixin):
    place = forms.ModelChoiceField(Place.objects.none(), label="Back into", empty_label="choose a shelf or room")
    condition = forms.ChoiceField(choices=CONDITIONS, required=False, label="Condition")
    field_order = ("place", "condition", "note", "photo", "happened_at")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["place"].queryset = Place.objects.filter(
            kind__in=(PlaceKind.STORE, PlaceKind.SHELF, PlaceKind.ROOM)
        )


class HandOverForm(WhenMixin):
    person = forms.ModelChoiceField(Person.objects.all(), label="Into whose hands", empty_label="choose a person")
    reference = forms.CharField(required=False, max_length=30, label="For the show (its code)")
    due_at = forms.DateTimeField(
        required=False, label="Back by", widget=forms.DateTimeInput(attrs={"type": "datetime-local"})
    )
    field_order = ("person", "reference", "due_at", "note", "happened_at")


class FaultForm(PhotoMixin):
    what = forms.CharField(
        max_length=500, label="What is wrong", widget=forms.Textarea, help_text="As it was told: what, when, how often."
    )
    shelf = forms.ModelChoiceField(
        Place.objects.none(), required=False, label="Put it in quarantine", empty_label="no, it stays where it is"
    )
    field_order = ("what", "photo", "shelf")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["shelf"].queryset = Place.objects.filter(purpose=Purpose.QUARANTINE)


class MendForm(PhotoMixin):
    what = forms.CharField(
        max_length=500, label="What was done, and how it was tested", widget=forms.Textarea,
        help_text="This closes every open fault of the thing. It stays where it is.",
    )  # fmt: skip
    field_order = ("what", "photo")


class InspectForm(WhenMixin):
    passed = forms.TypedChoiceField(
        choices=(("yes", "passed"), ("no", "failed")),
        coerce=lambda value: value == "yes",
        widget=forms.RadioSelect,
        label="Result",
        help_text="As the competent person found it.",
    )
    next_due = forms.DateField(required=False, label="Next due", widget=forms.DateInput(attrs={"type": "date"}))
    field_order = ("passed", "next_due", "note", "happened_at")


class TestRunForm(forms.Form):
    hours = forms.CharField(required=False, max_length=60, label="How long it ran", help_text="Such as 4 h.")
    software = forms.CharField(required=False, max_length=120, label="Software version, as it shows it")
    show_file = forms.CharField(
        required=False, max_length=120, label="Show file", help_text="The settings loaded on it: name and version."
    )
    note = forms.CharField(required=False, max_length=500, label="What you saw")


class MissForm(forms.Form):
    note = forms.CharField(required=False, max_length=500, label="Where you looked")


class WriteOffForm(forms.Form):
    reason = forms.CharField(max_length=250, label="Why it leaves the stock", widget=forms.Textarea)
    consumed = forms.BooleanField(required=False, label="It was used up, not broken or lost")


class OtherThingForm(forms.Form):
    """Which other thing, of those that are alike or by its code, and why. Cleans to `other`, an Item, and `reason`."""

    alike = forms.ChoiceField(required=False, label="Alike, and in the book", widget=forms.RadioSelect)
    other = ThingField(required=False, label="Or another (code, number or serial)")
    reason = forms.CharField(max_length=250, label="Why")

    def offer(self, alike: Sequence[tuple[int, str]]) -> None:
        """Things to choose from, each by its key and the words that tell it apart."""
        if alike:
            self.fields["alike"].choices = alike
        else:
            del self.fields["alike"]
            self.fields["other"].label = "The other thing (code, number or serial)"

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        chosen, named = data.get("alike"), data.get("other")
        if chosen and named and named.pk != int(chosen):
            self.add_error(
                "other", f"You chose one above and wrote {named} here. Leave this empty, or write what you chose."
            )
        elif chosen:
            data["other"] = Item.objects.get(pk=chosen)
        elif not named and "other" not in self.errors:
            self.add_error("other", "Say which: choose one, or write its code, number or serial.")
        return data


class CountForm(forms.Form):
    quantity = forms.IntegerField(min_value=0, label="Pieces there are now")
    note = forms.CharField(required=False, max_length=500, label="Note")


class LabelForm(forms.Form):
    code = forms.CharField(
        required=False, max_length=40, label="Code of a blank label",
        help_text="Empty: a new code is made, to be printed. The old codes keep leading here for ever.",
    )  # fmt: skip


class DeskForm(PhotoMixin, WhenMixin):
    """Several things at once, item by item or case by case: scan or type one code a line."""

    DOING = (("check-in", "check in: back on a shelf"), ("put", "put somewhere else"), ("hand-over", "hand over"))
    doing = forms.ChoiceField(choices=DOING, label="What you are doing", widget=forms.RadioSelect, initial="check-in")
    things = ThingsField(label="Codes, numbers or serials, one a line")
    place = forms.ModelChoiceField(Place.objects.none(), required=False, label="Place", empty_label="choose a place")
    container = ThingField(required=False, label="Or into (number or code)")
    person = forms.ModelChoiceField(
        Person.objects.all(), required=False, label="Into whose hands", empty_label="choose a person"
    )
    reference = forms.CharField(required=False, max_length=30, label="For the show (its code)")
    due_at = forms.DateTimeField(
        required=False, label="Back by", widget=forms.DateTimeInput(attrs={"type": "datetime-local"})
    )
    condition = forms.ChoiceField(choices=CONDITIONS, required=False, label="Condition of all of them")
    field_order = (
        "doing", "things", "place", "container", "person", "reference", "due_at", "condition", "note", "photo",
        "happened_at",
    )  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["place"].queryset = Place.objects.exclude(kind__in=(PlaceKind.INSIDE, PlaceKind.GONE))

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("doing") == "hand-over":
            if not data.get("person"):
                self.add_error("person", "Choose the person who takes them.")
        elif not data.get("place") and not data.get("container"):
            self.add_error("place", "Choose the place they go to.")
        return data
