"""Several people record at the same moment."""

from __future__ import annotations

import threading
from datetime import timedelta
from uuid import UUID

import pytest
from django.db import connection, transaction

from config.sqlite import base
from inventory import ledger
from inventory.ledger import Fact
from inventory.models import Entry, Grade, Holding, Role, Verb
from tests.factories import IDA, T0, make_case, make_case_type, make_drive, make_item, make_place

MINUTE = timedelta(minutes=1)
postgres = pytest.mark.skipif(connection.vendor != "postgresql", reason="one writer at a time on SQLite")


def together(*jobs):
    """Run each job in a thread of its own and raise what any of them raised."""
    failures = []

    def run(job):
        try:
            job()
        except Exception as failure:  # noqa: BLE001 - handed to the test below
            failures.append(failure)
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=[job]) for job in jobs]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=30)
    assert not any(thread.is_alive() for thread in threads)
    assert failures == []


def placing(item, where, minutes, **over):
    at = T0 + minutes * MINUTE
    return lambda: ledger.record([Fact(Verb.PLACED, item, place=where, happened_at=at, **over)], by=IDA, at=at)


def held_open(job, started: threading.Event, go: threading.Event):
    """Do the job, and keep its transaction open until told."""

    def run():
        with transaction.atomic():
            job()
            started.set()
            assert go.wait(20)

    return run


def after(started: threading.Event, go: threading.Event, job):
    """Begin the job while the other's transaction is open; let that one finish shortly after."""

    def run():
        assert started.wait(20)
        timer = threading.Timer(0.3, go.set)
        timer.start()
        job()

    return run


@postgres
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("known", [False, True])
@pytest.mark.parametrize("first_minute", [1, 2])
def test_two_people_record_one_item_and_the_newest_stands(first_minute, known):
    item, yard, quay = make_item(), make_place("Mill Yard"), make_place("Quay Unit")
    if known:  # then each of the two only goes on from where it was, until one finds that the other was quicker
        placing(item, make_place("Attic"), 0)()
    started, go = threading.Event(), threading.Event()
    together(
        held_open(placing(item, yard, first_minute), started, go),
        after(started, go, placing(item, quay, 3 - first_minute)),
    )
    assert Holding.objects.get().place == (quay if first_minute == 1 else yard)


@postgres
@pytest.mark.django_db(transaction=True)
def test_two_drives_into_one_bay_at_once_leave_one_in_it():
    box = make_case("HER-04", make_case_type("Drive box", slots="A B C"))
    old, new = make_drive("71B04K"), make_drive("71B05K")
    started, go = threading.Event(), threading.Event()
    together(
        held_open(placing(new, box.inside, 2, bay="C"), started, go),
        after(started, go, placing(old, box.inside, 1, bay="C")),
    )
    assert dict(Holding.objects.values_list("item", "bay")) == {old.pk: "", new.pk: "C"}


@postgres
@pytest.mark.django_db(transaction=True)
def test_one_scan_carried_by_two_phones_at_once_is_one_entry():
    item, yard = make_item(), make_place()
    label = item.labels.get()
    new, started, go = [], threading.Event(), threading.Event()

    def deliver():
        entry = Entry(
            id=UUID(int=7), act=UUID(int=7), verb=Verb.PLACED, label=label, place=yard, grade=Grade.SCAN,
            happened_at=T0, by="Pim Osgood", role=Role.CREW,
        )  # fmt: skip
        new.append(ledger.append([entry], T0))

    together(held_open(deliver, started, go), after(started, go, deliver))
    assert sorted(map(len, new)) == [0, 1]
    assert Entry.objects.count() == 1


@postgres
@pytest.mark.django_db(transaction=True)
def test_a_code_adopted_while_it_is_scanned_has_its_place():
    from inventory import codes

    [label] = codes.issue_blank(1, at=T0)
    item, yard = make_item(), make_place()
    started, go = threading.Event(), threading.Event()
    together(
        held_open(placing(label, yard, 1), started, go),
        after(started, go, lambda: ledger.adopt(label, item, at=T0)),
    )
    assert Holding.objects.get(item=item).place == yard


@pytest.mark.django_db(transaction=True)
def test_eight_threads_move_twenty_things_and_every_row_is_right():
    if connection.vendor == "sqlite" and connection.is_in_memory_db():
        pytest.skip("threads need a database file")
    places = [make_place(f"shelf {n}") for n in range(8)]
    items = [make_item() for _ in range(20)]

    def sweep(n):
        def run():
            for k, item in enumerate(items):
                placing(item, places[n], 10 * k + n)()

        return run

    together(*(sweep(n) for n in range(8)))
    assert set(Holding.objects.values_list("place", flat=True)) == {places[7].pk}
    assert Entry.objects.count() == 160


@pytest.fixture
def writers(tmp_path, django_db_blocker):
    """Makes connections to one database file, each as a thread of its own would have."""

    def connect():
        settings = {
            "AUTOCOMMIT": True, "CONN_MAX_AGE": 0, "CONN_HEALTH_CHECKS": False, "TIME_ZONE": None,
            "ENGINE": "config.sqlite", "NAME": str(tmp_path / "queue.sqlite3"),
            "OPTIONS": {"transaction_mode": "IMMEDIATE", "timeout": 0.05},
        }  # fmt: skip
        return base.DatabaseWrapper(settings, alias="default")

    with django_db_blocker.unblock():
        yield connect


def test_threads_queue_for_sqlite_instead_of_failing(writers):
    first = writers()
    with first.cursor() as cursor:
        cursor.execute("CREATE TABLE step (n integer)")
    first.close()

    def write():
        mine = writers()
        for n in range(25):
            mine.set_autocommit(False, force_begin_transaction_with_broken_autocommit=True)
            with mine.cursor() as cursor:
                cursor.execute("INSERT INTO step VALUES (%s)", [n])
            (mine.rollback if n % 5 == 0 else mine.commit)()
            mine.set_autocommit(True)
        mine.close()

    together(*[write] * 6)  # without the queue 50 ms of patience ends in "database is locked"
    last = writers()
    with last.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM step")
        assert cursor.fetchone()[0] == 6 * 20
    last.close()


def test_a_connection_that_closes_in_the_middle_frees_the_queue(writers):
    one, two = writers(), writers()
    one.set_autocommit(False, force_begin_transaction_with_broken_autocommit=True)
    one.close()
    two.set_autocommit(False, force_begin_transaction_with_broken_autocommit=True)
    two.rollback()
    two.close()
