"""What was read of the database for an answer, and whether the database would tell the same again.

An answer that is worked out from what was read, and from nothing else, stays as it is while each of its readings says
the same. Reading again is far cheaper than making: no query is put together, no row becomes an object.
"""

from __future__ import annotations

import hashlib
import marshal
import os
import sqlite3
import threading
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from enum import Enum
from functools import lru_cache
from itertools import islice
from typing import Any

from django.db.backends.sqlite3._functions import register  # type: ignore[import-untyped]
from django.db.backends.sqlite3.base import FORMAT_QMARK_REGEX


class Moment(Enum):
    """Stands in a reading for the moment that was asked about: read again, it is asked about the new one."""

    ASKED = "the moment asked about"


class Of(Enum):
    """What the entries that a query reads are bound to: the thing, code or place that each tells of, or when it was."""

    THINGS = "things"
    CODES = "codes"
    PLACES = "places"
    UNTIL = "until"


@dataclass(frozen=True, slots=True)
class Bound:
    """No entry that tells of others, or of a later moment, changes what a query says, but one that takes one back.

    `those`: ids, or one moment as the database keeps it.
    """

    of: Of
    those: frozenset[Any]


@dataclass(frozen=True, slots=True)
class Reading:
    """One query with its values; and what the entries are bound to that it reads, where that is known."""

    sql: str
    values: tuple[Any, ...] | None
    bound: Bound | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class Part:
    """An answer that others are made of: what it came out as, and how to make it for another moment."""

    given: Any
    make: Callable[[datetime], Any]


@dataclass(slots=True)
class Notes:
    """Everything read while an answer was made, and the parts it was made of by their keys.

    `readings`: what each said, as a digest. `whole` is false once something could not be noted.
    """

    at: datetime | None
    readings: dict[Reading, bytes] = field(default_factory=dict)
    whole: bool = True
    parts: dict[Hashable, Part] = field(default_factory=dict)

    def add(self, readings: Mapping[Reading, bytes], whole: bool, parts: Mapping[Hashable, Part]) -> None:
        self.readings |= readings
        self.whole = self.whole and whole
        self.parts |= parts


class _Here(threading.local):
    """Of this thread: the notes being taken, outermost first, None where nothing is to be noted; what the query being
    asked is bound to; the connection for reading again."""

    def __init__(self) -> None:
        self.notes: list[Notes | None] = []
        self.bound: Bound | None = None
        self.reader: tuple[tuple[str, int], sqlite3.Connection] | None = None


_here = _Here()


def _open() -> list[Notes | None]:
    return _here.notes


@contextmanager
def bound_to(of: Of, those: Iterable[Any]) -> Iterator[None]:
    """Of the entries, what is asked within reads those alone that tell of these."""
    if any(_open()):
        _here.bound = Bound(of, frozenset(those))
    try:
        yield
    finally:
        _here.bound = None


@contextmanager
def noting(connection: Any, at: datetime | None) -> Iterator[Notes]:
    """Note what is read within; whoever takes notes round it has read the same."""
    notes, around = Notes(at), _open()
    is_first = not any(around)
    around.append(notes)
    try:
        if is_first:
            with connection.execute_wrapper(_note):
                yield notes
        else:
            yield notes
    finally:
        around.pop()
    noted(notes.readings, notes.whole, notes.parts)


@contextmanager
def unnoted() -> Iterator[None]:
    """Read something that is no part of the answer being made."""
    around = _open()
    around.append(None)
    try:
        yield
    finally:
        around.pop()


def noted(readings: Mapping[Reading, bytes], whole: bool, parts: Mapping[Hashable, Part]) -> None:
    """An answer that was kept goes into the one being made: so does what it rests on."""
    around = _open()
    if around and (notes := around[-1]) is not None:
        notes.add(readings, whole, parts)


def _note(execute: Callable[..., Any], sql: str, params: Any, many: bool, context: dict[str, Any]) -> Any:
    around = _open()
    given = execute(sql, params, many, context)
    if not around or (notes := around[-1]) is None:
        return given
    reading = None if many else reading_of(sql, params, notes.at, context["connection"].ops, bound=_here.bound)
    if reading is None:
        notes.add({}, False, {})
        return given
    cursor = context["cursor"]
    fetched = cursor.cursor = cursor.cursor if isinstance(cursor.cursor, Fetched) else Fetched(cursor.cursor)
    notes.add({reading: digest(fetched.found, context["connection"].vendor)}, True, {})
    return fetched


