"""What a person enters about a vehicle's deck: its room, its door, what it may carry, and its axles."""

from __future__ import annotations

from itertools import permutations
from typing import Any, NamedTuple

from django import forms
from django.db import transaction

from inventory.models import Axle, ContainerType
from shipping.models import Leg
from shipping.planning.drive import DeckQuestion
from shipping.planning.going import vehicles_to_choose

MOST_AXLES, FURTHEST_MM, MOST_PERMUTED = 8, 30_000, 3
HELP = (
    "One axle a line, from front to back: millimetres behind the headboard (minus if in front of it), the most it may "
    "carry in kg, what it carries empty in kg. A dash where nobody has said. The plate and a weighbridge tell."
)


class AxleLine(NamedTuple):
    at_mm: int
    limit_kg: int | None
    empty_kg: int | None


class DeckForm(forms.ModelForm):
    axles = forms.CharField(required=False, widget=forms.Textarea({"rows": 4}), help_text=HELP, max_length=600)

    class Meta:
        model = ContainerType
        fields = [
            "inner_length_mm", "inner_width_mm", "inner_height_mm", "door_width_mm", "door_height_mm", "payload_kg",
        ]  # fmt: skip
        labels = {
            "inner_length_mm": "Deck inside, length, mm", "inner_width_mm": "Deck inside, width, mm",
            "inner_height_mm": "Deck inside, height, mm", "door_width_mm": "Door, width, mm",
            "door_height_mm": "Door, height, mm", "payload_kg": "Payload by its papers, kg",
        }  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["axles"].initial = "\n".join(
            f"{one.behind_headboard_mm}, {_or_dash(one.limit_kg)}, {_or_dash(one.empty_kg)}"
            for one in (self.instance.axles.all() if self.instance.pk else ())
        )

    def clean_axles(self) -> list[AxleLine]:
        lines = [line for line in self.cleaned_data["axles"].splitlines() if line.strip()]
        if len(lines) > MOST_AXLES:
            raise forms.ValidationError(f"At most {MOST_AXLES} axles.")
        found = [_axle(number, line) for number, line in enumerate(lines, 1)]
        if len({one.at_mm for one in found}) < len(found):
            raise forms.ValidationError("Two axles stand at the same place. Give each its own.")
        return sorted(found)

    @transaction.atomic
    def save(self, commit: bool = True) -> ContainerType:
        held = super().save(commit)
        held.axles.all().delete()
        Axle.objects.bulk_create(
            Axle(container=held, behind_headboard_mm=one.at_mm, limit_kg=one.limit_kg, empty_kg=one.empty_kg)
            for one in self.cleaned_data["axles"]
        )
        return held


def _or_dash(value: int | None) -> str:
    return "-" if value is None else str(value)


def _axle(number: int, line: str) -> AxleLine:
    parts = [part.strip() for part in line.split(",")]
    try:
        at, *masses = (None if part in {"", "-", "–"} else int(part) for part in parts)
    except ValueError:
        raise forms.ValidationError(f"Line {number}: whole numbers and dashes only, like “-900, 3200, 2550”.") from None
    masses += [None] * (2 - len(masses))
    if at is None or len(masses) > 2 or abs(at) > FURTHEST_MM:
        raise forms.ValidationError(f"Line {number}: say where it is, its limit, its empty mass, like “-900, 3200, -”.")
    if any(one is not None and not 0 <= one <= 100_000 for one in masses):
        raise forms.ValidationError(f"Line {number}: an axle mass is 0 to 100,000 kg.")
    return AxleLine(at, *masses)


class DeckQuestionForm(forms.Form):
    """What if: another vehicle, cases that stay, another order of stops. `question` is what a valid form asks."""

    van = forms.ChoiceField(label="On this vehicle", required=False, help_text="None chosen: the leg's own.")
    order = forms.ChoiceField(label="Stops in this order", required=False)
    stay = forms.MultipleChoiceField(
        label="These cases stay behind", required=False, widget=forms.CheckboxSelectMultiple(attrs={"class": "many"})
    )

    def __init__(self, *args: Any, leg: Leg, stops: list[str], cases: dict[str, int], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.vehicles = {str(one): one.pk for one in vehicles_to_choose() if one.pk != leg.vehicle_id}
        self.cases = cases
        self.fields["van"].choices = [("", f"{leg.vehicle}, as booked"), *((name, name) for name in self.vehicles)]
        self.fields["stay"].choices = [(name, name) for name in sorted(cases)]
        self.fields["order"].choices = [("", "as the legs say"), *_orders(stops)]
        if len(stops) < 2:
            del self.fields["order"]

    @property
    def question(self) -> DeckQuestion:
        asked = self.cleaned_data
        return DeckQuestion(
            vehicle=self.vehicles.get(asked["van"]),
            stay=tuple(sorted(self.cases[name] for name in asked["stay"])),
            order=tuple(int(at) for at in asked.get("order", "").split("-") if at),
        )


def _orders(stops: list[str]) -> list[tuple[str, str]]:
    """Every other order of up to three stops; of more, which one comes first and then the rest as they are."""
    numbers = range(1, len(stops) + 1)
    if len(stops) <= MOST_PERMUTED:
        orders = list(permutations(numbers))[1:]
    else:
        orders = [(first, *(at for at in numbers if at != first)) for first in numbers[1:]]
    return [("-".join(map(str, one)), ", then ".join(stops[at - 1] for at in one)) for one in orders]
