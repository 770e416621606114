"""Answers kept for as long as nothing that they rest on has changed. They are copies; the ledger stays the one truth.

Two things can change an answer: somebody wrote to the database, or a moment that the book names has come. `mark`
names a state of the database so that no two states share a mark, whoever wrote, from whatever process; `until` is
the next moment named. An answer is given again only under the same mark and before that moment. Nothing is kept
inside a transaction, where a reader may see what nobody else does yet.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from datetime import UTC, datetime, time, timedelta, tzinfo
from threading import Lock
from typing import Any, TypeVar

from django.db import connection
from django.db.models import Min, Model
from django.utils import timezone

from inventory.models import Copy, Entry, Mandate, Release

T = TypeVar("T")
MOST = 300  # answers kept at once; each is some ten to some hundred kB

# What the book may date ahead of its own writing: model and column. Other apps add theirs.
DATED: list[tuple[type[Model], str]] = [
    (Entry, "happened_at"), (Copy, "made_at"), (Copy, "verified_at"), (Mandate, "in_force_from"), (Release, "date"),
]  # fmt: skip


@dataclass(slots=True)
class _Kept:
    """The answers that hold under one mark, from one moment on and before another."""

    mark: Hashable
    since: datetime | None = None
    until: datetime | None = None
    answers: dict[Hashable, Any] = field(default_factory=dict)


_lock = Lock()
_kept: list[_Kept] = []  # one at most
_watchers: dict[tuple[str, int], sqlite3.Connection] = {}


def kept(key: Hashable, at: datetime | None, make: Callable[[], T]) -> T:
    """The answer to `key` at a moment: as given before if nothing changed since, else made now.

    `key` holds all that `make` is asked about besides the moment; `make` may compare `at` with nothing but whole days
    and the moments of `DATED`. Without a moment the answer is one that no time changes. It goes to several readers:
    none may change it.
    """
    now = _now(at)
    if now is None:
        return make()
    if key in now.answers:
        given: T = now.answers[key]
        return given
    answer = make()
    if mark() == now.mark:  # else somebody wrote while it was made: it may be half of each
        with _lock:
            if len(now.answers) >= MOST:
                now.answers.clear()
            now.answers[key] = answer
    return answer


def forget() -> None:
    """Let go of everything kept."""
    with _lock:
        _kept.clear()


def _now(at: datetime | None) -> _Kept | None:
    """What is kept for this moment; None for a moment that is not the present, or where no mark can be had."""
    here = mark()
    if here is None:
        return None
    held = _kept[0] if _kept else None
    if held is None or held.mark != here or (at and held.until and at >= held.until):
        held = _Kept(here)
        with _lock:
            _kept[:] = [held]
    if at is None:
        return held
    if held.since is None or held.until is None:
        held.since, held.until = at, until(at)
    return held if held.since <= at < held.until else None


def until(at: datetime) -> datetime:
    """The next moment after `at` that an answer may turn on: midnight, here or in UTC, or one that the book names."""
    found = [midnight_after(at, zone) for zone in (UTC, timezone.get_default_timezone())]
    for model, column in DATED:
        ahead = model._default_manager.filter(**{f"{column}__gt": at}).order_by()
        found += filter(None, ahead.aggregate(first=Min(column)).values())
    return min(found)


def midnight_after(at: datetime, zone: tzinfo) -> datetime:
    return datetime.combine(at.astimezone(zone).date() + timedelta(days=1), time.min, zone)


def mark() -> Hashable:
    """A name for what the database holds now that changes with every commit; None where there is none to be had."""
    if connection.in_atomic_block:
        return None
    return _mark_on_postgres() if connection.vendor == "postgresql" else _mark_on_sqlite()


def _mark_on_postgres() -> Hashable:
    """Which transactions are visible: the same snapshot sees the same rows (PostgreSQL manual, table 9.80)."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT current_database(), pg_current_snapshot()::text")
        found: Hashable = cursor.fetchone()
    return found


def _mark_on_sqlite() -> Hashable:
    """To a connection that never writes, data_version changes with each commit of any other (sqlite.org, pragmas)."""
    name = str(connection.settings_dict["NAME"])
    if not os.path.exists(name):  # in memory, for tests
        return None
    file = (name, os.stat(name).st_ino)
    with _lock:
        if file not in _watchers:
            _watchers.clear()
            _watchers[file] = sqlite3.connect(name, check_same_thread=False, timeout=20)
        return (*file, *_watchers[file].execute("PRAGMA data_version").fetchone())
