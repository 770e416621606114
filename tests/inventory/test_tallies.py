"""What the database counts of its own changes, and which queries need not be read again for that."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection, transaction

from inventory import rereading, tallies
from inventory.answers.latest import PUT, cuts_of
from inventory.answers.told import EVER_IN, EVERYTHING, NEWEST_OF
from inventory.ledger import Fact, record
from inventory.models import Entry, Grade, Item, Label, Person, Place, Verb
from inventory.prepared import Asked, Prepared
from inventory.rereading import Bound, Of, noting, read_again
from tests.factories import IDA, T0, make_item, make_place, make_show, make_system
from tests.lifting import lifted

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.skipif(connection.vendor != "sqlite", reason="only SQLite counts; elsewhere all is read again"),
]
AT = T0 + timedelta(days=1, microseconds=17)
FILE = ("book", 1)


@pytest.fixture(autouse=True)
def here(monkeypatch):
    """The tests' book lies in memory: it is read by its own connection."""
    monkeypatch.setattr(tallies, "reader_of", lambda file: connection.connection)
    Person.objects.exists()  # a connection there is


@pytest.fixture
def since():
    """Tells what was written since it was made."""
    before = tallies.state(FILE)
    return lambda: tallies.changes(before, tallies.state(FILE, before))


def scan(item: Item, place: Place | None = None, **said) -> Entry:
    verb = Verb.PLACED if place else Verb.SEEN
    return record([Fact(verb, item, place=place, grade=Grade.SCAN, **said)], by=IDA, at=T0)[0]


def readings_of(ask) -> list[rereading.Reading]:
    with noting(connection, AT) as notes:
        ask()
    return list(notes.readings)


def test_every_table_of_the_book_is_counted():
    layout = tallies.state(FILE).layout
    assert {"inventory_entry", "inventory_item", "inventory_holding", "shipping_show"} <= layout.counted
    assert "auth_user" not in layout.counted


def test_what_is_added_changed_or_taken_away_is_told_and_nothing_else(since):
    place = make_place()
    assert since().tables == {"inventory_place"}
    make_item()
    assert {"inventory_item", "inventory_itemtype", "inventory_label"} <= since().tables
    before = tallies.state(FILE)
    Place.objects.filter(pk=place.pk).update(name="Shelf")
    assert tallies.changes(before, tallies.state(FILE, before)).tables == {"inventory_place"}
    before = tallies.state(FILE)
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM inventory_place WHERE id = %s", [place.pk])
    assert tallies.changes(before, tallies.state(FILE, before)).tables == {"inventory_place"}


def test_what_was_taken_back_before_its_end_was_never_written(since):
    with pytest.raises(ZeroDivisionError), transaction.atomic():
        make_show()
        raise ZeroDivisionError
    assert since().tables == frozenset()


def test_a_query_of_tables_that_nobody_wrote_to_says_the_same(since):
    ask, other = (str(model.objects.values("pk").query) for model in (Place, Label))
    both = str(Label.objects.filter(item__home_case__inside__name="").values("pk").query)
    make_place()
    assert [since().may_touch(sql, None) for sql in (ask, other, both)] == [True, False, True]


@pytest.mark.parametrize("sql", ("SELECT 1", "SELECT id FROM auth_user", "SELECT name FROM sqlite_master"))
def test_a_query_of_what_is_not_counted_is_always_in_doubt(since, sql):
    assert since().may_touch(sql, None)


def test_a_table_without_one_of_its_triggers_is_always_in_doubt(since):
    sql = str(Place.objects.values("pk").query)
    assert not since().may_touch(sql, None)
    with connection.cursor() as cursor:
        cursor.execute("DROP TRIGGER inventory_place_tells_update")
    assert since() is None  # another layout: nothing is known of what was before
    state = tallies.state(FILE)
    assert tallies.changes(state, tallies.state(FILE, state)).may_touch(sql, None)


def test_the_triggers_come_back_with_the_next_migration():
    with connection.cursor() as cursor:
        cursor.execute("DROP TRIGGER inventory_place_tells_update")
    tallies.after_migrate(connection.alias)
    assert "inventory_place" in tallies.state(FILE).layout.counted


