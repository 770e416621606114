"""Measure the answers, pages and scans on a big book, each beside the same work in raw SQL, in one run.

    python -m tests.benchmarks.big_book [--items 200000] [--entries 2000000] [--rounds 200] [--seconds 20]

The database is the one of DATABASE_URL (SQLite in VAR_DIR without it). It must be empty or hold such a book already:
a big book is built once and measured as often as wanted.
"""

from __future__ import annotations

import argparse
import os
import random
import time
from collections.abc import Iterator
from datetime import timedelta

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

import django

django.setup()

from django.contrib.auth import get_user_model  # noqa: E402
from django.core.management import call_command  # noqa: E402
from django.db import connection, transaction  # noqa: E402
from django.test import Client  # noqa: E402

from inventory import settling  # noqa: E402
from inventory.access import token_hash  # noqa: E402
from inventory.answers.contents import contents  # noqa: E402
from inventory.answers.history import history  # noqa: E402
from inventory.answers.search import search  # noqa: E402
from inventory.answers.whereabouts import whereabouts  # noqa: E402
from inventory.models import Device, Entry, Holding, Item, Label, Person, Place, Role  # noqa: E402
from tests.benchmarks.book import ENTRY_COLUMNS, ZERO, Book, Size, uuid7  # noqa: E402
from tests.benchmarks.crowd import CLIENTS, crowd  # noqa: E402
from tests.benchmarks.measure import HEADING, Figure, measure  # noqa: E402

AT = ZERO + timedelta(hours=1)
TOKEN = "benchmark-phone"
CHAIN = """
WITH RECURSIVE chain(item_id, place_id, depth) AS (
    SELECT item_id, place_id, 0 FROM inventory_holding WHERE item_id = %s
    UNION ALL
    SELECT h.item_id, h.place_id, depth + 1 FROM chain c JOIN inventory_place p ON p.id = c.place_id
    JOIN inventory_holding h ON h.item_id = p.item_id WHERE depth < 9)
SELECT chain.*, p.name, e.* FROM chain JOIN inventory_place p ON p.id = chain.place_id
JOIN inventory_label l ON l.item_id = chain.item_id
LEFT JOIN inventory_entry e ON e.id = (SELECT id FROM inventory_entry WHERE label_id = l.id
    ORDER BY happened_at DESC, id DESC LIMIT 1)
"""
CONTENTS = """
SELECT i.*, h.* FROM inventory_item i LEFT JOIN inventory_holding h ON h.item_id = i.id
WHERE h.place_id = %s OR i.home_case_id = %s
"""
HISTORY = """
SELECT e.* FROM inventory_entry e JOIN inventory_label l ON l.id = e.label_id WHERE l.item_id = %s
ORDER BY happened_at DESC, e.id DESC
"""
TAIL = "SELECT id FROM inventory_item WHERE serial_key LIKE %s LIMIT 20"
PAGE = """
SELECT i.*, p.name FROM inventory_item i JOIN inventory_holding h ON h.item_id = i.id
JOIN inventory_place p ON p.id = h.place_id WHERE h.place_id = %s ORDER BY p.name, i.id LIMIT 25
"""


