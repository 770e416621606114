"""What can be looked up of a thing, by parts of three letters: an index that the database's own triggers keep in step.

SQLite: an FTS5 table of trigrams. PostgreSQL: a table with a trigram (pg_trgm) index, and a plain one where that
extension is not to be had. One row for what stands on the item itself, one for each of its codes and former numbers.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.core.checks import CheckMessage, Tags, Warning, register
from django.db import Error as DatabaseError
from django.db import connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper

TABLE = "inventory_findable"
MOST = 2000  # rows that are looked at; the likeliest of them are then ranked
SOURCES = 3  # a row's number is its source's number times three, and which source it is
# As inventory/folding.py folds and maps what people misread, but in the database's own words.
CONFUSED = (("O", "0"), ("Q", "0"), ("D", "0"), ("I", "1"), ("L", "1"), ("S", "5"), ("B", "8"), ("Z", "2"))


def _folded(sql: str, vendor: str, *, spaces: bool = False) -> str:
    away = "-_" if spaces else "-_ "
    if vendor == "postgresql":
        before, after = ("".join(pair) for pair in zip(*CONFUSED, strict=True))
        return f"translate(upper({sql}), '{before}{away}', '{after}')"
    text = f"upper({sql})"
    for before, after in (*CONFUSED, *((one, "") for one in away)):
        text = f"replace({text}, '{before}', '{after}')"
    return text


def _rows(vendor: str) -> dict[str, str]:
    """What each source puts in: number, term, words, item. Aliases of tables are i, t, l and a."""
    number = _folded("coalesce(i.number, '')", vendor)
    words = _folded("i.name || ' ' || t.maker || ' ' || t.name", vendor, spaces=True)
    return {
        "item": f"SELECT i.id * 3, i.serial_skeleton || ' ' || {number}, {words} "
        "FROM inventory_item i JOIN inventory_itemtype t ON t.id = i.type_id",
        "label": f"SELECT l.id * 3 + 1, {_folded('l.code', vendor)}, '' FROM inventory_label l",
        "alias": f"SELECT a.id * 3 + 2, {_folded('a.number', vendor)}, '' FROM inventory_itemalias a",
    }


@dataclass(frozen=True, slots=True)
class Keeper:
    """One trigger: after what on which table, and which rows it puts in or takes away."""

    name: str
    event: str
    table: str
    puts: str = ""
    takes: str = ""


def _keepers(vendor: str) -> list[Keeper]:
    rows = _rows(vendor)
    return [
        Keeper("findable_item_new", "INSERT", "inventory_item", f"{rows['item']} WHERE i.id = NEW.id"),
        Keeper(
            "findable_item_changed",
            "UPDATE OF serial_skeleton, number, name, type_id",
            "inventory_item",
            f"{rows['item']} WHERE i.id = NEW.id",
        ),
        Keeper("findable_item_gone", "DELETE", "inventory_item", takes="OLD.id * 3"),
        Keeper("findable_label_new", "INSERT", "inventory_label", f"{rows['label']} WHERE l.id = NEW.id"),
        Keeper("findable_label_gone", "DELETE", "inventory_label", takes="OLD.id * 3 + 1"),
        Keeper("findable_alias_new", "INSERT", "inventory_itemalias", f"{rows['alias']} WHERE a.id = NEW.id"),
        Keeper("findable_alias_gone", "DELETE", "inventory_itemalias", takes="OLD.id * 3 + 2"),
        Keeper(
            "findable_type_changed",
            "UPDATE OF maker, name",
            "inventory_itemtype",
            f"{rows['item']} WHERE i.type_id = NEW.id",
        ),
    ]


def _put(vendor: str, rows: str) -> str:
    if vendor == "postgresql":
        end = "ON CONFLICT (id) DO UPDATE SET term = excluded.term, words = excluded.words"
        return f"INSERT INTO {TABLE} (id, term, words) {rows} {end}"
    return f"INSERT OR REPLACE INTO {TABLE} (rowid, term, words) {rows}"


def _trigger_sql(keeper: Keeper, vendor: str) -> list[str]:
    key = "id" if vendor == "postgresql" else "rowid"
    body = _put(vendor, keeper.puts) if keeper.puts else f"DELETE FROM {TABLE} WHERE {key} = {keeper.takes}"
    if vendor == "postgresql":
        return [
            f"CREATE OR REPLACE FUNCTION {keeper.name}() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN {body}; RETURN NULL; END $$",
            f"CREATE OR REPLACE TRIGGER {keeper.name} AFTER {keeper.event} ON {keeper.table} "
            f"FOR EACH ROW EXECUTE FUNCTION {keeper.name}()",
        ]
    return [
        f"CREATE TRIGGER IF NOT EXISTS {keeper.name} AFTER {keeper.event} ON {keeper.table} BEGIN {body}; END",
    ]


def is_whole(connection: BaseDatabaseWrapper) -> bool:
    """Are the table and every trigger there?"""
    catalogue = {
        "sqlite": "SELECT name FROM sqlite_master WHERE type IN ('table', 'trigger')",
        "postgresql": "SELECT tgname FROM pg_trigger UNION SELECT relname FROM pg_class WHERE relkind = 'r'",
    }
    with connection.cursor() as cursor:
        cursor.execute(catalogue[connection.vendor])
        there = {row[0] for row in cursor.fetchall()}
    return {TABLE, *(keeper.name for keeper in _keepers(connection.vendor))} <= there


def make(connection: BaseDatabaseWrapper) -> None:
    """Make the index and its triggers unless all of it stands; then fill it from what is in the book."""
    if is_whole(connection):
        return
    postgres = connection.vendor == "postgresql"
    table = (
        f"CREATE TABLE IF NOT EXISTS {TABLE} (id bigint PRIMARY KEY, term text NOT NULL, words text NOT NULL)"
        if postgres
        else f"CREATE VIRTUAL TABLE IF NOT EXISTS {TABLE} USING fts5(term, words, tokenize = 'trigram')"
    )
    with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
        cursor.execute(table)
        if postgres:
            _index(connection)
        for keeper in _keepers(connection.vendor):
            for sql in _trigger_sql(keeper, connection.vendor):
                cursor.execute(sql)
        cursor.execute(f"DELETE FROM {TABLE}")
        for rows in _rows(connection.vendor).values():
            # ON CONFLICT after a SELECT without WHERE would be read as a join.
            cursor.execute(_put(connection.vendor, f"{rows} WHERE true"))


def _index(connection: BaseDatabaseWrapper) -> None:
    """The trigram index, where we may have it."""
    try:
        with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
            cursor.execute("CREATE EXTENSION IF NOT EXISTS pg_trgm")
            cursor.execute(
                f"CREATE INDEX IF NOT EXISTS {TABLE}_parts ON {TABLE} USING gin (term gin_trgm_ops, words gin_trgm_ops)"
            )
    except DatabaseError:
        return  # the check below says so; looking up still works, more slowly


def after_migrate(using: str, **kwargs: object) -> None:
    """Receiver of post_migrate."""
    make(connections[using])


@register(Tags.database)
def parts_are_indexed(databases: Sequence[str] | None = None, **kwargs: object) -> Iterable[CheckMessage]:
    """Does PostgreSQL have the extension that makes looking up fast? Before the first migration nobody tried."""
    for alias in databases or ():
        here = connections[alias]
        if here.vendor == "postgresql" and is_whole(here) and not _has_trigrams(here):
            yield Warning(
                "PostgreSQL has no pg_trgm extension here: Where is… still works, but reads every row.",
                hint="As its superuser run: CREATE EXTENSION pg_trgm; then: python manage.py migrate",
                id="inventory.W001",
            )


def _has_trigrams(connection: BaseDatabaseWrapper) -> bool:
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1 FROM pg_extension WHERE extname = 'pg_trgm'")
        return cursor.fetchone() is not None