def test_a_file_without_counts_tells_nothing():
    with connection.cursor() as cursor:
        cursor.execute("DROP TABLE inventory_tally")
    assert tallies.state(FILE) is None
    assert tallies.changes(None, None) is None
    tallies.after_migrate(connection.alias)


QUERIES = {
    "things": lambda item, place: EVERYTHING([item.pk], AT, None, AT),
    "cuts": lambda item, place: cuts_of([item.pk], AT, 4),
    "newest": lambda item, place: NEWEST_OF(items=[item.pk], at=AT),
    "codes": lambda item, place: PUT(labels=item.labels.values_list("pk", flat=True)),
    "places": lambda item, place: EVER_IN(places=[place.pk]),
}


@pytest.fixture(params=QUERIES)
def asked(request):
    """A thing that lies in a place, and what was read of the one or the other."""
    item, place = make_item(), make_place()
    scan(item, place)
    readings = [one for one in readings_of(lambda: QUERIES[request.param](item, place)) if one.bound]
    assert len(readings) == 1
    return item, place, readings[0]


def test_what_is_told_of_another_thing_elsewhere_leaves_what_was_asked_of_this_one(asked):
    item, place, reading = asked
    other, elsewhere = make_item(), make_place("Elsewhere")
    before, said = tallies.state(FILE), read_again(connection, reading, AT)
    scan(other, elsewhere)
    changes = tallies.changes(before, tallies.state(FILE, before))
    assert "inventory_entry" in changes.tables
    assert not changes.may_touch(reading.sql, reading.bound)
    assert changes.may_touch(reading.sql, None)
    assert read_again(connection, reading, AT) == said


def test_what_is_told_of_the_thing_or_its_place_is_read_again(asked):
    item, place, reading = asked
    before = tallies.state(FILE)
    scan(item, place)
    assert tallies.changes(before, tallies.state(FILE, before)).may_touch(reading.sql, reading.bound)


def test_an_act_taken_back_has_everything_read_again(asked):
    item, place, reading = asked
    act = scan(make_item(), make_place())
    before = tallies.state(FILE)
    record([Fact(Verb.CORRECTED, make_item(), corrects=act.act)], by=IDA, at=T0)
    changes = tallies.changes(before, tallies.state(FILE, before))
    assert changes.told is None
    assert changes.may_touch(reading.sql, reading.bound)


def test_a_code_that_went_to_another_thing_has_its_queries_read_again(since):
    item, other = make_item(), make_item()
    scan(other)
    (reading,) = readings_of(lambda: EVERYTHING([item.pk], AT, None, AT))
    before, said = tallies.state(FILE), read_again(connection, reading, AT)
    other.labels.update(item=item)
    assert tallies.changes(before, tallies.state(FILE, before)).may_touch(reading.sql, reading.bound)
    assert read_again(connection, reading, AT) != said


def test_more_new_entries_than_are_looked_at_are_all_in_doubt(since, monkeypatch):
    monkeypatch.setattr(tallies, "MOST", 1)
    item = make_item()
    scan(item)
    assert since().told is not None
    scan(item)
    assert since().told is None


def test_a_ledger_that_lost_an_entry_is_in_doubt(since):
    item = make_item()
    scan(item)
    scan(item)
    with lifted(), connection.cursor() as cursor:
        cursor.execute("DELETE FROM inventory_entry WHERE id = %s", [Entry.objects.first().pk.hex])
    assert since() is None or since().told is None


def test_what_is_told_of_a_later_moment_leaves_what_was_asked_of_an_earlier_one():
    early = Prepared(
        lambda until: Entry.objects.filter(happened_at__lte=until).order_by().values_list("pk"), until=Asked.TOLD_UNTIL
    )
    item, before = make_item(), tallies.state(FILE)
    readings = [*readings_of(lambda: early(until=T0)), *readings_of(lambda: early(until=T0 - timedelta(seconds=1)))]
    scan(item)
    changes = tallies.changes(before, tallies.state(FILE, before))
    assert [changes.may_touch(one.sql, one.bound) for one in readings] == [True, False]


def test_a_bound_is_that_of_its_own_query_alone():
    system = make_system()
    readings = readings_of(lambda: (NEWEST_OF(items=[3], at=AT), list(type(system).objects.filter(pk=system.pk))))
    assert [one.bound for one in readings] == [Bound(Of.THINGS, frozenset({3})), None]
