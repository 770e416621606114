"""The test's book, found by a process that the code under test starts."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from urllib.parse import quote

import pytest
from django.db import connection

PATIENCE = 60  # seconds: a busy machine starts a process slowly
Ask = Callable[[str], tuple[object, ...]]


def shared(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Ask:
    """Processes started from now on find what the test has written so far; returns how to ask their book a row."""
    if connection.vendor != "sqlite":
        known = connection.settings_dict
        user, word = quote(known["USER"]), quote(known["PASSWORD"])
        at = f"{quote(known['HOST'] or 'localhost', safe='')}:{known['PORT'] or 5432}"  # a socket's host is a path
        monkeypatch.setenv("DATABASE_URL", f"postgres://{user}:{word}@{at}/{known['NAME']}")
        return _asked_here
    file = folder / "book.sqlite3"  # the tests' own book is in memory, where no other process sees it
    with closing(sqlite3.connect(file)) as copy:
        connection.connection.backup(copy)
    monkeypatch.setenv("DATABASE_URL", f"sqlite:///{file}")
    return lambda sql: _asked_there(file, sql)


def _asked_here(sql: str) -> tuple[object, ...]:
    with connection.cursor() as cursor:
        cursor.execute(sql)
        return tuple(cursor.fetchone() or ()) if cursor.description else ()


def _asked_there(file: Path, sql: str) -> tuple[object, ...]:
    with closing(sqlite3.connect(file, timeout=20)) as book, book:
        return tuple(book.execute(sql).fetchone() or ())


def until(ask: Ask, sql: str) -> None:
    until_so(lambda: ask(sql), sql)


def until_so(asked: Callable[[], object], words: str) -> None:
    end = time.monotonic() + PATIENCE
    while not asked():
        assert time.monotonic() < end, f"not so after {PATIENCE} s: {words}"
        time.sleep(0.1)