def rows(sql: str, *values: object) -> list[tuple[object, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(sql, values)
        return cursor.fetchall()


def prepare(size: Size, *, rebuild: bool = True) -> float:
    """Build the book unless it is there; returns the seconds a full rebuild of Holding took, 0 without one."""
    call_command("migrate", verbosity=0)
    if not Entry.objects.exists():
        start = time.perf_counter()
        Book(size).build()
        print(f"built in {time.perf_counter() - start:.0f} s")
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
    if not rebuild:
        return 0.0
    start = time.perf_counter()
    settling.rebuild()
    return time.perf_counter() - start


def desk() -> Client:
    """A kit manager's browser."""
    user, _ = get_user_model().objects.get_or_create(username="bench")
    Person.objects.get_or_create(name="Ida Penrake", defaults={"role": Role.KIT_MANAGER, "user": user})
    client = Client()
    client.force_login(user)
    return client


def answers(draw: random.Random, rounds: int) -> Iterator[Figure]:
    loose = [
        Item.objects.get(pk=pk) for pk in draw.choices(Holding.objects.values_list("item_id", flat=True), k=rounds)
    ]
    cases = list(Item.objects.filter(number__startswith="C").order_by("?")[:rounds])
    moved = list(Item.objects.filter(number__startswith="C").order_by("pk")[:20]) * max(1, rounds // 20)
    inside = {case.pk: case.inside for case in [*cases, *moved]}
    busy = [Item.objects.filter(home_case=case).first() for case in moved]
    yield measure("whereabouts, any thing", lambda i: whereabouts(i, AT), loose, lambda i: rows(CHAIN, i.pk))
    yield measure("whereabouts, in a much-moved case", lambda i: whereabouts(i, AT), busy, lambda i: rows(CHAIN, i.pk))
    both = (lambda c: contents(inside[c.pk], AT), lambda c: rows(CONTENTS, inside[c.pk].pk, c.pk))
    yield measure("contents of a case", both[0], cases, both[1])
    yield measure("contents of a much-moved case", both[0], moved, both[1])
    drives = list(Item.objects.filter(type__kind="drive")[:rounds])
    yield measure("history of a drive", history, drives, lambda i: rows(HISTORY, i.pk))
    tails = [item.serial[-4:] for item in drives]
    yield measure("search by serial tail", lambda t: search(t), tails, lambda t: rows(TAIL, f"%{t}%"))
    misread = [item.serial.replace("0", "O").replace("1", "I").replace("8", "B") for item in drives]
    yield measure("search with misread characters", lambda t: search(t), misread)


def pages(draw: random.Random, rounds: int) -> Iterator[Figure]:
    client = desk()
    store = Place.objects.get(name="Mill Yard")
    addresses = [f"/things/?place={store.pk}&sort=place&page={1 + n % 40}" for n in range(rounds // 4)]
    yield measure("things in the main store, sorted by place", client.get, addresses, lambda a: rows(PAGE, store.pk))
    yield measure("page of the main store", client.get, [f"/place/{store.pk}/"] * (rounds // 4))


def codes(draw: random.Random) -> list[str]:
    """Codes of things all over the book."""
    wanted = draw.sample(range(50, Label.objects.count()), 1000)
    return list(Label.objects.filter(pk__in=wanted).values_list("code", flat=True))


def _scan(draw: random.Random, known: list[str], seq: int) -> dict[str, object]:
    at = (AT + timedelta(seconds=seq % 1_000_000)).isoformat()
    made = {"id": str(uuid7(AT, draw)), "verb": "seen", "code": draw.choice(known)}
    return {**made, "device_seq": seq, "happened_at": at, "taken_at": at}


def phones(count: int) -> list[str]:
    """Tokens of phones that are signed in for good."""
    user = get_user_model().objects.get(username="bench")
    tokens = [f"{TOKEN}-{n}" for n in range(count)]
    for token in tokens:
        device = {"name": "Ana Rell", "joined_at": ZERO, "user": user}
        Device.objects.get_or_create(token_hash=token_hash(token), defaults=device)
    return tokens


def scans(draw: random.Random, rounds: int) -> Iterator[Figure]:
    token = phones(1)[0]
    client, seq, known = Client(), int(time.time() * 1000), codes(draw)
    draw = random.Random(seq)
    singles = [{"scans": [_scan(draw, known, seq + n)]} for n in range(rounds)]
    first = range(seq + rounds, seq + rounds + 100 * max(10, rounds // 10), 100)
    batches = [{"scans": [_scan(draw, known, n + m) for m in range(100)]} for n in first]

    def send(body: dict[str, object]) -> None:
        answer = client.post("/api/scans/", body, content_type="application/json", headers={"X-Device-Token": token})
        assert answer.status_code == 200 and all(r["receipt"] == "stored" for r in answer.json()["scans"]), (
            answer.content[:300]
        )

    raw = Book(Size(), seed=seq + 1)
    yield measure("one scan", send, singles, lambda body: _raw_insert(raw, 1))
    yield measure("a batch of 100 scans", send, batches, lambda body: _raw_insert(raw, 100))


def _raw_insert(book: Book, count: int) -> None:
    """The raw durable insert of as many rows: one transaction."""
    made = [book._row("seen", book.draw.randrange(1, 1000), None, AT) for _ in range(count)]
    names, marks = ",".join(f'"{c}"' for c in ENTRY_COLUMNS), ",".join(["%s"] * len(ENTRY_COLUMNS))
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.executemany(f'INSERT INTO "{Entry._meta.db_table}" ({names}) VALUES ({marks})', made)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--items", type=int, default=200_000)
    parser.add_argument("--entries", type=int, default=2_000_000)
    parser.add_argument("--rounds", type=int, default=200)
    parser.add_argument("--seconds", type=float, default=20)
    options = parser.parse_args()
    rebuilt = prepare(Size(options.items, options.entries))
    draw = random.Random(11)
    print(f"{connection.vendor}: {Item.objects.count():,} items, {Entry.objects.count():,} entries")
    print(f"full rebuild of Holding: {rebuilt:.1f} s\n{HEADING}")
    for part in (answers, pages, scans):
        for figure in part(draw, options.rounds):
            print(figure.line, flush=True)
    connection.close()
    workers = 1 if connection.vendor == "sqlite" else (os.cpu_count() or 1) + 1
    for met in crowd(phones(CLIENTS), codes(draw), AT, workers=workers, seconds=options.seconds):
        print(met.line, flush=True)


if __name__ == "__main__":
    main()
