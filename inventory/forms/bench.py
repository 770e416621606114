"""What a person fills in at the wipe bench."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone

from inventory.forms.drives import DriveChoices, DrivesField
from inventory.models import DriveSet, Item, Release, Wipe

DESTINATIONS = [
    ("kept for our own use", "kept for our own use"), ("given to somebody else", "given to somebody else"),
    ("back to its maker", "back to its maker"), ("to a recycler", "to a recycler"), ("destroyed", "destroyed"),
]  # fmt: skip
CHECKS = [("all of it read back", "all of it was read back"), ("a sample read back", "a sample was read back"),
          ("another way", "another way")]  # fmt: skip


class ReleaseOfShow(forms.ModelChoiceField):
    def label_from_instance(self, row: Release) -> str:
        return f"{row.reference}, by {row.person}, {timezone.localtime(row.date):%d %b %Y}"


class ScannedForm(forms.Form):
    """What was scanned, and what it is held against."""

    drives = DrivesField(label="Drives on the bench", help_text="Scan each one, one to a line.")
    release = ReleaseOfShow(
        Release.objects.none(), required=False, label="The release in your hand", empty_label="none: each by the book"
    )
    drive_set = forms.ModelChoiceField(
        DriveSet.objects.all(), required=False, label="As a whole set", empty_label="no: drive by drive",
        help_text="Then nothing begins until every drive of it was scanned.",
    )  # fmt: skip

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        rows = Release.objects.filter(withdrawal=None, serials__isnull=False).select_related("person").distinct()
        self.fields["release"].queryset = rows.order_by("-pk")


class MethodForm(ScannedForm):
    """How it is wiped. The drives come along from what was scanned."""

    method = forms.ChoiceField(
        choices=Wipe.Method.choices, label="Method class", initial=Wipe.Method.PURGE,
        help_text="Clear: by ordinary commands. Purge: no laboratory gets it back. Destroy: it never stores again.",
    )  # fmt: skip
    technique = forms.CharField(max_length=120, label="Technique", help_text="The command or pattern that is used.")
    tool = forms.CharField(max_length=120, label="Tool and its version")
    destination = forms.ChoiceField(choices=DESTINATIONS, label="Where the drives go afterwards")
    place_words = forms.CharField(required=False, max_length=120, label="Where it is done")
    held_before = forms.CharField(required=False, max_length=120, label="How what was on them is classed")

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        for name in ("drives", "release", "drive_set"):
            self.fields[name].widget = forms.HiddenInput()

    @property
    def asked(self) -> list[forms.BoundField]:
        return self.visible_fields()


class EndForm(forms.Form):
    """How a wipe under way ended, for the drives that are ticked."""

    drives = DriveChoices(Item.objects.none(), label="Which drives")
    words = forms.CharField(max_length=120, label="What was seen or done")

    def __init__(self, *args: Any, open_ones: list[int], **more: Any) -> None:
        super().__init__(*args, **more)
        self.fields["drives"].queryset = Item.objects.filter(pk__in=open_ones).select_related("type").order_by("serial")
        self.fields["drives"].called = dict(self.fields["drives"].queryset.values_list("pk", "serial"))


class VerifyForm(EndForm):
    check = forms.ChoiceField(choices=CHECKS, label="How it was verified")
    words = forms.CharField(required=False, max_length=80, label="What was seen", help_text="For a sample: how much.")
    field_order = ("drives", "check", "words")
