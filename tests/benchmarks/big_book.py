"""Measure the answers, pages and scans on a big book, each beside the same work in raw SQL, in one run.

    python -m tests.benchmarks.big_book [--items 200000] [--entries 2000000] [--rounds 200]
        [--seconds 20] [--no-rebuild] [--only answers pages scans crowd]

The database is the one of DATABASE_URL (SQLite in VAR_DIR without it). It must be empty or hold such a book already:
a big book is built once and measured as often as wanted. Answers are made anew each time: what is kept of those given
before is forgotten first. The raw side of an upload writes the rows that it left, entries, receipts and where things
are, under new ids and on codes drawn anew, as one durable transaction; the rows are made before the clock starts.
"""

from __future__ import annotations

import argparse
import gc
import os
import random
import time
import uuid
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime, timedelta
from typing import Any

from tests.benchmarks.measure import HEADING, SERVED, Figure, Work, figure, load, measure, once

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
os.environ.update(SERVED)

import django

django.setup()

from django.contrib.auth import get_user_model  # noqa: E402
from django.core.management import call_command  # noqa: E402
from django.db import connection, transaction  # noqa: E402
from django.db.models import Model  # noqa: E402
from django.test import Client  # noqa: E402
from django.urls import get_resolver  # noqa: E402

from config.garbage import look_seldom  # noqa: E402
from inventory import settling, unchanged  # noqa: E402
from inventory.access import token_hash  # noqa: E402
from inventory.answers.contents import contents  # noqa: E402
from inventory.answers.history import history  # noqa: E402
from inventory.answers.search import search  # noqa: E402
from inventory.answers.whereabouts import whereabouts  # noqa: E402
from inventory.models import Device, Entry, Holding, Item, Label, Person, Place, Role, ScanReceipt  # noqa: E402
from tests.benchmarks.book import ZERO, Book, Size, key_of, uuid7  # noqa: E402
from tests.benchmarks.crowd import CLIENTS, Crowd, crowd  # noqa: E402

AT = ZERO + timedelta(hours=1)
Body = dict[str, list[dict[str, object]]]
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
    call_command("collectstatic", interactive=False, verbosity=0)
    if not Entry.objects.exists():
        start = time.perf_counter()
        Book(size).build()
        print(f"built in {time.perf_counter() - start:.0f} s")
        rebuild = True
    seconds = once(lambda _: settling.rebuild(), None).clock / 1000 if rebuild else 0.0
    with connection.cursor() as cursor:  # as autovacuum would in time; it is off on some machines that measure
        cursor.execute("VACUUM ANALYZE" if connection.vendor == "postgresql" else "ANALYZE")
    return seconds


def desk() -> Client:
    """A kit manager's browser."""
    user, _ = get_user_model().objects.get_or_create(username="bench")
    Person.objects.get_or_create(name="Ida Penrake", defaults={"role": Role.KIT_MANAGER, "user": user})
    client = Client()
    client.force_login(user)
    return client


def served(client: Client) -> None:
    """What the server loads at its start (config/wsgi.py) is loaded and stays, so that no answer waits for it."""
    get_resolver().url_patterns  # noqa: B018 - reads every page's code
    client.handler.load_middleware()
    gc.collect()
    look_seldom()


def fresh(name: str, work: Work, cases: Sequence[Any], raw: Work | None = None) -> Figure:
    return measure(name, work, cases, raw, before=unchanged.forget)


def present() -> datetime:
    """A moment after everything in the book, as a page's is."""
    newest = Entry.objects.order_by("-happened_at").values_list("happened_at", flat=True)[0]
    return newest.replace(microsecond=123_456) + timedelta(seconds=1)


