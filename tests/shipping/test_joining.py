"""Guessing pass codes is slowed, whichever worker answers."""

from __future__ import annotations

from datetime import timedelta

import pytest
import time_machine
from django.core.cache import cache
from django.urls import reverse

from inventory import passes
from inventory.models import Verb, WrongCode
from tests.factories import T0


@pytest.fixture
def code(db) -> str:
    return passes.make("FJELL", verbs=[Verb.SEEN], start=T0, hours=24, by="Ida Penrake", at=T0).code


def guess(client, code: str, **where):
    cache.clear()  # another worker answers: nothing that one process remembers may matter
    return client.get(reverse("join", args=[code]), **where)


def guess_wrongly(client, times: int) -> None:
    for number in range(times):
        assert guess(client, f"AAAA-{number:04}").status_code == 404


def test_twenty_wrong_codes_from_one_address_stop_even_the_right_one_for_ten_minutes(client, code):
    with time_machine.travel(T0, tick=False) as clock:
        guess_wrongly(client, 20)
        clock.shift(timedelta(minutes=3, seconds=30))
        refused = guess(client, code)
        assert refused.status_code == 429
        assert refused["Retry-After"] == "390"
        assert "Wait 7 minutes" in refused.content.decode()
        clock.shift(timedelta(minutes=6, seconds=30))
        assert guess(client, code).status_code == 200


def test_nineteen_wrong_codes_do_not_keep_a_tired_person_out(client, code):
    with time_machine.travel(T0, tick=False):
        guess_wrongly(client, 19)
        assert guess(client, code).status_code == 200


def test_another_address_is_not_slowed(client, code):
    with time_machine.travel(T0, tick=False):
        guess_wrongly(client, 20)
        assert guess(client, code, REMOTE_ADDR="192.0.2.7").status_code == 200  # RFC 5737, for documentation


def test_old_guesses_are_not_kept(client, code):
    with time_machine.travel(T0, tick=False) as clock:
        guess_wrongly(client, 5)
        clock.shift(timedelta(minutes=11))
        guess_wrongly(client, 1)
        assert WrongCode.objects.count() == 1
