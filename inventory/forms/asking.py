"""What a person fills in to ask for a release, and to record the answer."""

from __future__ import annotations

from django import forms
from django.utils import timezone

from inventory.forms.drives import AboutDrives, DriveChoices, Scope
from inventory.models import Item, Person, ReleaseRequest, RequestAnswer


class AskForm(AboutDrives):
    reference = forms.CharField(max_length=30, label="Show (its code)")
    drives = DriveChoices(Item.objects.none(), label="Exactly these drives, the swapped-out ones too")
    person = forms.ModelChoiceField(Person.objects.none(), label="Who is asked", empty_label="choose a person")
    text = forms.CharField(
        required=False, label="The letter", widget=forms.Textarea(attrs={"rows": 4}),
        help_text="Left empty, it is drafted for you, with every serial; you read it before you send it.",
    )  # fmt: skip

    def offer(self, scope: Scope) -> None:
        may = Person.objects.filter(mandates__mandate__reference__in=scope.references).distinct()
        self.fields["person"].queryset = may
        self.initial.setdefault("drives", [pk for pk, _ in scope.drives])
        if may.count() == 1:
            self.initial.setdefault("person", may[0].pk)


class RequestChoice(forms.ModelChoiceField):
    def label_from_instance(self, row: ReleaseRequest) -> str:
        return f"{row.reference}: {row.person}, asked {timezone.localtime(row.entered_at):%d %b %Y}"


class AnswerForm(AboutDrives):
    request = RequestChoice(ReleaseRequest.objects.none(), label="Asked", empty_label="choose one")
    word = forms.ChoiceField(choices=RequestAnswer.Word.choices, label="The answer")
    words = forms.CharField(max_length=250, label="In which words, and where they are kept")

    def offer(self, scope: Scope) -> None:
        self.fields["request"].queryset = ReleaseRequest.objects.filter(pk__in=scope.requests).select_related("person")
