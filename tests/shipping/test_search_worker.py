"""The worker of a search as a process of its own, started the way pages start it."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.utils import timezone

from shipping import deck_solving, solving
from shipping.decks import PLAIN
from tests.elsewhere import Ask, shared, until
from tests.factories import make_case, make_case_type, make_leg, make_place, make_vehicle
from tests.shipping.desked import small_show
from tests.shipping.packing.freights import SIZES

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def elsewhere(tmp_path, monkeypatch, settings) -> Callable[[], Ask]:
    """Let a process find what the test has written so far; returns how to ask its book one row."""
    settings.SOLVER_PROCESSES = True
    return lambda: shared(tmp_path, monkeypatch)


ENDED = "SELECT 1 FROM shipping_planrun WHERE ended_at IS NOT NULL"


def test_a_worker_ends_with_a_proven_plan_in_the_book(elsewhere):
    run = solving.start(small_show(), solving.Question(), by="Ida Penrake", at=timezone.now(), seconds=20)
    ask = elsewhere()
    solving.spawn(run)
    until(ask, ENDED)
    assert ask("SELECT ending, words FROM shipping_planrun") == ("finished", "")
    assert ask("SELECT count(*) FROM shipping_packplan WHERE proven") == (1,)


def test_a_worker_on_a_large_deck_stops_when_asked_and_keeps_what_it_has(elsewhere):
    run = deck_solving.start(full_drive(), PLAIN, by="Ida Penrake", at=timezone.now(), seconds=120)
    ask = elsewhere()
    solving.spawn(run)
    try:
        until(ask, "SELECT 1 FROM shipping_planrun WHERE beat_at > started_at")
    finally:
        ask("UPDATE shipping_planrun SET stop_asked_by = 'Ana Rell'")
    until(ask, ENDED)
    assert ask("SELECT ending, stop_asked_by FROM shipping_planrun") == ("stopped", "Ana Rell")
    assert ask("SELECT count(*) > 0 FROM shipping_deckplan WHERE check_passed")[0] in (1, True)


def full_drive():
    """Ninety cases for three stops, on one long deck: more than a search ends with in a few seconds."""
    dice, start = random.Random(1), timezone.now() + timedelta(days=1)
    lorry = make_vehicle("Lorry", 26_000)
    held = lorry.type.container
    held.inner_length_mm, held.inner_width_mm, held.inner_height_mm = 13_600, 2450, 2600
    held.save()
    types = [_type(n, size, dice) for n, size in enumerate(SIZES * 2)]
    cases = [make_case(f"GEN-{n:02}", dice.choice(types)) for n in range(90)]
    first = make_leg(cases[::3], lorry, departs_at=start, arrives_at=start + timedelta(hours=2))
    for at in (1, 2):
        make_leg(cases[at::3], lorry, first.consignment.show, departs_at=start, to_place=make_place(f"Hall {at}"),
                 arrives_at=start + timedelta(hours=2 + at))  # fmt: skip
    return first


def _type(number: int, size: tuple[int, int, int], dice: random.Random):
    kind = make_case_type(f"type {number}", tare_kg=dice.randrange(20, 120))
    kind.length_mm, kind.width_mm, kind.height_mm = size
    kind.max_on_top_kg = dice.choice((0, 60, 100))
    kind.save()
    return kind
