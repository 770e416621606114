"""Django's SQLite backend, with one lock per database round every transaction.

SQLite's own busy wait is unfair: under load one writer can wait a second while others pass it. Threads of this
process queue here instead, before BEGIN IMMEDIATE. Other processes still wait inside SQLite, as they always did.
"""

from __future__ import annotations

import threading
from collections import defaultdict
from typing import Any

from django.db.backends.sqlite3 import base

_locks: defaultdict[str, threading.Lock] = defaultdict(threading.Lock)


class DatabaseWrapper(base.DatabaseWrapper):
    _queued: threading.Lock | None = None

    def _start_transaction_under_autocommit(self) -> None:
        lock = _locks[str(self.settings_dict["NAME"])]
        # A writer in another process may hold the file for a while; give up as SQLite itself would.
        if self._queued is None and lock.acquire(timeout=60):
            self._queued = lock
        try:
            super()._start_transaction_under_autocommit()
        except BaseException:
            self._leave_queue()
            raise

    def _leave_queue(self) -> None:
        lock, self._queued = self._queued, None
        if lock is not None:
            lock.release()

    def _commit(self) -> Any:
        done = super()._commit()  # type: ignore[misc]
        self._leave_queue()
        return done

    def _rollback(self) -> Any:
        try:
            return super()._rollback()  # type: ignore[misc]
        finally:
            self._leave_queue()

    def _close(self) -> Any:
        try:
            return super()._close()  # type: ignore[misc]
        finally:
            self._leave_queue()
