"""Forms of a border list: a new one, and one line of it."""

from __future__ import annotations

from django import forms

from shipping.border import CHANGEABLE
from shipping.models import BorderLine


class NewListForm(forms.Form):
    number = forms.CharField(label="Number of the list", max_length=40)
    valid_until = forms.DateField(label="Valid until", required=False, widget=forms.DateInput(attrs={"type": "date"}))


class LineForm(forms.ModelForm):
    class Meta:
        model = BorderLine
        fields = CHANGEABLE
        labels = {
            "mass_kg": "Mass in kg",
            "origin": "Country of origin, two letters",
            "owner_consents": "The owner consents",
        }