def answers(draw: random.Random, rounds: int) -> Iterator[Figure]:
    at, every = present(), list(Holding.objects.values_list("item_id", flat=True))
    loose = [Item.objects.get(pk=pk) for pk in draw.choices(every, k=rounds)]
    cases = list(Item.objects.filter(number__startswith="C").order_by("?")[:rounds])
    moved = list(Item.objects.filter(number__startswith="C").order_by("pk")[:20]) * max(1, rounds // 20)
    inside = {case.pk: case.inside for case in [*cases, *moved]}
    busy = [Item.objects.filter(home_case=case).first() for case in moved]
    yield fresh("whereabouts, any thing", lambda i: whereabouts(i, at), loose, lambda i: rows(CHAIN, i.pk))
    yield fresh("whereabouts, in a much-moved case", lambda i: whereabouts(i, at), busy, lambda i: rows(CHAIN, i.pk))
    both = (lambda c: contents(inside[c.pk], at), lambda c: rows(CONTENTS, inside[c.pk].pk, c.pk))
    yield fresh("contents of a case", both[0], cases, both[1])
    yield fresh("contents of a much-moved case", both[0], moved, both[1])
    store = Place.objects.get(name="Mill Yard")
    starts = [200 * n for n in range(rounds // 4)]
    yield fresh("contents of the main store, 200 at a time", lambda n: contents(store, at, start=n), starts)
    drives = list(Item.objects.filter(type__kind="drive")[:rounds])
    yield fresh("history of a drive", history, drives, lambda i: rows(HISTORY, i.pk))
    tails = [item.serial[-4:] for item in drives]
    yield fresh("search by serial tail", lambda t: search(t), tails, lambda t: rows(TAIL, f"%{t}%"))
    misread = [item.serial.replace("0", "O").replace("1", "I").replace("8", "B") for item in drives]
    yield fresh("search with misread characters", lambda t: search(t), misread)


def pages(draw: random.Random, rounds: int) -> Iterator[Figure]:
    client = desk()
    served(client)
    store = Place.objects.get(name="Mill Yard")
    addresses = [f"/things/?place={store.pk}&sort=place&page={1 + n % 40}" for n in range(rounds // 4)]
    yield fresh("things in the main store, sorted by place", client.get, addresses, lambda a: rows(PAGE, store.pk))
    yield fresh("page of the main store", client.get, [f"/place/{store.pk}/"] * (rounds // 4))


def codes(draw: random.Random) -> list[str]:
    """Codes of things all over the book."""
    wanted = draw.sample(range(50, Label.objects.count()), 1000)
    return list(Label.objects.filter(pk__in=wanted).values_list("code", flat=True))


def _scan(draw: random.Random, known: list[str], seq: int, now: datetime) -> dict[str, object]:
    """What a phone sends of a thing; `now` is a moment after all that the book knows, as a phone's is."""
    at = now.isoformat()
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
    send, seq, known, now = sender(), int(time.time() * 1000), codes(draw), present()
    draw = random.Random(seq)

    def made(scan: Callable[..., dict[str, object]], first: int, count: int, *more: object) -> Body:
        return {
            "scans": [
                scan(draw, known, n, now + timedelta(seconds=n - seq), *more) for n in range(first, first + count)
            ]
        }

    many = max(30, rounds // 4)
    yield from uploads("one scan", send, [made(_scan, seq + n, 1) for n in range(rounds)])
    first = range(seq + rounds, seq + rounds + 100 * many, 100)
    yield from uploads("a batch of 100 scans", send, [made(_scan, n, 100) for n in first])
    store = Place.objects.get(name="Mill Yard").pk
    first = range(seq + rounds + 100 * many, seq + rounds + 200 * many, 100)
    placed = [made(_placing, n, 100, store) for n in first]
    yield from uploads("a batch of 100 scans that place things", send, placed)


def _placing(draw: random.Random, known: list[str], seq: int, now: datetime, place: int) -> dict[str, object]:
    return _scan(draw, known, seq, now) | {"verb": "placed", "place": f"place:{place}"}


def sender() -> Callable[[Body], None]:
    client, token = Client(), phones(1)[0]

    def send(body: Body) -> None:
        answer = client.post("/api/scans/", body, content_type="application/json", headers={"X-Device-Token": token})
        assert answer.status_code == 200 and all(r["receipt"] == "stored" for r in answer.json()["scans"]), (
            answer.content[:300]
        )

    return send


def uploads(name: str, send: Callable[[Body], None], bodies: Sequence[Body]) -> Iterator[Figure]:
    """The uploads, then the rows that they left once more, by raw SQL: all, and of placings also all but Holding's.

    One kind after the other: in turn, SQLite would write its log back at every second upload, always of one kind.
    """
    known = {str(scan["code"]) for body in bodies for scan in body["scans"]}
    things = dict(Label.objects.filter(code__in=known).values_list("pk", "item_id"))
    ours = [once(send, body) for body in bodies]
    yield figure(name, ours, [once(write_raw, left_by(body, things)) for body in bodies])
    if "place" in bodies[0]["scans"][0]:
        added = [once(write_raw, left_by(body, things) | {Holding: []}) for body in bodies]
        yield figure("  against entries and receipts alone", ours, added)


Rows = dict[type[Model], list[tuple[object, ...]]]


def left_by(body: Body, things: dict[int, int]) -> Rows:
    """The entries and receipts that an upload left, as its tables hold them, under new ids; and Holding's rows.

    On other codes of those that are scanned, here with their things: the pages of its own would be in the database's
    cache by now.
    """
    ids = [uuid.UUID(str(scan["id"])) for scan in body["scans"]]
    entries = _copied(Entry, "id", ids, list(things))
    return {
        Entry: entries,
        ScanReceipt: _copied(ScanReceipt, "scan", ids, list(things)),
        Holding: [held for row in entries if (held := _held(row, things))],
    }


def _held(entry: tuple[object, ...], things: dict[int, int]) -> tuple[object, ...] | None:
    """Where the entry puts its thing: place, bay and entry, then the thing."""
    row = dict(zip((field.column for field in Entry._meta.concrete_fields), entry, strict=True))
    return (row["place_id"], row["bay"], row["id"], things[int(str(row["label_id"]))]) if row["place_id"] else None


def _copied(model: type[Model], key: str, ids: list[uuid.UUID], labels: Sequence[int]) -> list[tuple[object, ...]]:
    columns = [field.column for field in model._meta.concrete_fields]
    marks = ",".join(["%s"] * len(ids))
    chosen = ",".join(f'"{column}"' for column in columns)
    found = rows(f'SELECT {chosen} FROM "{model._meta.db_table}" WHERE "{key}" IN ({marks})', *map(key_of, ids))
    assert len(found) == len(ids), "the upload left other rows than it said"
    return [_anew(dict(zip(columns, row, strict=True)), labels) for row in found]


def _anew(row: dict[str, object], labels: Sequence[int]) -> tuple[object, ...]:
    chance = random.SystemRandom()
    made = dict.fromkeys(("id", "act", "scan"), key_of(uuid7(AT, chance))) | {"label_id": chance.choice(labels)}
    return tuple((row | {column: value for column, value in made.items() if column in row}).values())


MOVE = "UPDATE inventory_holding SET place_id = %s, bay = %s, entry_id = %s WHERE item_id = %s"


def write_raw(made: Rows) -> None:
    """The raw durable write: one transaction."""
    with transaction.atomic(), connection.cursor() as cursor:
        for model in (Entry, ScanReceipt):
            names = ",".join(f'"{field.column}"' for field in model._meta.concrete_fields)
            marks = ",".join(["%s"] * len(made[model][0]))
            cursor.executemany(f'INSERT INTO "{model._meta.db_table}" ({names}) VALUES ({marks})', made[model])
        if made[Holding]:
            cursor.executemany(MOVE, made[Holding])


def rush(draw: random.Random, seconds: float) -> Iterator[Crowd]:
    workers = 1 if connection.vendor == "sqlite" else (os.cpu_count() or 1) + 1
    tokens, known = phones(CLIENTS), codes(draw)
    connection.close()
    yield from crowd(tokens, known, AT, workers=workers, seconds=seconds)


PARTS = ("answers", "pages", "scans", "crowd")


def lines(part: str, draw: random.Random, options: argparse.Namespace) -> Iterator[Figure | Crowd]:
    if part == "crowd":
        return rush(draw, options.seconds)
    return {"answers": answers, "pages": pages, "scans": scans}[part](draw, options.rounds)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--items", type=int, default=200_000)
    parser.add_argument("--entries", type=int, default=2_000_000)
    parser.add_argument("--rounds", type=int, default=200)
    parser.add_argument("--seconds", type=float, default=20)
    parser.add_argument("--rebuild", action=argparse.BooleanOptionalAction, default=True)
    parser.add_argument("--only", choices=PARTS, nargs="*", default=PARTS)
    options = parser.parse_args()
    rebuilt = prepare(Size(options.items, options.entries), rebuild=options.rebuild)
    draw = random.Random(11)
    served(desk())
    print(f"{connection.vendor}: {Item.objects.count():,} items, {Entry.objects.count():,} entries, {load()}")
    print(f"full rebuild of Holding: {rebuilt:.1f} s\n{HEADING}")
    for part in options.only:
        for one in lines(part, draw, options):
            print(one.line, flush=True)
    print(load())


if __name__ == "__main__":
    main()
