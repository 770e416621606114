"""Rows that are only ever added. The database refuses as well: see inventory/triggers.py."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from functools import cache
from operator import attrgetter
from typing import Any, NoReturn, Self
from uuid import UUID

from django.db import connections, models


class AppendOnlyError(RuntimeError):
    """Somebody tried to change or delete a row that records what happened."""


def _refuse(what: str) -> NoReturn:
    raise AppendOnlyError(f"{what}: this record is only ever added to. Add a correcting entry instead.")


class AppendOnlyQuerySet(models.QuerySet):
    def update(self, **kwargs: Any) -> NoReturn:
        _refuse("update")

    def delete(self) -> NoReturn:
        _refuse("delete")

    def bulk_update(self, *args: Any, **kwargs: Any) -> NoReturn:
        _refuse("bulk update")

    def bulk_create(self, objs: Any, **kwargs: Any) -> list[Any]:
        if kwargs.get("update_conflicts"):
            _refuse("update on conflict")
        return super().bulk_create(objs, **kwargs)

    def append(self, rows: Sequence[Any]) -> None:
        """Add rows that carry their own keys: the same insert as bulk_create's at a tenth of its cost.

        Its text is put together once for a model, and only values that the database keeps in another form than Python
        are changed, by their type: ids and moments. Rows with days or decimals go by bulk_create.
        """
        if not rows:
            return
        connection = connections[self.db]
        insert, values_of = _insert(self.model)
        kept_as = _KEPT_AS[connection.vendor]
        values = [[kept_as[type(one)](one) if type(one) in kept_as else one for one in values_of(row)] for row in rows]
        with connection.cursor() as cursor:
            cursor.executemany(insert, values)
        for row in rows:
            row._state.adding, row._state.db = False, self.db


def _text(moment: datetime) -> str:
    return str(moment.astimezone(UTC).replace(tzinfo=None))


# The forms that Django's own fields give: SQLite has no types for these; psycopg knows them.
_KEPT_AS: dict[str, dict[type, Callable[[Any], Any]]] = {
    "sqlite": {UUID: attrgetter("hex"), datetime: _text},
    "postgresql": {},
}


@cache
def _insert(model: type[models.Model]) -> tuple[str, Callable[[models.Model], tuple[Any, ...]]]:
    """The text of the insert, and what reads a row's values in its order."""
    fields = model._meta.concrete_fields
    columns = [f'"{field.column}"' for field in fields]
    marks = ", ".join(["%s"] * len(columns))
    insert = f'INSERT INTO "{model._meta.db_table}" ({", ".join(columns)}) VALUES ({marks})'
    return insert, attrgetter(*(field.attname for field in fields))


class AppendOnly(models.Model):
    """Base of every table that facts and decisions are added to and never changed in."""

    objects = AppendOnlyQuerySet.as_manager()

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            _refuse("save")
        super().save(*args, **{**kwargs, "force_insert": True})

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        _refuse("delete")

    @classmethod
    def tables(cls) -> list[type[Self]]:
        """Every concrete append-only model, for the triggers and their check."""
        found: list[type[Self]] = []
        for child in cls.__subclasses__():
            found += child.tables() if child._meta.abstract else [child]
        return found
