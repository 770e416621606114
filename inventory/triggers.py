"""The database itself refuses to change or delete what is only ever added to.

Made after every migration, looked for by a system check. Nothing here takes them away.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from django.core.checks import CheckMessage, Error, Tags, register
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper

from inventory.models.appendonly import AppendOnly

SENTENCE = "this record is only ever added to"
SQLITE = """
CREATE TRIGGER IF NOT EXISTS "{table}_refuses_{what}" BEFORE {what} ON "{table}"
BEGIN SELECT RAISE(ABORT, '{table}: {sentence}'); END"""
POSTGRES_FUNCTION = f"""
CREATE OR REPLACE FUNCTION only_ever_added_to() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN RAISE EXCEPTION '%: {SENTENCE}', TG_TABLE_NAME USING ERRCODE = 'integrity_constraint_violation'; END $$"""
# ALWAYS: also while rows are being copied in with session_replication_role = replica.
POSTGRES = """
CREATE OR REPLACE TRIGGER "{table}_refuses_{what}" BEFORE {what} ON "{table}"
FOR EACH {each} EXECUTE FUNCTION only_ever_added_to();
ALTER TABLE "{table}" ENABLE ALWAYS TRIGGER "{table}_refuses_{what}" """
EACH = {"update": "ROW", "delete": "ROW", "truncate": "STATEMENT"}


def tables(connection: BaseDatabaseWrapper) -> list[str]:
    """Tables that exist and are only added to."""
    there = set(connection.introspection.table_names())
    return sorted({model._meta.db_table for model in AppendOnly.tables()} & there)


def kinds(connection: BaseDatabaseWrapper) -> tuple[str, ...]:
    """What has to be refused. SQLite knows no truncate: emptying a table is a delete there."""
    return tuple(EACH) if connection.vendor == "postgresql" else ("update", "delete")


def names(connection: BaseDatabaseWrapper) -> set[str]:
    """The triggers that should stand."""
    return {f"{table}_refuses_{what}" for table in tables(connection) for what in kinds(connection)}


def present(connection: BaseDatabaseWrapper) -> set[str]:
    """The triggers that stand and act."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled = 'A'")
        else:
            cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        return {row[0] for row in cursor.fetchall()}


def make(connection: BaseDatabaseWrapper) -> None:
    """Make every trigger that is missing."""
    postgres = connection.vendor == "postgresql"
    with connection.cursor() as cursor:
        if postgres:
            cursor.execute(POSTGRES_FUNCTION)
        for table in tables(connection):
            for what in kinds(connection):
                sql = POSTGRES if postgres else SQLITE
                cursor.execute(sql.format(table=table, what=what, each=EACH[what], sentence=SENTENCE))


def after_migrate(using: str, **kwargs: object) -> None:
    """Receiver of post_migrate."""
    make(connections[using])


@register(Tags.database)
def the_database_refuses(databases: Sequence[str] | None = None, **kwargs: object) -> Iterable[CheckMessage]:
    """Are the triggers there, and does SQLite run them for INSERT OR REPLACE too?"""
    for alias in databases or ():
        connection = connections[alias]
        missing = names(connection) - present(connection)
        if missing:
            yield Error(
                f"The database would let history be changed: {len(missing)} triggers are missing, "
                f"{sorted(missing)[0]} for one.",
                hint="Run: python manage.py migrate",
                id="inventory.E001",
            )
        if connection.vendor == "sqlite" and not _runs_nested_triggers(connection):
            yield Error(
                "SQLite does not run triggers for INSERT OR REPLACE, so history could be replaced.",
                hint="Keep PRAGMA recursive_triggers=ON in the connection's init_command.",
                id="inventory.E002",
            )


def _runs_nested_triggers(connection: BaseDatabaseWrapper) -> bool:
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA recursive_triggers")
        return bool(cursor.fetchone()[0] == 1)
