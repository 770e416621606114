"""The demo world as rows: loaded once in a run, then put back in a fraction of the time.

Loading records some 330 acts one by one. What came of it is the same each time, so the rows are kept, as the database
gave them, and written again as they were; the cast that goes with them is kept beside them. Workers share both by a
file, since the rows of one serve all.
"""

from __future__ import annotations

import fcntl
import pickle
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.apps import apps
from django.core.management.color import no_style
from django.db import connection

from tests.chance import DICE

Rows = tuple[list[str], list[tuple[Any, ...]]]  # column names, values


@dataclass(frozen=True)
class Kept:
    """Every row that came with a world, by table, and the world's own words for them."""

    rows: dict[str, bytes | Rows]
    world: bytes


def _models() -> list[Any]:
    return [model for model in apps.get_models(include_auto_created=True) if model._meta.managed]


def _counts(cursor: Any) -> dict[str, int]:
    found = {}
    for model in _models():
        cursor.execute(f'SELECT COUNT(*) FROM "{model._meta.db_table}"')
        found[model._meta.db_table] = cursor.fetchone()[0]
    return found


def load_and_keep(load: Callable[[], Any]) -> tuple[Any, Kept]:
    """Load a world, and keep the rows of every table that was empty before. No other table may change."""
    with connection.cursor() as cursor:
        before = _counts(cursor)
        world = load()
        after = _counts(cursor)
        changed = [table for table, count in before.items() if count and after[table] != count]
        assert not changed, f"{changed} held rows already: what was added cannot be told apart"
        rows = {table: _read(cursor, table) for table, count in after.items() if count and not before[table]}
    return world, Kept(rows, pickle.dumps(world))


def put_back(kept: Kept) -> Any:
    """Write the rows again and return a world of its own."""
    with connection.cursor() as cursor:
        for table, rows in kept.rows.items():
            _write(cursor, table, rows)
        for sql in connection.ops.sequence_reset_sql(no_style(), _models()):
            cursor.execute(sql)
    return pickle.loads(kept.world)  # noqa: S301 - our own bytes


def _read(cursor: Any, table: str) -> bytes | Rows:
    if connection.vendor == "postgresql":
        with cursor.copy(f'COPY "{table}" TO STDOUT (FORMAT binary)') as copy:
            return b"".join(bytes(block) for block in copy)
    cursor.execute(f'PRAGMA table_info("{table}")')
    names = [f'"{column[1]}"' for column in cursor.fetchall()]
    cursor.execute(f'SELECT +{", +".join(names)} FROM "{table}"')  # "+": as stored, not made into a date
    return names, cursor.fetchall()


def _write(cursor: Any, table: str, rows: bytes | Rows) -> None:
    if isinstance(rows, bytes):
        with cursor.copy(f'COPY "{table}" FROM STDIN (FORMAT binary)') as copy:
            copy.write(rows)
        return
    names, values = rows
    marks = ", ".join(["?"] * len(names))
    cursor.connection.executemany(f'INSERT INTO "{table}" ({", ".join(names)}) VALUES ({marks})', values)


@contextmanager
def _alone(path: Path) -> Iterator[None]:
    with path.with_suffix(".lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield


class Shelf:
    """Kept worlds of this run, by name, in a directory that all workers see."""

    def __init__(self, directory: Path) -> None:
        self.directory = directory
        self.kept: dict[str, Kept] = {}

    def world(self, name: str, load: Callable[[], Any]) -> Any:
        """The world of this name, put back if any worker has loaded it before, else loaded and kept."""
        if name not in self.kept:
            path = self.directory / f"{connection.vendor}-{name}.kept"
            with _alone(path):
                if not path.exists():
                    DICE.seed(name)  # whichever test asks for it first
                    world, self.kept[name] = load_and_keep(load)
                    path.write_bytes(pickle.dumps(self.kept[name]))
                    return world
                self.kept[name] = pickle.loads(path.read_bytes())  # noqa: S301 - our own bytes
        return put_back(self.kept[name])
