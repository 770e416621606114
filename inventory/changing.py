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


class Overtaken(Exception):
    """Somebody else changed the row while this form was being filled in. Carries a sentence fit to show."""


@transaction.atomic
def save(form: forms.ModelForm[Any], *, by: str, at: datetime, seen: str = "") -> Any:
    """Save a valid form and keep each field that changed, with what stood there before.

    `seen` is `mark` of the row when the form was shown; a change made since then refuses with Overtaken.
    """
    before = _held(type(form.instance), form.instance.pk)
    _ask_overtaken(form.instance, seen)
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
    _keep([("", str(row), REMOVED)], row, by, at)
    row.delete()


def of(row: Model) -> QuerySet[RowChange]:
    """What was changed in a row, newest first."""
    return RowChange.objects.filter(table=row._meta.label_lower, row=row.pk)


def mark(row: Model | None) -> str:
    """What a form sends back, to tell whether its row was changed since it was shown."""
    newest = of(row).first() if row is not None else None
    return str(newest.pk if newest else 0)


def _ask_overtaken(row: Model, seen: str) -> None:
    if not seen.isdecimal() or row.pk is None:
        return
    since = list(of(row).filter(pk__gt=int(seen[:18])))
    if since:
        what = "; ".join(f"{one.field} is now “{one.after}”" for one in reversed(since))
        raise Overtaken(
            f"{since[0].by} changed this while you were typing: {what}. What you typed is still below. "
            "Look at both, then keep it again."
        )


def _held(model: type[Model], pk: int | None) -> dict[str, str] | None:
    """The row as words, field by field, as the database has it. It is held, so changes queue."""
    row = model._default_manager.select_for_update().filter(pk=pk).first() if pk else None
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
            table=row._meta.label_lower, row=row.pk, words=str(row)[:200], field=name[:60], before=before,
            after=after, by=by[:120], at=at,
        )
        for name, before, after in changes
    )  # fmt: skip
