"""What a person fills in when drives change hands, and the signature under it."""

from __future__ import annotations

import base64
import binascii
from typing import Any

from django import forms

from inventory.forms.drives import AboutDrives, DriveChoices, WherePutForm
from inventory.forms.fields import PhotoMixin
from inventory.models import Item, Person

CONDITIONS = [("", "not looked at"), ("good", "good"), ("marked", "marked"), ("damaged", "damaged"),
              ("suspect", "suspect: dropped, wet or hot")]  # fmt: skip


class SignatureField(forms.CharField):
    """A signature drawn on the screen, as the page's script sends it. Cleans to the picture's bytes, or None."""

    widget = forms.HiddenInput(attrs={"data-signature": "signed_by"})

    def clean(self, value: Any) -> bytes | None:
        words = super().clean(value)
        if not words:
            return None
        head, _, body = words.partition(",")
        try:
            return base64.b64decode(body, validate=True) if head == "data:image/png;base64" else self._refuse()
        except binascii.Error:
            return self._refuse()

    def _refuse(self) -> None:
        raise forms.ValidationError("The drawn signature did not arrive whole. Draw it again, or leave it and write.")


class HandingForm(PhotoMixin, AboutDrives):
    """What is said, and signed, whenever drives change hands."""

    drives = DriveChoices(Item.objects.none(), label="Which drives")
    condition = forms.ChoiceField(choices=CONDITIONS, required=False, label="Condition")
    seal = forms.CharField(required=False, max_length=40, label="Seal number of the pouch or box")
    note = forms.CharField(required=False, max_length=250, label="Receipt number or note")
    signed_by = forms.CharField(
        required=False, max_length=120, label="Signed by (name in letters)",
        help_text="The name is enough where nobody can draw.",
    )  # fmt: skip
    signature = SignatureField(required=False, max_length=400_000)


class HandOverForm(HandingForm):
    person = forms.ModelChoiceField(Person.objects.all(), label="Into whose hands", empty_label="choose a person")
    giver = forms.ModelChoiceField(
        Person.objects.all(), required=False, label="From whom, if not you", empty_label="me"
    )
    purpose = forms.CharField(required=False, max_length=120, label="What for", help_text="Like: to copy, to keep.")
    due_at = forms.DateTimeField(
        required=False, label="Back by", widget=forms.DateTimeInput(attrs={"type": "datetime-local"})
    )
    field_order = ("drives", "person", "giver", "purpose", "due_at", "condition", "seal", "note", "photo", "signed_by")


class ReceiveForm(WherePutForm, HandingForm):
    giver = forms.ModelChoiceField(
        Person.objects.all(), required=False, label="From whom", empty_label="nobody's hands"
    )
    others = forms.CharField(
        required=False, label="Drives that came and were not due (serials, one to a line)",
        widget=forms.Textarea(attrs={"rows": 2, "autocapitalize": "characters", "spellcheck": "false"}),
        help_text="They go to quarantine as foreign: do not plug them in.",
    )  # fmt: skip
    field_order = ("drives", "place", "case", "giver", "condition", "seal", "others", "note", "photo", "signed_by")

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        self.fields["drives"].required = False

    def clean_others(self) -> list[str]:
        return [line.strip() for line in self.cleaned_data["others"].splitlines() if line.strip()][:50]

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if not data.get("drives") and not data.get("others"):
            self.add_error("drives", "Tick the drives that came, or write the serial of one that was not due.")
        return data
