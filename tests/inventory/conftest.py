"""Histories with a clock that stands one hour after their last line; a phone, a case and a vehicle to scan."""

from __future__ import annotations

from datetime import timedelta

import pytest
import time_machine

from inventory.models import Item
from tests.factories import make_case, make_case_type, make_device, make_item
from tests.inventory.histories import History


@pytest.fixture
def told():
    """told(story): the history, with the clock one hour after its last line."""
    with time_machine.travel(0, tick=False) as clock:

        def tell(story: str) -> History:
            history = History().tell(story)
            clock.move_to(history.now + timedelta(hours=1))
            history.clock = clock
            return history

        yield tell


@pytest.fixture
def phone(db):
    return make_device()


@pytest.fixture
def case(db) -> Item:
    return make_case()


@pytest.fixture
def teasel(db) -> Item:
    return make_item(make_case_type("7.5 t box", kind="vehicle"), name="Teasel")
