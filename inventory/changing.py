"""Kinds, places, people and organisations: a row is changed by a form, and who changed what is kept beside it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django import forms
from django.db import transaction
from django.db.models import Model, QuerySet

from inventory.models import RowChange

ADDED, REMOVED = "added", "taken away"


@transaction.atomic
def save(form: forms.ModelForm[Any], *, by: str, at: datetime) -> Any:
    """Save a valid form and keep each field that changed, with what stood there before."""
    before = _held(type(form.instance), form.instance.pk)
    row = form.save()
    after = _held(type(row), row.pk)
    if before is None:
        _keep([("", "", ADDED)], row, by, at)
    elif after is not None:
        _keep(((name, before[name], after[name]) for name in after if before[name] != after[name]), row, by, at)
    return row


@transaction.atomic
def remove(row: Model, *, by: str, at: datetime) -> None:
    """Take a row away and keep that it was there."""
    _keep([("", str(row)[:250], REMOVED)], row, by, at)
    row.delete()


def of(row: Model) -> QuerySet[RowChange]:
    """What was changed in a row, newest first."""
    return RowChange.objects.filter(table=row._meta.label_lower, row=row.pk)


def _held(model: type[Model], pk: int | None) -> dict[str, str] | None:
    """The row as words, field by field, as the database has it."""
    row = model._default_manager.filter(pk=pk).first() if pk else None
    if row is None:
        return None
    fields = [field for field in model._meta.concrete_fields if field.editable and not field.primary_key]
    return {str(field.verbose_name): _words(row, field.name) for field in fields}


def _words(row: Model, name: str) -> str:
    value = getattr(row, name)
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "" if value is None else str(value)


def _keep(changes: Iterable[tuple[str, str, str]], row: Model, by: str, at: datetime) -> None:
    RowChange.objects.bulk_create(
        RowChange(
            table=row._meta.label_lower, row=row.pk, words=str(row)[:200], field=name[:60], before=before[:250],
            after=after[:250], by=by[:120], at=at,
        )
        for name, before, after in changes
    )  # fmt: skip
