"""Making a day pass, and joining by one."""

from __future__ import annotations

from django import forms

from inventory import passes


class PassForm(forms.Form):
    hours = forms.IntegerField(min_value=24, max_value=72, initial=36, label="Hours it lasts", help_text="24 to 72.")
    verbs = forms.MultipleChoiceField(
        choices=[(verb.value, verb.label) for verb in passes.PASS_VERBS],
        initial=[verb.value for verb in passes.USUAL_VERBS],
        widget=forms.CheckboxSelectMultiple,
        label="What its phones may do",
    )


class JoinForm(forms.Form):
    name = forms.CharField(
        max_length=120,
        label="Your name",
        help_text="It stands beside everything you scan.",
        widget=forms.TextInput(attrs={"autocomplete": "name", "autofocus": True}),
    )


class CodeForm(forms.Form):
    code = forms.CharField(
        max_length=40,
        label="Code from the day sheet",
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}),
    )
