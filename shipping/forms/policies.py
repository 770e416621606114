"""The form of a policy, as it is entered."""

from __future__ import annotations

from django import forms

from shipping.models import Policy


def _day() -> forms.DateInput:
    return forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})


class PolicyForm(forms.ModelForm):
    class Meta:
        model = Policy
        fields = (
            "insurer", "number", "currency", "in_one_vehicle", "excess", "basis", "overnight", "valid_from", "valid_to"
        )  # fmt: skip
        widgets = {"valid_from": _day(), "valid_to": _day()}
        help_texts = {"currency": "Three letters, as on values.", "valid_to": "Leave it empty while no end is agreed."}
