"""What a person fills in about drives. Shape only: the acts' own modules say what it means and may refuse it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.utils import timezone

from inventory.models import Copy, Hold, Item, Kind, Organisation, Person, Place, PlaceKind, Release, Wipe
from inventory.naming import item_named

HANDS_AND_ROOMS = (PlaceKind.STORE, PlaceKind.SHELF, PlaceKind.ROOM, PlaceKind.VENUE)


class DriveChoice(forms.ModelChoiceField):
    called: Mapping[int, str] = {}

    def label_from_instance(self, drive: Item) -> str:
        return self.called.get(drive.pk) or str(drive)


class DriveChoices(forms.ModelMultipleChoiceField):
    widget = forms.CheckboxSelectMultiple
    called: Mapping[int, str] = {}

    def label_from_instance(self, drive: Item) -> str:
        return self.called.get(drive.pk) or str(drive)


class DriveField(forms.CharField):
    """One drive by its code or serial. Cleans to the Item."""

    def clean(self, value: Any) -> Item:
        return _drive(super().clean(value))


class DrivesField(forms.CharField):
    """Drives by code or serial, one to a line, as a scanner types them. Cleans to a list, each once."""

    widget = forms.Textarea(attrs={"rows": 8, "autocapitalize": "characters", "spellcheck": "false"})

    def clean(self, value: Any) -> list[Item]:
        lines = [line.strip() for line in super().clean(value).splitlines() if line.strip()]
        return list({drive.pk: drive for drive in map(_drive, lines)}.values())


def _drive(words: str) -> Item:
    item = item_named(words)
    if item is None:
        raise forms.ValidationError(f"“{words}” is no code or serial in the book. Check it against the label.")
    if item.type.kind != Kind.DRIVE:
        raise forms.ValidationError(f"{item} is no drive. Scan the label on a drive's sled.")
    return item


@dataclass(frozen=True, slots=True)
class Scope:
    """What an act on a set may be about: (value, words) pairs for choices, shows by code, ids of holds and wipes."""

    drives: Sequence[tuple[int, str]] = ()
    bays: Sequence[str] = ()
    references: Sequence[str] = ()
    doubts: Sequence[tuple[str, str]] = ()
    unnamed: Sequence[tuple[str, str]] = ()
    holds: Sequence[int] = ()
    under_way: Sequence[int] = ()
    releases: Sequence[int] = ()
    copies: Sequence[int] = ()
    requests: Sequence[int] = ()
    set_name: str = ""

    @property
    def drive_ids(self) -> list[int]:
        return [pk for pk, _ in self.drives]


class AboutDrives(forms.Form):
    """Base: told which drives, bays and shows the page is about. `same_show`: is it about what is on them already?"""

    same_show = True

    def __init__(self, *args: Any, scope: Scope = Scope(), **more: Any) -> None:
        super().__init__(*args, **more)
        self.scope = scope
        for field in self.fields.values():
            if isinstance(field, DriveChoice | DriveChoices):
                field.called = dict(scope.drives)
                field.queryset = Item.objects.filter(pk__in=scope.drive_ids).select_related("type").order_by("serial")
        if "bay" in self.fields:
            self.fields["bay"] = forms.ChoiceField(choices=[(bay, bay) for bay in scope.bays], label="Bay")
        if "reference" in self.fields and self.same_show and len(scope.references) == 1:
            self.initial.setdefault("reference", scope.references[0])
        self.offer(scope)

    def offer(self, scope: Scope) -> None:
        """Fill in the choices that only this form has."""


class TimeToldForm(AboutDrives):
    same_show = False
    happened_at = forms.DateTimeField(
        required=False, label="When, if not now", help_text="A time told afterwards is kept as told afterwards.",
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
    )  # fmt: skip
    note = forms.CharField(required=False, max_length=250, label="Note")


class RecordingForm(TimeToldForm):
    reference = forms.CharField(
        required=False, max_length=30, label="For which show (its code)",
        help_text="Without a show, the content cannot be released until somebody names it.",
    )  # fmt: skip
    field_order = ("reference", "happened_at", "note")


class JoinForm(TimeToldForm):
    drive = DriveField(max_length=80, label="Drive that joins (code or serial)")
    bay = forms.CharField(max_length=20, label="Bay")
    field_order = ("drive", "bay", "happened_at", "note")


class DropForm(TimeToldForm):
    drive = DriveChoice(Item.objects.none(), label="Drive that leaves the set", empty_label="choose a drive")
    field_order = ("drive", "happened_at", "note")


class FitForm(TimeToldForm):
    drive = DriveChoice(Item.objects.none(), label="Drive", empty_label="choose a drive")
    frame = forms.ModelChoiceField(Item.objects.filter(type__kind=Kind.FRAME), label="Into which frame")
    bay = forms.CharField(max_length=20, label="Bay")
    reference = forms.CharField(required=False, max_length=30, label="For which show (its code)")
    field_order = ("drive", "frame", "bay", "reference", "happened_at", "note")


class WherePutForm(AboutDrives):
    """A store, shelf, room or venue, or the number of a case."""

    place = forms.ModelChoiceField(
        Place.objects.filter(kind__in=HANDS_AND_ROOMS), required=False, label="To which place", empty_label="choose one"
    )
    case = forms.CharField(required=False, max_length=40, label="Or into which case (its number)")

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        case = item_named(data["case"]) if data.get("case") else None
        if data.get("case") and (case is None or not hasattr(case, "inside") or case.type.kind == Kind.FRAME):
            self.add_error("case", f"{data['case']} is no case. Write its number, like HER-03.")
        elif case is not None:
            data["place"] = case.inside
        elif not data.get("place"):
            self.add_error("place", "Choose a place, or write the number of a case.")
        return data


class PullForm(WherePutForm, TimeToldForm):
    drive = DriveChoice(Item.objects.none(), label="Drive that comes out", empty_label="choose a drive")
    field_order = ("drive", "place", "case", "happened_at", "note")


class SwapForm(WherePutForm, TimeToldForm):
    out = DriveChoice(Item.objects.none(), label="Drive that came out", empty_label="choose a drive")
    into = DriveField(max_length=80, label="Drive that went in (code or serial)")
    bay = forms.CharField(max_length=20, label="Bay")
    reference = forms.CharField(required=False, max_length=30, label="For which show (its code)")
    suspect = forms.BooleanField(required=False, label="The old one is suspect")
    field_order = ("out", "into", "bay", "place", "case", "suspect", "reference", "happened_at", "note")


class BlankForm(AboutDrives):
    drives = DriveChoices(Item.objects.none(), label="Which drives are blank")
    how_known = forms.CharField(
        max_length=250, label="How you know", help_text="Like: read back empty on the bench. Content in the book stays."
    )


class GivenForm(AboutDrives):
    drives = DriveChoices(Item.objects.none(), label="Drives whose whole content you know")
    reference = forms.CharField(required=False, max_length=30, label="The show that is on them (its code)")
    note = forms.CharField(required=False, max_length=250, label="Or in words")


class ReleaseForm(AboutDrives):
    reference = forms.CharField(max_length=30, label="Show (its code)")
    drives = DriveChoices(Item.objects.none(), label="Exactly these drives")
    person = forms.ModelChoiceField(Person.objects.all(), label="Who releases them", empty_label="choose a person")
    evidence = forms.CharField(
        max_length=250, label="How the release came", help_text="A letter, a message: where it is."
    )
    no_copies_wanted = forms.BooleanField(required=False, label="The owner wants no copies kept")


class OwnReleaseForm(AboutDrives):
    """A client's own word for her own show."""

    reference = forms.ChoiceField(label="Your show")
    drives = DriveChoices(Item.objects.none(), label="Exactly these drives")
    no_copies_wanted = forms.BooleanField(required=False, label="We want no copies kept")
    sure = forms.BooleanField(label="The content on these drives may be erased for ever")

    def offer(self, scope: Scope) -> None:
        self.fields["reference"].choices = [(one, one) for one in scope.references]


