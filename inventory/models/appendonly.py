"""Rows that are only ever added. The database refuses as well: see inventory/triggers.py."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from functools import cache
from operator import attrgetter, itemgetter
from typing import Any, NoReturn, Self
from uuid import UUID

from django.db import connections, models
from django.db.backends.base.base import BaseDatabaseWrapper


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
        values_of = itemgetter(*(field.attname for field in self.model._meta.concrete_fields))
        _put_in(connection, self.model, [values_of(row.__dict__) for row in rows])
        for row in rows:
            row._state.adding, row._state.db = False, self.db


def _text(moment: datetime) -> str:
    return str(moment.astimezone(UTC).replace(tzinfo=None))


# SQLite has no types for these; psycopg knows them. The forms are those that Django's own fields give.
_KEPT_AS: dict[type, Callable[[Any], Any]] = {UUID: attrgetter("hex"), datetime: _text}
FEW = 8  # rows that PostgreSQL takes as quickly one by one


def _put_in(connection: BaseDatabaseWrapper, model: type[models.Model], rows: list[tuple[Any, ...]]) -> None:
    if connection.vendor == "postgresql" and len(rows) > FEW:
        with connection.wrap_database_errors, connection.cursor() as cursor, cursor.copy(_texts(model)[1]) as copy:
            for row in rows:
                copy.write_row(row)
        return
    kept_as = _KEPT_AS if connection.vendor == "sqlite" else {}
    values = [[kept_as[type(one)](one) if type(one) in kept_as else one for one in row] for row in rows]
    with connection.cursor() as cursor:
        cursor.executemany(_texts(model)[0], values)


@cache
def _texts(model: type[models.Model]) -> tuple[str, str]:
    """An insert of one row, and PostgreSQL's own way for many: no row is a text to be read and planned."""
    columns = [f'"{field.column}"' for field in model._meta.concrete_fields]
    table = f'"{model._meta.db_table}" ({", ".join(columns)})'
    return f"INSERT INTO {table} VALUES ({', '.join(['%s'] * len(columns))})", f"COPY {table} FROM STDIN"


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
