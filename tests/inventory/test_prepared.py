"""A query put together once gives the rows that the query set gives, whatever it is asked with."""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID

import pytest
from django.db import connection
from django.db.models import Max
from django.test.utils import CaptureQueriesContext

from inventory.answers.loading import live
from inventory.ledger import Fact, correct, record
from inventory.models import Entry, Grade, Item, Verb
from inventory.prepared import Asked, Prepared
from tests.factories import ANA, IDA, T0, make_item, make_place

pytestmark = pytest.mark.django_db
SEEN = T0 + timedelta(microseconds=5)


@pytest.fixture
def told() -> list[Item]:
    """Three things, each placed and seen; the sight of the last one was taken back."""
    things = [make_item(serial=f"S{n}") for n in range(3)]
    for n, thing in enumerate(things):
        record([Fact(Verb.PLACED, thing, place=make_place())], by=IDA, at=T0 + timedelta(hours=n))
        seen = record(
            [Fact(Verb.SEEN, thing, note="50 % of %s", grade=Grade.SCAN)], by=ANA, at=SEEN + timedelta(days=n)
        )
    correct(seen[0].act, reason="It was another.", by=IDA, at=T0 + timedelta(days=9))
    return things


def of_items(at, items):
    found = live(at).filter(label__item__in=items).order_by("happened_at", "id")
    return found.values_list("id", "verb", "place_id", "stated", "happened_at", "device_id", "note")


ROWS = Prepared(of_items, at=Asked.MOMENT, items=Asked.IDS)


@pytest.mark.parametrize("hours", (-1, 1, 30, 1000))
@pytest.mark.parametrize("count", (1, 2, 3))
def test_it_gives_what_the_query_set_gives(told, hours, count):
    at, items = SEEN + timedelta(hours=hours), {one.pk for one in told[:count]}
    assert ROWS(at=at, items=items) == list(of_items(at, items))


def test_nothing_is_asked_about_no_thing(told):
    with CaptureQueriesContext(connection) as asked:
        assert ROWS(at=SEEN, items=set()) == []
    assert not asked.captured_queries


def test_the_text_is_put_together_once(told):
    made = []

    def ask(items):
        made.append(items)
        return Item.objects.filter(pk__in=items).order_by("pk").values_list("serial")

    serials = Prepared(ask, items=Asked.IDS)
    for count in (1, 3, 2, 3):
        assert len(serials(items=[one.pk for one in told[:count]])) == count
    assert len(made) == 1


def test_a_value_may_stand_in_several_places(told):
    def ask(at, item):
        newest = live(at).filter(label__item=item).order_by().values("label__item")
        return live(at).filter(label__item__in=newest).order_by("id").values_list("id", "happened_at")

    both = Prepared(ask, at=Asked.MOMENT, item=Asked.ID)
    for one in told:
        assert both(at=SEEN, item=one.pk) == list(ask(SEEN, one.pk))


def test_keys_and_texts_by_the_dozen(told):
    def ask(keys, verbs):
        return Entry.objects.filter(pk__in=keys, verb__in=verbs).order_by("id").values_list("pk", "verb")

    found = Prepared(ask, keys=Asked.UUIDS, verbs=Asked.TEXTS)
    keys = [*Entry.objects.values_list("pk", flat=True), UUID(int=7), None]
    for verbs in (["seen"], ["seen", "placed"], ["it's not one"]):
        assert found(keys=keys, verbs=verbs) == list(ask([one for one in keys if one], verbs))


def test_groups_and_distinct_rows(told):
    def newest(items):
        rows = Entry.objects.filter(label__item__in=items).order_by().values_list("label__item_id")
        return rows.annotate(newest=Max("happened_at")).order_by("label__item_id")

    def verbs(items):
        return Entry.objects.filter(label__item__in=items).order_by().values_list("verb").distinct().order_by("verb")

    items = [one.pk for one in told]
    for ask in (newest, verbs):
        assert Prepared(ask, items=Asked.IDS)(items=items) == list(ask(items))