class ReleaseChoice(forms.ModelChoiceField):
    def label_from_instance(self, row: Release) -> str:
        return f"{row.reference}, by {row.person}, {timezone.localtime(row.date):%d %b %Y}: {row.evidence}"


class WithdrawForm(AboutDrives):
    release = ReleaseChoice(Release.objects.none(), label="Release to withdraw", empty_label="choose one")
    why = forms.CharField(max_length=250, label="Why")

    def offer(self, scope: Scope) -> None:
        self.fields["release"].queryset = Release.objects.filter(pk__in=scope.releases).select_related("person")


class MandateForm(AboutDrives):
    reference = forms.CharField(max_length=30, label="Show (its code)")
    owner = forms.ModelChoiceField(
        Organisation.objects.all(), label="Whose content it is", empty_label="choose an owner"
    )
    persons = forms.ModelMultipleChoiceField(Person.objects.all(), label="Who may release it")
    why = forms.CharField(max_length=200, label="Why these persons may")
    copies = forms.IntegerField(min_value=0, max_value=9, initial=2, label="Copies besides the drives")
    media = forms.IntegerField(min_value=0, max_value=9, initial=2, label="On how many media")
    elsewhere = forms.IntegerField(min_value=0, max_value=9, initial=1, label="How many of them elsewhere")
    owners_document = forms.CharField(required=False, max_length=200, label="If fewer than 2, 2 and 1: the document")


