"""Threads need a real database file: SQLite's tests run in memory, where two connections lock each other's tables."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from django.db import connection


@contextmanager
def on_file(folder: Path) -> Iterator[None]:
    """New threads see what the tests' database holds now: as a copy on file (SQLite), or itself (PostgreSQL)."""
    if connection.vendor != "sqlite":
        yield
        return
    path = folder / "threads.sqlite3"
    with sqlite3.connect(path) as copy:
        connection.connection.backup(copy)
        copy.execute("PRAGMA journal_mode=WAL")  # as migrate leaves it; changing it needs the file to oneself
    copy.close()
    before = connection.settings_dict["NAME"]
    connection.settings_dict["NAME"] = str(path)
    try:
        yield
    finally:
        connection.settings_dict["NAME"] = before


def in_threads(jobs: list[Callable[[], Any]]) -> list[Any]:
    """Run each job in a thread with a connection of its own; their results, or the first failure raised."""
    results: list[Any] = [None] * len(jobs)
    failures: list[Exception] = []

    def run(n: int) -> None:
        try:
            results[n] = jobs[n]()
        except Exception as failure:  # noqa: BLE001 - raised again below
            failures.append(failure)
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=[n]) for n in range(len(jobs))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    assert not any(thread.is_alive() for thread in threads)
    if failures:
        raise failures[0]
    return results
