"""What a person fills in when things come back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.db.models import Q, QuerySet

from inventory.models import Item, Person, Place, PlaceKind
from inventory.models.places import Purpose
from shipping.forms.shows import When
from shipping.outcomes import Line
from shipping.receiving import CONDITIONS, Marking, Seen
from shipping.returned import ReturnedCase


def receiving_places() -> QuerySet[Place]:
    """Where things come back to: our stores, and their shelves for what is not trusted."""
    return Place.objects.filter(is_ours=True).filter(Q(kind=PlaceKind.STORE) | Q(purpose=Purpose.QUARANTINE))


class CheckInForm(forms.Form):
    condition = forms.ChoiceField(choices=[("", "not looked at closely"), *((word, word) for word in CONDITIONS)])
    faulty = forms.BooleanField(required=False, label="Something is wrong with it: open a fault")
    note = forms.CharField(required=False, max_length=500, label="What you see, in your words")
    quantity = forms.IntegerField(required=False, min_value=0, label="How many came back")
    place = forms.ModelChoiceField(Place.objects.none(), required=False, label="It is not in its case but at")
    photo = forms.FileField(required=False, label="Photo")

    def __init__(self, *args: Any, item: Item, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["condition"].required = False
        self.fields["place"].queryset = receiving_places()
        if not item.type.is_lot:
            del self.fields["quantity"]

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("faulty") and not data.get("note"):
            self.add_error("note", "Write what is wrong with it: the next person mends by these words.")
        return data

    def seen(self, photo: Any) -> Seen:
        data = self.cleaned_data
        return Seen(
            condition=data["condition"], note=data["note"], quantity=data.get("quantity"), photo=photo,
            place=data["place"], faulty=data["faulty"],
        )  # fmt: skip


class MarkForm(forms.Form):
    what = forms.ChoiceField(
        label="It is not here",
        choices=[
            ("missed", "missed: looked for and not found"),
            ("left", "left in place, somebody promised it"),
            ("client", "with the client"),
        ],
    )
    place = forms.ModelChoiceField(
        Place.objects.filter(kind__in=(PlaceKind.VENUE, PlaceKind.ROOM)), required=False, label="Left where"
    )
    person = forms.ModelChoiceField(Person.objects.all(), required=False, label="Who promised it, or has it")
    due_at = When(required=False, label="Back by")
    note = forms.CharField(required=False, max_length=500, label="Details: rack, receipt number")

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("what") == "left" and not data.get("place"):
            self.add_error("place", "Say where it was left.")
        if data.get("what") in ("left", "client") and not data.get("person"):
            self.add_error("person", "Name the person, or nobody can be asked for it.")
        return data

    def marking(self) -> Marking:
        data = self.cleaned_data
        return Marking(data["place"], data["person"], data["due_at"], data["note"])


class SealForm(forms.Form):
    number = forms.CharField(max_length=40, label="Seal number you read")
    place = forms.ModelChoiceField(Place.objects.none(), required=False, label="The case stands at")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["place"].queryset = receiving_places()


class CloseForm(forms.Form):
    """A word for one thing, for all that is owed of one case, or for everything left empty: the nearest counts."""

    words = forms.CharField(required=False, max_length=500, label="In your words")
    rest = forms.CharField(required=False, max_length=250, label="For everything not named below")

    def __init__(self, *args: Any, cases: Sequence[ReturnedCase], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for case in cases:
            self._ask(case)

    def _ask(self, case: ReturnedCase) -> None:
        owed = case.still_owed
        if len(owed) == 1:
            label = f"{owed[0].item.words} ({owed[0].outcome}): why the return may close without it"
            self.fields[f"why-{owed[0].item.id}"] = forms.CharField(required=False, max_length=250, label=label)
        elif owed:
            names = ", ".join(line.item.words for line in owed)
            label = f"{case.words}, {len(owed)} still owed: why the return may close without them"
            field = forms.CharField(required=False, max_length=250, label=label, help_text=names)
            self.fields[f"why-in-{case.key}"] = field

    def why(self, cases: Sequence[ReturnedCase]) -> dict[int, str]:
        return {line.item.id: self._why(line, case)[:250] for case in cases for line in case.still_owed}

    def _why(self, line: Line, case: ReturnedCase) -> str:
        keys = (f"why-{line.item.id}", f"why-in-{case.key}")
        return next((text for key in keys if (text := self.data.get(key, "").strip())), self.cleaned_data["rest"])
