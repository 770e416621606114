"""A query put together once, and asked many times with other values.

Django puts a query's text together anew each time it is asked, which costs more than the database takes to answer a
small one. For the queries that a page asks by the dozen the text is kept, with the places of its values in it; the
rows are those that the query set itself would give, each value turned back by its own field.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import Enum
from functools import lru_cache
from typing import Any
from uuid import UUID
from weakref import WeakKeyDictionary

from django.db import DEFAULT_DB_ALIAS, connections
from django.db.models import QuerySet

from inventory.rereading import Of, bound_to

Rows = list[tuple[Any, ...]]


class Asked(Enum):
    """What a query is asked with: a moment, one id, or any number of ids or texts at once, by IN.

    `TOLD` ones say more: of the entries, the query reads those alone that tell of these things, codes or places, or of
    no later moment, and which of them stand (inventory/tallies.py). What else it asks may leave some of those out,
    never take others in.
    """

    MOMENT = "moment"
    ID = "id"
    IDS = "ids"
    TOLD_THINGS = "ids of things told of"
    TOLD_CODES = "ids of codes told of"
    TOLD_PLACES = "ids of places told of"
    TOLD_UNTIL = "the last moment told of"
    UUIDS = "uuids"
    TEXTS = "texts"

    def sign(self, number: int) -> Any:
        """A value that no query holds of itself, to find the place of the true one by."""
        odd, moment = 918_273_000 + number, datetime(1801, 1, 1, 0, 0, number, 918_273, tzinfo=UTC)
        signs = {
            Asked.MOMENT: moment, Asked.TOLD_UNTIL: moment, Asked.ID: -odd,
            Asked.UUIDS: [UUID(int=odd)], Asked.TEXTS: [f"\x01{odd}"],
        }  # fmt: skip
        return signs.get(self, [-odd])

    def as_asked(self, value: Any, connection: Any) -> Any:
        """In the form that the database is asked with; of several each once, in order."""
        if self in (Asked.MOMENT, Asked.TOLD_UNTIL):
            return connection.ops.adapt_datetimefield_value(value)
        if self is Asked.ID:
            return value
        several = sorted({one for one in value if one is not None})
        hexed = self is Asked.UUIDS and not connection.features.has_native_uuid_field
        return [one.hex for one in several] if hexed else several


BOUND = {Asked.TOLD_THINGS: Of.THINGS, Asked.TOLD_CODES: Of.CODES, Asked.TOLD_PLACES: Of.PLACES,
         Asked.TOLD_UNTIL: Of.UNTIL}  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Text:
    """The text between its values; for each place the name of the value that goes there, else the value itself."""

    parts: tuple[str, ...]
    places: tuple[tuple[str, Any], ...]
    turns: dict[int, Callable[[Any], Any]]

    def filled(self, given: dict[str, Any]) -> tuple[str, list[Any]]:
        words, values = [self.parts[0]], []
        for (name, fixed), part in zip(self.places, self.parts[1:], strict=True):
            value = given[name] if name else fixed
            several = value if isinstance(value, list) else [value]
            words += [", ".join(["%s"] * len(several)), part]
            values += several
        return "".join(words), values

    def turned_back(self, rows: Rows) -> Rows:
        """The rows as the query set would give them: turned column by column, which is far quicker than row by row."""
        if not rows or not self.turns:
            return rows
        columns: list[Iterable[Any]] = list(zip(*rows, strict=True))
        for number, turn in self.turns.items():
            columns[number] = map(turn, columns[number])
        return list(zip(*columns, strict=True))


@lru_cache(maxsize=20_000)
def _moment(text: str | None) -> datetime | None:
    return None if text is None else datetime.fromisoformat(text).replace(tzinfo=UTC)


@lru_cache(maxsize=20_000)
def _uuid(text: str | None) -> UUID | None:
    """An entry's id is read time and again, and making one takes longer than reading its whole row."""
    return None if text is None else UUID(text)


Turned = Callable[[Any], Any]


def _turns(columns: list[Any], converters: dict[int, Any], connection: Any) -> dict[int, Turned]:
    """By its number, how each column that needs it is turned back; quickly what SQLite keeps as text of one form."""
    quick = {"DateTimeField": _moment, "UUIDField": _uuid} if connection.vendor == "sqlite" else {}
    kinds = {number: column.output_field.get_internal_type() for number, column in enumerate(columns)}
    turns: dict[int, Turned] = {number: quick[kind] for number, kind in kinds.items() if kind in quick}
    return {number: _one_after_another(how, connection) for number, how in converters.items()} | turns


def _one_after_another(how: tuple[Iterable[Callable[..., Any]], Any], connection: Any) -> Turned:
    converters, expression = how

    def turn(value: Any) -> Any:
        for convert in converters:
            value = convert(value, expression, connection)
        return value

    return turn


class Prepared:
    """`ask` makes the query set, by values_list, from values named: Prepared(ask, at=Asked.MOMENT, items=Asked.IDS).

    Called with those values it gives the query's rows as tuples, in its order.
    """

    def __init__(self, ask: Callable[..., QuerySet[Any, Any]], **values: Asked) -> None:
        self.ask, self.values = ask, values
        self._bound = next(((name, BOUND[kind]) for name, kind in values.items() if kind in BOUND), None)
        self._texts: WeakKeyDictionary[Any, _Text] = WeakKeyDictionary()  # by connection: each reads in its own way

    def __call__(self, **given: Any) -> Rows:
        connection = connections[DEFAULT_DB_ALIAS]
        wanted = {name: kind.as_asked(given[name], connection) for name, kind in self.values.items()}
        if [] in wanted.values():
            return []
        if connection not in self._texts:
            self._texts[connection] = self._put_together(connection)
        text = self._texts[connection]
        sql, values = text.filled(wanted)
        with self._bound_to(wanted), connection.cursor() as cursor:
            cursor.execute(sql, values)
            return text.turned_back(cursor.fetchall())

    def _bound_to(self, wanted: dict[str, Any]) -> AbstractContextManager[None]:
        if self._bound is None:
            return nullcontext()
        name, of = self._bound
        return bound_to(of, wanted[name] if isinstance(wanted[name], list) else [wanted[name]])

    def _put_together(self, connection: Any) -> _Text:
        signs = {name: kind.sign(number) for number, (name, kind) in enumerate(self.values.items())}
        compiler = self.ask(**signs).query.get_compiler(DEFAULT_DB_ALIAS)
        sql, params = compiler.as_sql()
        asked = {name: self.values[name].as_asked(sign, connection) for name, sign in signs.items()}
        names = {one: name for name, sign in asked.items() for one in (sign if isinstance(sign, list) else [sign])}
        columns = [column for column, _sql, _name in compiler.select]
        turns = _turns(columns, compiler.get_converters(columns), connection)
        parts = tuple(sql.split("%s"))
        places = tuple((names.get(one, ""), one) for one in params)
        return _Text(parts, places, turns)
