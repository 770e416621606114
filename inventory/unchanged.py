"""Answers kept for as long as nothing that they rest on has changed. They are copies; the ledger stays the one truth.

Two things can change an answer: somebody wrote to the database, or a moment that the book names has come. `mark`
names a state of the database so that no two states share a mark, whoever wrote, from whatever process; `until` is
the next moment named. An answer is given again only before that moment, and only under the same mark or when all
that was read for it reads the same under the new one (inventory/rereading.py). What is read of many things to tell
little, as of all that was ever in a case to tell whether its seal holds, is a part: it is made anew when any of that
changes, and an answer made of it falls only if it then comes out otherwise. Nothing is kept inside a transaction,
where a reader may see what nobody else does yet.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Hashable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, time, timedelta, tzinfo
from functools import cache
from threading import Lock
from typing import Any, TypeVar

from django.db import connection
from django.db.models import Min, Model, QuerySet, Value
from django.utils import timezone

from inventory.models import Copy, Entry, Mandate, Release
from inventory.prepared import Asked, Prepared
from inventory.rereading import Notes, Part, Reading, SelfClosing, file_of, noted, noting, read_again, unnoted
from inventory.tallies import Changes, State, changes, state

T = TypeVar("T")
MOST = 300  # answers kept at once; each is some ten to some hundred kB

# What the book may date ahead of its own writing: model and column. Other apps add theirs.
DATED: list[tuple[type[Model], str]] = [
    (Entry, "happened_at"), (Copy, "made_at"), (Copy, "verified_at"), (Mandate, "in_force_from"), (Release, "date"),
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Answer:
    """An answer, what each reading for it said, and its parts. Without any only its mark can prove it unchanged.

    `state` is what had been written of each table when that was so.
    """

    given: Any
    readings: dict[Reading, bytes]
    parts: Mapping[Hashable, Part]
    whole: bool
    since: datetime | None
    until: datetime | None
    state: State | None

    def may_hold(self, at: datetime | None) -> bool:
        in_time = self.since is None or self.until is None or (at is not None and self.since <= at < self.until)
        return self.whole and in_time and bool(self.readings or self.parts)


@dataclass(slots=True)
class _Kept:
    """The answers that hold under one mark, from one moment on and before another; and those of earlier marks."""

    mark: Hashable
    state: State | None = None
    since: datetime | None = None
    until: datetime | None = None
    answers: dict[Hashable, _Answer] = field(default_factory=dict)
    earlier: dict[Hashable, _Answer] = field(default_factory=dict)
    read: dict[Reading, bytes] = field(default_factory=dict)
    written: dict[int, tuple[State | None, Changes | None]] = field(default_factory=dict)

    def may_differ(self, readings: Mapping[Reading, bytes], state: State | None) -> Iterator[Reading]:
        """Those of the readings made in a state that may say something else now."""
        since = self._changes_since(state)
        return (one for one in readings if since is None or since.may_touch(one.sql, one.bound))

    def _changes_since(self, state: State | None) -> Changes | None:
        if id(state) not in self.written:
            self.written[id(state)] = state, changes(state, self.state)
        return self.written[id(state)][1]

    def says(self, reading: Reading, at: datetime | None) -> bytes:
        """What a reading says under this mark, read once."""
        if reading not in self.read:
            self.read[reading] = read_again(connection, reading, at)
        return self.read[reading]


_lock = Lock()
_kept: list[_Kept] = []  # one at most
_watchers: dict[tuple[str, int], sqlite3.Connection] = {}


def kept(key: Hashable, at: datetime | None, make: Callable[[], T]) -> T:
    """The answer to `key` at a moment: as given before if nothing that it rests on changed since, else made now.

    `key` holds all that `make` is asked about besides the moment; `make` reads nothing but the database and may compare
    `at` with nothing but whole days and the moments of `DATED`. Without a moment the answer is one that no time
    changes. It goes to several readers: none may change it, so it holds no models, which load more when asked.
    """
    with unnoted():
        now = _now(at)
    given: T = make() if now is None else _answer(now, key, at, make)
    return given


def part(key: Hashable, at: datetime, make: Callable[[datetime], T]) -> T:
    """An answer that others are made of: they hold while it comes out equal, though what was read for it changed.

    As `kept`, but `make` is told the moment, and is called again whenever one of those is to be proved: it rests on
    `key`, the moment and the database alone. Two answers that are equal must say the same.
    """
    with unnoted():
        now = _now(at)
        if now is None:
            return make(at)
        given: T = _answer(now, key, at, lambda: make(at))
    noted({}, True, {key: Part(given, make)})
    return given


def _answer(now: _Kept, key: Hashable, at: datetime | None, make: Callable[[], Any]) -> Any:
    known = now.answers.get(key) or _proved(now, key, at)
    if known is not None:
        noted(known.readings, known.whole, known.parts)
        return known.given
    with noting(connection, at) as notes:
        answer = make()
    with unnoted():
        _keep(now, key, at, answer, notes)
    return answer


def forget() -> None:
    """Let go of everything kept."""
    with _lock:
        _kept.clear()


def _proved(now: _Kept, key: Hashable, at: datetime | None) -> _Answer | None:
    """The answer of an earlier mark, if all that was read for it says the same now."""
    known = now.earlier.pop(key, None)
    if known is None or not known.may_hold(at):
        return None
    with unnoted():
        doubtful = now.may_differ(known.readings, known.state)
        same = all(now.says(reading, at) == known.readings[reading] for reading in doubtful)
        if not (same and _comes_out_so(now, known.parts, at)) or mark() != now.mark:
            return None
    known = replace(known, since=now.since if at else None, until=now.until if at else None, state=now.state)
    _put(now, key, known)
    return known


def _comes_out_so(now: _Kept, parts: Mapping[Hashable, Part], at: datetime | None) -> bool:
    """Do these parts come out as they did? In the order they were asked: a later one may be asked for an earlier."""
    return not parts or (at is not None and all(_again(now, key, at, one) == one.given for key, one in parts.items()))


def _again(now: _Kept, key: Hashable, at: datetime, one: Part) -> Any:
    return _answer(now, key, at, lambda: one.make(at))


def _keep(now: _Kept, key: Hashable, at: datetime | None, answer: object, notes: Notes) -> None:
    """Keep it, unless somebody wrote while it was made: it may be half of each."""
    readings = notes.readings if notes.whole else {}
    if mark() == now.mark:
        now.read |= readings
        moments = (now.since, now.until) if at else (None, None)
        _put(now, key, _Answer(answer, readings, notes.parts, notes.whole, *moments, now.state))


def _put(now: _Kept, key: Hashable, answer: _Answer) -> None:
    with _lock:
        if len(now.answers) >= MOST:
            now.answers.clear()
        now.answers[key] = answer


def _now(at: datetime | None) -> _Kept | None:
    """What is kept for this moment; None for a moment that is not the present, or where no mark can be had."""
    here = mark()
    if here is None:
        return None
    held = _kept[0] if _kept else None
    if held is None or held.mark != here or (at and held.until and at >= held.until):
        held = _Kept(here, _state(here, held), earlier=_earlier(held))
        with _lock:
            _kept[:] = [held]
    if at is None:
        return held
    if held.since is None or held.until is None:
        held.since, held.until = at, until(at)
    return held if held.since <= at < held.until else None


def _state(here: Hashable, held: _Kept | None) -> State | None:
    """What was written of each table, under this mark and no other."""
    file = file_of(connection) if connection.vendor == "sqlite" else None
    found = state(file, held.state if held else None) if file else None
    return found if mark() == here else None


def _earlier(held: _Kept | None) -> dict[Hashable, _Answer]:
    """What may still hold of answers kept before: those of the last mark first of all."""
    if held is None:
        return {}
    room = MOST - len(held.answers)
    older = list(held.earlier.items())[-room:] if room > 0 else []
    return dict(older) | held.answers


def until(at: datetime) -> datetime:
    """The next moment after `at` that an answer may turn on: midnight, here or in UTC, or one that the book names."""
    found = [midnight_after(at, zone) for zone in (UTC, timezone.get_default_timezone())]
    found += [moment for (moment,) in _ahead()(at=at) if moment is not None]
    return min(found)


@cache
def _ahead() -> Prepared:
    """The first moment after one of every column, in one query."""
    return Prepared(
        lambda at: Entry.objects.none().union(*(_first(*one, at) for one in DATED), all=True), at=Asked.MOMENT
    )


def _first(model: type[Model], column: str, at: datetime) -> QuerySet[Any, Any]:
    ahead = model._default_manager.filter(**{f"{column}__gt": at}).order_by()
    first: QuerySet[Any, Any] = ahead.values(all=Value(1)).annotate(first=Min(column)).values_list("first")
    return first


def midnight_after(at: datetime, zone: tzinfo) -> datetime:
    return datetime.combine(at.astimezone(zone).date() + timedelta(days=1), time.min, zone)


def mark() -> Hashable:
    """A name for what the database holds now that changes with every commit; None where there is none to be had."""
    if connection.in_atomic_block:
        return None
    return _mark_on_postgres() if connection.vendor == "postgresql" else _mark_on_sqlite()


def is_still(here: Hashable) -> bool:
    """Does a SQLite file hold what it held at that mark? Within a transaction that writes it stays so to its end."""
    return here is not None and connection.vendor == "sqlite" and _mark_on_sqlite() == here


def _mark_on_postgres() -> Hashable:
    """Which transactions are visible: the same snapshot sees the same rows (PostgreSQL manual, table 9.80)."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT current_database(), pg_current_snapshot()::text")
        found: Hashable = cursor.fetchone()
    return found


def _mark_on_sqlite() -> Hashable:
    """To a connection that never writes, data_version changes with each commit of any other (sqlite.org, pragmas)."""
    file = file_of(connection)
    if file is None:
        return None
    with _lock:
        if file not in _watchers:
            _watchers.clear()
            _watchers[file] = sqlite3.connect(file[0], check_same_thread=False, timeout=20, factory=SelfClosing)
        return (*file, *_watchers[file].execute("PRAGMA data_version").fetchone())
