"""The small forms of a case's page: shape of input only."""

from __future__ import annotations

from django import forms

TEXT = {"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}


class SealForm(forms.Form):
    number = forms.CharField(label="Seal number", max_length=40, widget=forms.TextInput(attrs=TEXT))


class BreakSealForm(forms.Form):
    why = forms.CharField(label="Why", max_length=200, help_text="Customs, a check, something forgotten.")
    found = forms.CharField(
        label="Number on the seal", max_length=40, required=False, widget=forms.TextInput(attrs=TEXT),
        help_text="If it is another than the book says.",
    )  # fmt: skip
    new = forms.CharField(
        label="New seal number", max_length=40, required=False, widget=forms.TextInput(attrs=TEXT),
        help_text="If it is closed again at once. The rules are asked first.",
    )  # fmt: skip


class PackForm(forms.Form):
    thing = forms.CharField(label="Code, number or serial", max_length=120, widget=forms.TextInput(attrs=TEXT))
    slot = forms.CharField(label="Slot", max_length=20, required=False, widget=forms.TextInput(attrs=TEXT))


class TakeOutForm(forms.Form):
    thing = forms.CharField(label="Code, number or serial", max_length=120, widget=forms.TextInput(attrs=TEXT))
    note = forms.CharField(label="Why", max_length=200, required=False)


class WeighForm(forms.Form):
    scale = forms.CharField(label="The scale says", max_length=20, help_text="In kg, or in lb with lb behind it.")


class WaiveForm(forms.Form):
    """`person` and `document` are asked for rules that nobody can waive."""

    finding = forms.CharField(widget=forms.HiddenInput, max_length=64)
    reason = forms.CharField(label="Why it may stand", max_length=150)
    person = forms.CharField(label="Whose decision: name and role", max_length=80, required=False)
    document = forms.CharField(label="Document it stands in", max_length=200, required=False)


class LimitForm(forms.Form):
    value = forms.DecimalField(label="Limit", max_digits=12, decimal_places=3, min_value=0)
    valid_from = forms.DateField(label="From", widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}))
    source = forms.CharField(label="Source, or who decided", max_length=200)
