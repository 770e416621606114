"""The book that a night on the road is played against: a real server that can be killed, and where things should be."""

from __future__ import annotations

import json
import os
import signal
import socket
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path
from typing import Any
from uuid import UUID

import psycopg

ROOT = Path(__file__).resolve().parent.parent
START = 180  # seconds, on a machine kept busy by others
PLACES = """
import json
from django.utils import timezone
from inventory.answers.whereabouts import whereabouts_of
from inventory.models import Item
cases = list(Item.objects.filter(type__kind="case"))
found = whereabouts_of([case.pk for case in cases], timezone.now())
print(json.dumps({pk: told.links[0].place and told.links[0].place.id for pk, told in found.items() if told.links}))
"""
ENTRIES = """SELECT e.id, e.happened_at, e.verb, e.place_id, l.item_id, e.act, e.corrects, e.device_id, e.role,
    e.day_pass_id, e.grade FROM inventory_entry e LEFT JOIN inventory_label l ON l.id = e.label_id"""


class Server:
    """gunicorn on a book of its own; it can be killed and begun again."""

    def __init__(self, folder: Path, database: str = "") -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.url = f"http://localhost:{self.port}"
        self.database = folder / "stowbook.sqlite3"
        self.postgres = database
        self.environment = {
            **os.environ,
            "VAR_DIR": str(folder),
            "DEMO": "True",
            "DEBUG": "True",
            "PUBLIC_URL": self.url,
        }
        self.environment.pop("DATABASE_URL", None)
        if database:
            self.environment["DATABASE_URL"] = database
            self._empty()
        self.manage("migrate", "-v", "0")
        self.manage("load_demo")
        self.start()

    def manage(self, *words: str) -> str:
        done = subprocess.run(
            [sys.executable, "manage.py", *words],
            cwd=ROOT,
            env=self.environment,
            capture_output=True,
            text=True,
            check=False,
        )
        if done.returncode:
            raise RuntimeError(f"{words}: {done.stdout[-800:]} {done.stderr[-800:]}")
        return done.stdout

    def start(self) -> None:
        workers = ["--workers", "3", "--threads", "2"] if self.postgres else ["--threads", "8"]
        words = ["-m", "gunicorn", "config.wsgi:application", "--bind", f"127.0.0.1:{self.port}", *workers]
        quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
        self.process = subprocess.Popen(
            [sys.executable, *words, "--log-level", "critical"],
            cwd=ROOT,
            env=self.environment,
            start_new_session=True,
            **quiet,
        )
        self.wait()

    def answers(self) -> bool:
        with socket.socket() as knock:
            return knock.connect_ex(("127.0.0.1", self.port)) == 0

    def wait(self) -> None:
        end = time.monotonic() + START
        while not self.answers():
            if self.process.poll() is not None or time.monotonic() > end:
                raise RuntimeError(f"the server did not start (exit {self.process.poll()})")
            time.sleep(0.05)

    def kill(self) -> None:
        """-9 to the master and its workers at once: nothing is finished, nothing is said.

        A worker that is still dying holds the door open: over only when nobody answers there, else the next server
        would be taken for started before it is.
        """
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()
        while self.answers():
            time.sleep(0.05)

    def _empty(self) -> None:
        """A night begins with an empty book: everything in the database named on the command line is dropped."""
        with psycopg.connect(self.postgres, autocommit=True) as book:
            book.execute("DROP SCHEMA public CASCADE")
            book.execute("CREATE SCHEMA public")

    def rows(self, query: str) -> list[tuple[Any, ...]]:
        if self.postgres:
            with psycopg.connect(self.postgres) as book:
                return book.execute(query).fetchall()
        with closing(sqlite3.connect(f"file:{self.database}?mode=ro", uri=True)) as book:
            return book.execute(query).fetchall()


def sorted_places(server: Server) -> dict[int, int | None]:
    """Where every thing is by sorting all standing entries by time and id, and taking the last that placed it."""
    rows = server.rows(ENTRIES)
    taken_back = [(row[6], row[7], row[8], row[9]) for row in rows if row[2] == "corrected"]
    own = {(act, device) for act, device, *_ in taken_back if device}
    all_of = {act for act, _, role, day_pass in taken_back if role == "kit manager" and day_pass is None}
    standing = [row for row in rows if row[3] and row[5] not in all_of and (row[5], row[7]) not in own]
    scanned = {row[4] for row in standing if row[10] != "import"}
    found: dict[int, int | None] = {}
    for row in sorted(standing, key=lambda row: (row[1], UUID(str(row[0])))):
        if row[10] != "import" or row[4] not in scanned:
            found[row[4]] = row[3]
    return found


def misplaced(server: Server) -> int:
    """How many cases the book puts elsewhere than that."""
    told = json.loads(server.manage("shell", "-v", "0", "-c", PLACES))
    wanted = sorted_places(server)
    return sum(wanted.get(int(pk)) != place for pk, place in told.items())
