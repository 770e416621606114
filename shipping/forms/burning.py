"""Which vehicle, and which night."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.db.models import QuerySet

from inventory.models import Item


class BurningForm(forms.Form):
    vehicle = forms.ModelChoiceField(Item.objects.none(), required=False, empty_label="every vehicle")
    night = forms.DateField(
        required=False,
        label="The night that begins on",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )

    def __init__(self, *args: Any, vehicles: QuerySet[Item], tonight: date, **more: Any) -> None:
        super().__init__(*args, initial={"night": tonight}, **more)
        self.fields["vehicle"].queryset = vehicles.order_by("number", "name")
