"""What was written since: how often the database let each table be written to, counted by itself.

An answer that was kept reads hundreds of rows again to prove that it still holds, and most of their tables nobody
touched meanwhile. Triggers of SQLite count every row that is added, changed or taken away, whoever does it; a table
without all three of its triggers counts as written to. PostgreSQL has no such count: one row that each writer adds to
would have them wait for each other, so there all is read again.

Of the ledger, where rows are only added, the new ones are looked at: what was asked of certain things, codes or places
stays what it was while no new entry tells of those and none takes another back.
"""

from __future__ import annotations

import re
import sqlite3
from dataclasses import dataclass, field
from typing import NamedTuple

from django.apps import apps
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper

from inventory.rereading import Bound, Of, reader_of

TABLE = "inventory_tally"
LEDGER = "inventory_entry"
EVENTS = ("insert", "update", "delete")
MOST = 300  # new entries looked at one by one; after more all is read again
TOLD = f"""SELECT label.item_id, told.label_id, told.place_id, told.happened_at, told.corrects FROM {LEDGER} told
    LEFT JOIN inventory_label label ON label.id = told.label_id WHERE told.rowid > ? AND told.rowid <= ?"""
WORD = re.compile(r"\w+")


def after_migrate(using: str, **kwargs: object) -> None:
    """Receiver of post_migrate: the table and its triggers, those that are missing."""
    connection = connections[using]
    if connection.vendor == "sqlite":
        make(connection)


def make(connection: BaseDatabaseWrapper) -> None:
    with connection.cursor() as cursor:
        cursor.execute(f'CREATE TABLE IF NOT EXISTS "{TABLE}" (name text PRIMARY KEY, times integer NOT NULL)')
        for table in counted(connection):
            cursor.execute(f"INSERT OR IGNORE INTO {TABLE} VALUES (%s, 0)", [table])
            for event in EVENTS:
                cursor.execute(
                    f'CREATE TRIGGER IF NOT EXISTS "{_trigger(table, event)}" AFTER {event} ON "{table}" BEGIN '
                    f"UPDATE {TABLE} SET times = times + 1 WHERE name = '{table}'; END"
                )


def counted(connection: BaseDatabaseWrapper) -> list[str]:
    """The tables of the book itself: those of our own models, with the lists between them."""
    ours = [app.get_models(include_auto_created=True) for app in apps.get_app_configs() if app.label in OURS]
    there = set(connection.introspection.table_names())
    return sorted({model._meta.db_table for models in ours for model in models} & there)


OURS = ("inventory", "shipping")


def _trigger(table: str, event: str) -> str:
    return f"{table}_tells_{event}"


@dataclass(slots=True)
class Layout:
    """The tables of a file as it is laid out now, and which of them are counted; for each query its tables."""

    file: tuple[str, int]
    version: int
    tables: frozenset[str]
    counted: frozenset[str]
    of_query: dict[str, frozenset[str]] = field(default_factory=dict)

    def tables_of(self, sql: str) -> frozenset[str]:
        """Every table that a query can read: none is read without being named."""
        found = self.of_query.get(sql)
        if found is None:
            if len(self.of_query) > 4 * MOST:
                self.of_query.clear()
            found = self.of_query[sql] = self.tables.intersection(WORD.findall(sql.lower()))
        return found


@dataclass(frozen=True, slots=True)
class State:
    """What was counted at one moment, and where the ledger ended."""

    layout: Layout
    times: dict[str, int]
    end: int


class Told(NamedTuple):
    """What new entries tell of, and the first moment that they do."""

    things: frozenset[int]
    codes: frozenset[int]
    places: frozenset[int]
    first: str

    def touches(self, bound: Bound) -> bool:
        if bound.of is Of.UNTIL:
            return any(moment >= self.first for moment in bound.those)
        those: frozenset[int] = getattr(self, bound.of.value)
        return not bound.those.isdisjoint(those)


@dataclass(frozen=True, slots=True)
class Changes:
    """What was written between two states: the tables, and what the ledger's new entries tell, if that is known."""

    layout: Layout
    tables: frozenset[str]
    told: Told | None

    def may_touch(self, sql: str, bound: Bound | None) -> bool:
        """May a query say something else now? Yes, if in doubt."""
        read = self.layout.tables_of(sql)
        touched = read & self.tables
        if not read or not read <= self.layout.counted:
            return True
        if touched == {LEDGER} and bound is not None and self.told is not None:
            return self.told.touches(bound)
        return bool(touched)


def state(file: tuple[str, int], before: State | None = None) -> State | None:
    """What a file's counts say now, if it has any. How it was laid out before is looked at again only once it changed.

    A file that a copy was put back into, by SQLite's own way to do so, has a layout of another version.
    """
    reader = reader_of(file)
    (version,) = reader.execute("PRAGMA schema_version").fetchone()
    known = before is not None and (before.layout.file, before.layout.version) == (file, version)
    layout = before.layout if before is not None and known else _layout(reader, file, version)
    if LEDGER not in layout.counted:
        return None
    times = dict(reader.execute(f"SELECT name, times FROM {TABLE}").fetchall())
    (end,) = reader.execute(f"SELECT COALESCE(MAX(rowid), 0) FROM {LEDGER}").fetchone()
    return State(layout, times, end)


def _layout(reader: sqlite3.Connection, file: tuple[str, int], version: int) -> Layout:
    told = reader.execute("SELECT type, lower(name) FROM sqlite_master WHERE type IN ('table', 'view', 'trigger')")
    names: dict[str, set[str]] = {"table": set(), "view": set(), "trigger": set()}
    for kind, name in told.fetchall():
        names[kind].add(name)
    rows = reader.execute(f"SELECT name FROM {TABLE}").fetchall() if TABLE in names["table"] else []
    whole = {name for (name,) in rows if {_trigger(name, event) for event in EVENTS} <= names["trigger"]}
    return Layout(file, version, frozenset(names["table"] | names["view"]), frozenset(whole & names["table"]))


def changes(old: State | None, new: State | None) -> Changes | None:
    """What was written from one state to a later one; None if that cannot be told."""
    if old is None or new is None or old.layout is not new.layout:
        return None
    tables = frozenset(name for name, times in new.times.items() if times != old.times.get(name))
    return Changes(new.layout, tables, _told(old, new) if LEDGER in tables else None)


def _told(old: State, new: State) -> Told | None:
    """What the new entries tell; None if they are many, if one takes another back, or if not all change is new ones."""
    many = new.times[LEDGER] - old.times[LEDGER]
    if many > MOST:
        return None
    found = reader_of(new.layout.file).execute(TOLD, (old.end, new.end)).fetchall()
    if len(found) != many or any(takes_back is not None for *_, takes_back in found):
        return None
    things, codes, places, moments, _ = zip(*found, strict=True)
    return Told(_known(things), _known(codes), _known(places), min(moments))


def _known(ids: tuple[int | None, ...]) -> frozenset[int]:
    return frozenset(one for one in ids if one is not None)
