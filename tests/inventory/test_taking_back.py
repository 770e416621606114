"""What is taken back or sent again leaves every answer as it was, on the database in use."""

from __future__ import annotations

from collections import Counter
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from uuid import UUID

import pytest
from django.db import transaction
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory import ledger
from inventory.answers.book import count_of
from inventory.answers.contents import contents
from inventory.answers.loading import book_of
from inventory.answers.whereabouts import whereabouts_of
from inventory.models import Entry, Holding, Place
from tests.factories import T0
from tests.inventory.replay import Told
from tests.inventory.staging import (
    RECEIVED,
    STORED,
    Stage,
    calm,
    make_cast,
    moments,
    stored,
    world_of,
)
from tests.inventory.stories import Cast, stories


@pytest.fixture
def stage(db) -> Stage:
    return Stage(make_cast())


def everything(cast: Cast, times) -> list:
    """Whereabouts with reasons, counts and contents with bays and seals, at each of the times."""
    things = list(world_of(cast).kinds)
    rooms = list(Place.objects.filter(pk__in=[*cast.inside.values(), *cast.rooms]).order_by("pk"))
    found = []
    for at in times:
        book, _ = book_of([cast.lot], at)
        found.append((whereabouts_of(things, at), count_of(book, cast.lot), [contents(room, at) for room in rooms]))
    return found


def extra_act(data, cast: Cast) -> list[Told]:
    """One more act of several entries, and its correction by the phone that made it or by the kit manager."""
    phone = data.draw(st.sampled_from([None, *cast.phones]))
    act = UUID(int=5000)
    own = [one for one in data.draw(stories(cast, most=6)) if one.verb != "corrected"]
    more = [
        replace(one, id=UUID(int=5000 + n), act=act, device=phone, seq=phone and 900 + n, offset=None)
        for n, one in enumerate(own)
    ]
    role = "crew" if phone else "kit manager"
    undo = Told(
        UUID(int=9999), UUID(int=9999), "corrected", T0, corrects=act, role=role, device=phone, seq=phone and 999
    )
    return [*more, undo]


@contextmanager
def before_an_extra_act(stage, data):
    """A story told and an act to come: the story, the act, the times to ask at, the answers and the stored rows."""
    told, extra = data.draw(stories(stage.cast, most=14)), extra_act(data, stage.cast)
    times = moments([*told, *extra])
    with transaction.atomic():
        stage.deliver([told])
        yield told, extra, times, everything(stage.cast, times), stored()
        transaction.set_rollback(True)


def test_an_act_and_its_correction_change_no_answer(stage):
    felt = Counter()

    @settings(max_examples=STORED // 5, **calm)
    @given(st.data())
    def run(data):
        with before_an_extra_act(stage, data) as (told, extra, times, before, held):
            order = data.draw(st.permutations(extra))
            ledger.append([stage.entry(one) for one in order if one.verb != "corrected"], RECEIVED)
            felt["acts"] += everything(stage.cast, times) != before
            ledger.append([stage.entry(one) for one in order if one.verb == "corrected"], RECEIVED)
            assert everything(stage.cast, times) == before
            assert stored() == held
            assert Entry.objects.count() == len(told) + len(extra)

    run()
    assert felt["acts"] > 0, "no extra act changed anything, so taking it back shows nothing"


def test_a_correction_that_comes_first_voids_its_act_all_the_same(stage):
    @settings(max_examples=STORED // 7, **calm)
    @given(st.data())
    def run(data):
        with before_an_extra_act(stage, data) as (_told, extra, times, before, held):
            for one in reversed(extra):
                ledger.append([stage.entry(one)], RECEIVED)
            assert everything(stage.cast, times) == before
            assert stored() == held

    run()


def test_a_resend_changes_nothing(stage):
    @settings(max_examples=STORED // 5, **calm)
    @given(st.data())
    def run(data):
        told = data.draw(stories(stage.cast, most=14))
        times = moments(told)
        with transaction.atomic():
            stage.deliver([told])
            before, held = everything(stage.cast, times), list(Holding.objects.order_by("pk").values())
            again = data.draw(st.lists(st.sampled_from(told), min_size=1))
            later = RECEIVED + timedelta(days=1)
            assert ledger.append([stage.entry(one) for one in [*told, *again]], later) == set()
            assert everything(stage.cast, times) == before
            assert list(Holding.objects.order_by("pk").values()) == held
            assert Entry.objects.count() == len(told)
            transaction.set_rollback(True)

    run()
