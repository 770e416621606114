"""How much of the processor a long gear sheet costs: the dry run, and writing it into the book.

    VAR_DIR=/tmp/sheet .venv/bin/python -m tests.benchmarks.bench_import [--rows 9999] [--held]

The book in VAR_DIR is left as it was: what the sheet brought in is taken back. With --held it goes in, and the longest
that another writer of the SQLite file had to wait meanwhile is told: name a VAR_DIR to throw away.
"""

from __future__ import annotations

import argparse
import os
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import django

HEAD = ["item", "maker", "serial", "case no", "home case", "system", "qty", "weight"]
IN_A_CASE = 20


def rows(many: int) -> Iterator[list[str]]:
    """A sheet of so many things: cases, and panels that live in them."""
    yield HEAD
    for number in range(many):
        case = f"HER-{number // IN_A_CASE:04}"
        if number % IN_A_CASE == 0:
            yield ["Rack case", "Fettlewick", "", case, "", "Heron", "1", "22 kg"]
        else:
            yield ["Pane 24", "Kittiwade", f"K{number:05}", "", case, "Heron", "1", "5 kg"]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rows", type=int, default=9_999)  # and its heading: as long as a sheet may be
    parser.add_argument("--held", action="store_true", help="Put it in, and say how long others waited to write.")
    told = parser.parse_args()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    django.setup()
    from django.core.management import call_command
    from django.db import connection, transaction

    call_command("migrate", verbosity=0)
    if told.held:
        with _waiting(str(connection.settings_dict["NAME"])):
            _measure(told.rows)
    else:
        with transaction.atomic():
            _measure(told.rows)
            transaction.set_rollback(True)
    print(f"{connection.vendor}, load {os.getloadavg()[0]:.1f}")


def _measure(many: int) -> None:
    from inventory.exchange.commit import commit
    from inventory.exchange.plan import plan_sheet
    from tests.factories import IDA, T0, make_owner
    from tests.inventory.sheets import make_sheet

    make_owner()
    sheet = make_sheet(list(rows(many)), answers={"house": "Lanternfold Field Pictures", "rest": "Mill Yard"})
    _told(f"dry run of {many} rows", lambda: plan_sheet(sheet))
    _told("written into the book", lambda: commit(sheet.pk, by=IDA, at=T0))
    print(f"{sheet.__class__.objects.get(pk=sheet.pk).outcome['added']} things added")


@contextmanager
def _waiting(file: str) -> Iterator[None]:
    """Another process's turns: it asks to write, and lets go at once, twenty times a second."""
    stop, waits = threading.Event(), [0.0]

    def ask() -> None:
        other = sqlite3.connect(file, timeout=600, isolation_level=None, check_same_thread=False)
        while not stop.wait(0.05):
            start = time.perf_counter()
            other.execute("BEGIN IMMEDIATE")
            other.execute("ROLLBACK")
            waits.append(time.perf_counter() - start)
        other.close()

    asking = threading.Thread(target=ask)
    asking.start()
    try:
        yield
    finally:
        stop.set()
        asking.join()
    print(f"another writer waited {max(waits):.1f} s at most")


def _told(what: str, act: Callable[[], object]) -> None:
    clock, processor = time.perf_counter(), time.process_time()
    act()
    print(f"{what}: {time.process_time() - processor:.1f} s of the processor, {time.perf_counter() - clock:.1f} s")


if __name__ == "__main__":
    main()