class Fetched:
    """A cursor all of whose rows were fetched as soon as it was asked, so that they are read once for two uses."""

    def __init__(self, cursor: Any) -> None:
        self.cursor = cursor
        self._fetch()

    def _fetch(self) -> None:
        self.found: list[Any] = self.cursor.fetchall() if self.cursor.description else []
        self.rest = iter(self.found)

    def execute(self, *asked: Any) -> Fetched:
        self.cursor.execute(*asked)
        self._fetch()
        return self

    def fetchone(self) -> Any:
        return next(self.rest, None)

    def fetchmany(self, size: int = 1) -> list[Any]:
        return list(islice(self.rest, size))

    def fetchall(self) -> list[Any]:
        return list(self.rest)

    def __iter__(self) -> Iterator[Any]:
        return self.rest

    def __getattr__(self, name: str) -> Any:
        return getattr(self.cursor, name)


def reading_of(sql: str, params: Any, at: datetime | None, ops: Any, *, bound: Bound | None = None) -> Reading | None:
    """The query with the moment asked about taken out of its values; None for what can't be read again like that.

    A value of the same fraction of a second as that moment was reckoned from it, in a way that is not known here.
    """
    if not sql.startswith(("SELECT", "WITH")) or (at is not None and not at.microsecond):
        return None
    if params is None:
        return Reading(sql, None, bound)
    values = tuple(params)
    others = [one for one in values if type(one) is not int]  # ids come by the hundred, and are what they are
    if at is not None and others:
        moment = ops.adapt_datetimefield_value(at)
        if moment in others:
            values = tuple(Moment.ASKED if one == moment else one for one in values)
        if any(_fraction(one) == at.microsecond for one in others if one != moment):
            return None
    return Reading(sql, values, bound) if all(_plain(one) for one in others) else None


def _fraction(value: Any) -> int | None:
    """Microseconds of a moment, as an object or as SQLite keeps it."""
    if isinstance(value, datetime):
        return value.microsecond
    is_text = isinstance(value, str) and len(value) == 26 and value[19] == "." and value[20:].isdigit()
    return int(value[20:]) if is_text else None


def _plain(value: Any) -> bool:
    return getattr(type(value), "__hash__", None) is not None


def read_again(connection: Any, reading: Reading, at: datetime | None) -> bytes:
    """A digest of all rows that the reading gives now, in their order."""
    values = reading.values
    if values is not None and at is not None:
        moment = connection.ops.adapt_datetimefield_value(at)
        values = tuple(moment if one is Moment.ASKED else one for one in values)
    file = file_of(connection) if connection.vendor == "sqlite" else None
    rows = _rows_of_file(file, reading.sql, values) if file else _rows(connection, reading.sql, values)
    return digest(rows, connection.vendor)


def digest(rows: list[Any], vendor: str) -> bytes:
    """Equal rows in the same order give equal digests. SQLite's hold text, numbers and bytes, of one form each."""
    told = marshal.dumps(rows, 2) if vendor == "sqlite" else repr(rows).encode()  # version 2: equal rows, equal bytes
    return hashlib.blake2b(told, digest_size=20).digest()


def file_of(connection: Any) -> tuple[str, int] | None:
    """Name and number of the file that SQLite keeps the book in; None for one in memory, as in tests."""
    name = str(connection.settings_dict["NAME"])
    try:
        return name, os.stat(name).st_ino
    except OSError:
        return None


def _rows(connection: Any, sql: str, values: Any) -> list[Any]:
    with unnoted(), connection.cursor() as cursor:
        cursor.execute(sql, values)
        return list(cursor.fetchall())


def _rows_of_file(file: tuple[str, int], sql: str, values: Any) -> list[Any]:
    """By a connection that need not wait for the wrappers of Django's own."""
    return reader_of(file).execute(_with_marks(sql, values is None), values or ()).fetchall()


@lru_cache(maxsize=2000)
def _with_marks(sql: str, is_plain: bool) -> str:
    """The text as SQLite takes it, turned over once for each query rather than at each reading."""
    return sql if is_plain else FORMAT_QMARK_REGEX.sub("?", sql).replace("%%", "%")


class SelfClosing(sqlite3.Connection):
    """Closed once nobody holds it, as when its thread has ended: from Python 3.13 on, each that is not is warned of."""

    def __del__(self) -> None:
        self.close()


def reader_of(file: tuple[str, int]) -> sqlite3.Connection:
    """This thread's own connection for reading again."""
    held = _here.reader
    if held is None or held[0] != file:
        if held is not None:
            held[1].close()
        reader = sqlite3.connect(
            file[0], timeout=20, cached_statements=1000, factory=SelfClosing, check_same_thread=False
        )
        reader.execute("PRAGMA query_only=ON")
        register(reader)
        held = _here.reader = (file, reader)
    return held[1]
