"""The form of one figure of a carrier's terms."""

from __future__ import annotations

from typing import Any

from django import forms

from shipping.carriers import OF_MONEY


class FigureForm(forms.Form):
    value = forms.DecimalField(label="Figure", max_digits=14, decimal_places=3, min_value=0)
    currency = forms.CharField(label="Currency", min_length=3, max_length=3, help_text="Three letters, as on values.")
    every_carrier = forms.BooleanField(label="For any carrier without a figure of its own", required=False)
    valid_from = forms.DateField(label="From", widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}))
    source = forms.CharField(label="Where it stands: terms, policy, who said so", max_length=200)

    def __init__(self, *args: Any, name: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if name not in OF_MONEY:
            del self.fields["currency"]