class HoldForm(AboutDrives):
    what = forms.ChoiceField(label="Hold what")
    why = forms.CharField(max_length=250, label="Why")

    def offer(self, scope: Scope) -> None:
        shows = [(f"show:{one}", f"everything of {one}, wherever it is found") for one in scope.references]
        drives = [(f"drive:{pk}", words) for pk, words in scope.drives]
        whole = [("set", f"the whole of {scope.set_name}")] if scope.set_name else []
        self.fields["what"].choices = [*whole, *drives, *shows]


class LiftForm(AboutDrives):
    hold = forms.ModelChoiceField(Hold.objects.none(), label="Hold to lift", empty_label="choose one")
    why = forms.CharField(max_length=250, label="Why it may be lifted")

    def offer(self, scope: Scope) -> None:
        self.fields["hold"].queryset = Hold.objects.filter(pk__in=scope.holds, lift=None)


class CopyForm(AboutDrives):
    reference = forms.CharField(max_length=30, label="Show (its code)")
    drives = DriveChoices(Item.objects.none(), label="Which drives it covers")
    medium = forms.CharField(max_length=60, label="What it is on", help_text="Like: tape, archive disk, office server.")
    place = forms.ModelChoiceField(
        Place.objects.exclude(kind__in=(PlaceKind.GONE, PlaceKind.ROAD)), required=False, label="Where it is kept",
        empty_label="choose a place",
    )  # fmt: skip
    place_words = forms.CharField(required=False, max_length=200, label="Or where, in words")
    on_drive = forms.CharField(required=False, max_length=80, label="Or on our drive (code or serial)")
    made_at = forms.DateTimeField(
        required=False, label="Made when, if not now", widget=forms.DateTimeInput(attrs={"type": "datetime-local"}),
        help_text="A copy made before the last recording ended does not cover it.",
    )  # fmt: skip
    verified_how = forms.CharField(
        required=False, max_length=120, label="If you verified it: how", help_text="Like: checksums compared."
    )
    note = forms.CharField(required=False, max_length=250, label="Note")

    def clean_on_drive(self) -> Item | None:
        words = self.cleaned_data["on_drive"]
        return _drive(words) if words else None


class CopyChoice(forms.ModelChoiceField):
    def label_from_instance(self, row: Copy) -> str:
        where = row.place or row.place_words or "our drive"
        return f"{row.reference} on {row.medium}, {where}, made {timezone.localtime(row.made_at):%d %b %Y %H:%M}"


class CopyOneForm(AboutDrives):
    copy = CopyChoice(Copy.objects.none(), label="Copy", empty_label="choose one")

    def offer(self, scope: Scope) -> None:
        self.fields["copy"].queryset = Copy.objects.filter(pk__in=scope.copies).select_related("place")


class CopyChangeForm(CopyOneForm):
    words = forms.CharField(max_length=120, label="How it was verified, or what is wrong with it")


class CopyVerifiedForm(CopyChangeForm):
    verified_by = forms.CharField(required=False, max_length=120, label="By whom, if not you")
    verified_at = forms.DateTimeField(
        required=False, label="When, if not now", widget=forms.DateTimeInput(attrs={"type": "datetime-local"})
    )


