"""A long sheet is written by a process of its own, which says how far it is and can be stopped.

A sheet goes in whole or not at all, and while it does nobody else can write a SQLite book: so what is to be said
meanwhile stands in files beside the book. `N.json` says who began it, how far it is and how it ended, `N.stop` asks it
to stop, and `N.lock` is held by the process for as long as it lives: the system lets go of it whatever kills it.
"""

from __future__ import annotations

import fcntl
import json
import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.contrib.auth.models import User

from inventory.exchange.commit import CommitRefused, commit, insist
from inventory.exchange.limits import SheetRefused
from inventory.exchange.plan import plan_sheet
from inventory.exchange.raw import Form
from inventory.exchange.reading import read
from inventory.ledger import Witness
from inventory.models import ImportedSheet

LONG = 500  # rows; fewer are written while their page waits, in a second or so
STEPS = {"things": "Things and their codes", "changes": "Changes of known things", "entries": "Where things are"}
STOPPED, REFUSED, FAILED = "stopped", "refused", "failed"
PATIENCE = 20  # looks at a lock that another page may be looking at

Clock = Callable[[], datetime]


class Stopped(Exception):
    """Somebody asked for it to stop, so nothing of the sheet goes in."""


@dataclass(frozen=True, slots=True)
class Writing:
    """How far a sheet is. `ending`: '' while it is written, and for ever if its process went without a word."""

    by: str
    role: str
    user: int | None
    began_at: datetime
    step: str = ""
    done: int = 0
    of: int = 0
    ending: str = ""
    words: str = ""
    is_alive: bool = True
    stop_asked: bool = False

    @property
    def part(self) -> float:
        """How much of it is done, from 0 to 1: each step counts alike."""
        before = list(STEPS).index(self.step) if self.step else 0
        return (before + (self.done / self.of if self.of else 0)) / len(STEPS)

    @property
    def far(self) -> str:
        """How far it is, with numbers."""
        if not self.step:
            return "The sheet is read once more."
        number = list(STEPS).index(self.step) + 1
        return f"{STEPS[self.step]}: {self.done:,} of {self.of:,}. Step {number} of {len(STEPS)}."

    @property
    def sentence(self) -> str:
        """What became of it, once it is written no more and is not in the book."""
        if self.ending == STOPPED:
            return f"It was stopped by {self.words}. Nothing of it is in the book; put it in again whenever you like."
        if self.ending == REFUSED:
            return f"It could not go in: {self.words}"
        why = f" ({self.words})" if self.words else ""
        return (
            f"{self.by} began to put it in, and it broke off before the end{why}. Nothing of it is in the book; "
            "put it in again."
        )


def is_long(sheet: ImportedSheet) -> bool:
    """Has it so many rows that somebody would wait for it?"""
    tabs = read(bytes(sheet.body), sheet.name).tabs
    return sum(any(cell.form is not Form.EMPTY for cell in row) for tab in tabs for row in tab.rows) > LONG


def state(sheet: ImportedSheet) -> Writing | None:
    """How far the writing of a sheet is or how it ended; None if none was begun."""
    try:
        data = json.loads(_file(sheet.pk, "json").read_text())
    except FileNotFoundError:
        return None
    data["began_at"] = datetime.fromisoformat(data["began_at"])
    if data["began_at"] < sheet.uploaded_at:  # left by a sheet of that number in a book that was thrown away
        return None
    alive = not data["ending"] and is_written(sheet.pk)
    return Writing(**data, is_alive=alive, stop_asked=_file(sheet.pk, "stop").exists())


def is_written(pk: int) -> bool:
    """Is a process writing this sheet now?"""
    try:
        lock = os.open(_file(pk, "lock"), os.O_RDWR)
    except FileNotFoundError:
        return False
    try:
        fcntl.flock(lock, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except BlockingIOError:
        return True
    finally:
        os.close(lock)
    return False


def begin(sheet: ImportedSheet, *, by: Witness, at: datetime) -> None:
    """Start the process that writes a sheet. Raises CommitRefused where something stands in the way."""
    insist(plan_sheet(sheet))
    lock = _lock(sheet.pk)
    try:
        _file(sheet.pk, "stop").unlink(missing_ok=True)
        _say(sheet.pk, Writing(by.name, by.role, by.user.pk if by.user else None, at))
        _spawn(sheet.pk, lock)
    finally:
        os.close(lock)  # the process has its own hold of it


def _lock(pk: int) -> int:
    """The lock of a sheet, taken. A page that just looks at it holds it for a moment."""
    _file(pk, "lock").parent.mkdir(parents=True, exist_ok=True)
    lock = os.open(_file(pk, "lock"), os.O_RDWR | os.O_CREAT)
    for _ in range(PATIENCE):
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return lock
        except BlockingIOError:
            time.sleep(0.05)
    os.close(lock)
    raise CommitRefused("This sheet is being written already. Wait for it, or stop it.")


def _spawn(pk: int, lock: int) -> None:
    words = [sys.executable, str(settings.BASE_DIR / "manage.py"), "write_sheet", str(pk)]
    process = subprocess.Popen(  # noqa: S603 - our own command with a number
        words, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True,
        pass_fds=[lock],
    )  # fmt: skip
    threading.Thread(target=process.wait, daemon=True).start()  # else it would stay as a zombie


def ask_to_stop(pk: int, *, by: str) -> None:
    """It is heard after some hundred rows at most; if the last were written by then, the sheet is in."""
    if is_written(pk):
        _put(_file(pk, "stop"), by)


def put_away(pk: int) -> None:
    """Forget that a sheet was begun."""
    for ending in ("json", "stop", "lock"):
        _file(pk, ending).unlink(missing_ok=True)


def write(pk: int, clock: Clock) -> str:
    """Write a sheet that was begun, as the process of its own does; returns how it ended, '' for in the book."""
    sheet = ImportedSheet.objects.defer("body").filter(pk=pk).first()
    begun = state(sheet) if sheet else None
    if begun is None:
        raise CommitRefused("No sheet of that number was begun. Put it in on its page.")
    user = User.objects.filter(pk=begun.user).first() if begun.user else None

    def heard(step: str, done: int, of: int) -> None:
        if _file(pk, "stop").exists():
            raise Stopped
        _say(pk, replace(begun, step=step, done=done, of=of))

    try:
        commit(pk, by=Witness(begun.by, begun.role, user), at=clock(), heard=heard)
    except Stopped:
        return _end(pk, begun, STOPPED, _file(pk, "stop").read_text())
    except (CommitRefused, SheetRefused) as refusal:
        return _end(pk, begun, REFUSED, str(refusal))
    except Exception as wrong:
        _end(pk, begun, FAILED, type(wrong).__name__)
        raise
    put_away(pk)
    return ""


def _end(pk: int, begun: Writing, ending: str, words: str) -> str:
    _say(pk, replace(begun, ending=ending, words=words))
    return ending


def _say(pk: int, now: Writing) -> None:
    told = {**asdict(now), "began_at": now.began_at.isoformat()}
    del told["is_alive"], told["stop_asked"]
    _put(_file(pk, "json"), json.dumps(told))


def _put(file: Path, text: str) -> None:
    """Whole or not at all: somebody may read it at any moment."""
    beside = file.with_suffix(f".{os.getpid()}.new")
    try:
        beside.write_text(text)
        beside.replace(file)
    finally:
        with suppress(FileNotFoundError):
            beside.unlink()


def _file(pk: int, ending: str) -> Path:
    return Path(settings.VAR_DIR) / "imports" / f"{pk}.{ending}"
