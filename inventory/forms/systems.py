"""What a person fills in about a system: itself, its parts, its set-up checks, a signature."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.text import slugify

from inventory.forms.selects import LongSelect
from inventory.models import Item, SetupCheck, System, SystemPart
from inventory.naming import item_named


class SystemForm(forms.ModelForm):
    class Meta:
        model = System
        fields = ["name", "colour", "prefix", "note"]
        labels = {"colour": "Tape colour, in words", "prefix": "Letters of its case numbers"}

    def clean_name(self) -> str:
        name = self.cleaned_data["name"].strip()
        if not slugify(name):
            raise forms.ValidationError("Use letters or digits in the name; its page's address is made of them.")
        if System.objects.filter(slug=slugify(name)).exclude(pk=self.instance.pk).exists():
            raise forms.ValidationError("Another system has a name so alike that nobody could say which is meant.")
        return name

    def save(self, commit: bool = True) -> System:
        if not self.instance.slug:
            self.instance.slug = slugify(self.cleaned_data["name"])
        return super().save(commit)


class PartForm(forms.ModelForm):
    """One line of a system: an exact thing by its code, number or serial, or so many of a type."""

    thing = forms.CharField(
        required=False, max_length=80, label="This exact thing", help_text="Code, number or serial."
    )

    class Meta:
        model = SystemPart
        fields = ["type", "quantity", "necessity", "requirement", "show_stopper", "left_behind_prone"]
        labels = {
            "type": "or any of this type",
            "requirement": "Requirement, in words",
            "show_stopper": "Without it there is no show",
            "left_behind_prone": "Often left behind",
        }
        widgets = {"type": LongSelect}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["type"].required = False
        self.fields["quantity"].min_value = 1

    def clean_thing(self) -> Item | None:
        words = self.cleaned_data["thing"].strip()
        if not words:
            return None
        item = item_named(words)
        if item is None:
            raise forms.ValidationError("Nothing has that code, number or serial. Read it once more, or choose a type.")
        return item

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        item, kind = data.get("thing"), data.get("type")
        if "thing" in data and (item is None) == (kind is None):
            raise forms.ValidationError("Name one exact thing, or choose a type: one of the two.")
        if data.get("quantity") == 0:
            self.add_error("quantity", "At least one.")
        return data

    def save_for(self, system: System) -> SystemPart:
        part: SystemPart = super().save(commit=False)
        part.system, part.item = system, self.cleaned_data["thing"]
        part.position = system.parts.count()
        part.save()
        return part


class PartEditForm(forms.ModelForm):
    class Meta:
        model = SystemPart
        fields = ["quantity", "necessity", "requirement", "show_stopper", "left_behind_prone"]
        labels = {"show_stopper": "No show without it", "left_behind_prone": "Often left behind"}


class CheckForm(forms.ModelForm):
    class Meta:
        model = SetupCheck
        fields = ["text"]
        labels = {"text": "What to look at before the system is signed"}


class SignForm(forms.Form):
    """`shown` is the digest of the reasons on the page: what was signed is what was read."""

    shown = forms.CharField(widget=forms.HiddenInput)
    words = forms.CharField(required=False, max_length=500, label="In your words", widget=forms.Textarea({"rows": 2}))