class ManyFiles(forms.ClearableFileInput):
    allow_multiple_selected = True


class ManyFilesField(forms.FileField):
    """Several files at once. Cleans to (name, bytes) pairs."""

    widget = ManyFiles(attrs={"accept": ".mhl,.xml"})
    most_bytes = 16 * 2**20

    def clean(self, data: Any, initial: Any = None) -> list[tuple[str, bytes]]:
        files = [super(ManyFilesField, self).clean(one, initial) for one in data or [None]]
        if sum(file.size for file in files) > self.most_bytes:
            raise forms.ValidationError("These files are too large to be hash lists. Check the folder by command.")
        return [(file.name, file.read()) for file in files]


class HashListForm(CopyOneForm):
    files = ManyFilesField(
        label="Everything in its ascmhl folder", help_text="ascmhl_chain.xml and all .mhl files, chosen together."
    )
    folder = forms.CharField(
        required=False, max_length=200, label="Folder of the copy on this server",
        help_text="If named, its files are read and compared, and a copy that agrees counts as verified.",
    )  # fmt: skip


class WhyForm(AboutDrives):
    why = forms.CharField(max_length=250, label="Why")


class OneDriveForm(AboutDrives):
    drive = DriveChoice(Item.objects.none(), label="Which drive", empty_label="choose a drive")


class DriveWhyForm(OneDriveForm):
    why = forms.CharField(max_length=250, label="What happened, and how you know")


class CameFittedForm(AboutDrives):
    drives = DriveChoices(Item.objects.none(), label="Which drives were in its bays")
    frame = forms.ModelChoiceField(Item.objects.filter(type__kind=Kind.FRAME), label="In which frame")
    told = forms.CharField(max_length=120, label="Who of the senders was told", help_text="A name, and how.")


class HealthForm(OneDriveForm):
    result = forms.ChoiceField(
        choices=[("", "choose what it found"), ("good", "good"), ("bad", "bad")], label="What the check found"
    )
    note = forms.CharField(max_length=250, label="Which check, with which tool")


class SerialForm(OneDriveForm):
    serial = forms.CharField(max_length=80, label="The serial as the drive itself reads out")


class AcceptForm(AboutDrives):
    doubts = forms.MultipleChoiceField(label="Which doubts", widget=forms.CheckboxSelectMultiple)
    why = forms.CharField(max_length=250, label="What you looked at, and why it may be accepted")

    def offer(self, scope: Scope) -> None:
        self.fields["doubts"].choices = list(scope.doubts)


class NameForm(AboutDrives):
    recording = forms.ChoiceField(label="Content without a name")
    reference = forms.CharField(max_length=30, label="Whose it is: the show's code")
    why = forms.CharField(max_length=250, label="How you know")

    def offer(self, scope: Scope) -> None:
        self.fields["recording"].choices = list(scope.unnamed)


class BenchForm(AboutDrives):
    drives = DrivesField(label="Drives on the bench", help_text="Scan each one, one to a line.")
    whole_set = forms.BooleanField(
        required=False, label="As a whole set: nothing begins until every drive of it was scanned", initial=True
    )
    method = forms.ChoiceField(choices=Wipe.Method.choices, label="Method class")
    technique = forms.CharField(max_length=120, label="Technique", help_text="The command or pattern that is used.")
    tool = forms.CharField(max_length=120, label="Tool and version")


class WipeChoices(forms.ModelMultipleChoiceField):
    widget = forms.CheckboxSelectMultiple

    def label_from_instance(self, wipe: Wipe) -> str:
        return f"{wipe.drive.serial or wipe.drive}, {wipe.method}, begun by {wipe.entered_by}"


class BenchEndForm(AboutDrives):
    """How wipes under way ended."""

    wipes = WipeChoices(Wipe.objects.none(), label="Which wipes")
    words = forms.CharField(max_length=120, label="How it was verified, or why it ended")

    def offer(self, scope: Scope) -> None:
        found = Wipe.objects.filter(pk__in=scope.under_way).select_related("drive__type")
        self.fields["wipes"].queryset = found.order_by("drive__serial")
