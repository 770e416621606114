"""What a person sends while a sheet is on its way in."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from django import forms

from inventory.exchange.limits import SheetRefused
from inventory.exchange.notices import Question, accepted
from inventory.exchange.plan import plan_book
from inventory.exchange.reading import read
from inventory.exchange.remembering import sheet_of
from inventory.models import ImportedSheet


class UploadForm(forms.Form):
    """A file that can be read. What it says is looked at on the next page."""

    file = forms.FileField(label="Your sheet, CSV or XLSX", error_messages={"required": "Choose a file first."})

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        self.body = file.read()
        try:
            self.plan = plan_book(read(self.body, file.name))
        except SheetRefused as refusal:
            raise forms.ValidationError(str(refusal)) from None
        return file

    def save(self, *, by: str, at: datetime) -> ImportedSheet:
        """Keep the file to the byte, with what its earlier state was told."""
        sheet = sheet_of(self.body, self.cleaned_data["file"].name, self.plan, by=by, at=at)
        if sheet.pk is None:
            sheet.save()
        return sheet


def key_of(ident: str) -> str:
    """A form field's name for any id."""
    return hashlib.sha256(ident.encode()).hexdigest()[:16]


def answers_from(data: Mapping[str, str], questions: Iterable[Question]) -> dict[str, str]:
    """The answers in a posted form, by question id; what was not offered is dropped."""
    found = {}
    for question in questions:
        key = key_of(question.id)
        said = _said(data, key, question)
        if said and accepted(said, question.choices, question.free):
            found[question.id] = accepted(said, question.choices, question.free)
    return found


def _said(data: Mapping[str, str], key: str, question: Question) -> str:
    """Words win over a choice: whoever types means it."""
    if question.free == "who and how":
        who, how = data.get(f"{key}-who", "").strip(), data.get(f"{key}-how", "").strip()
        return f"{who}|{how}" if who or how else data.get(key, "")
    words = data.get(f"{key}-words", "").strip()
    return words or data.get(key, "")
