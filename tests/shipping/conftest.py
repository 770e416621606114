"""A show's cases on their leg, and a phone of its pass, for the tests of docks."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import time_machine
from django.core.cache import cache
from django.test import Client

from tests.factories import T0, make_case, make_device, make_leg, make_system, make_vehicle
from tests.shipping.docked import MINUTE
from tests.shipping.trunks import booked


@pytest.fixture
def heron(db):
    return make_system("Heron")


@pytest.fixture
def show(heron):
    return booked(heron)


@pytest.fixture
def clock() -> Iterator[time_machine.Coordinates]:
    """Ten minutes into the load, standing still until a test moves it; nobody has guessed a code yet."""
    cache.clear()
    with time_machine.travel(T0 + 10 * MINUTE, tick=False) as travelled:
        yield travelled


@pytest.fixture
def cases(db):
    return [make_case(f"HER-0{n}") for n in (1, 2, 3)]


@pytest.fixture
def leg(cases):
    return make_leg(cases, make_vehicle())


@pytest.fixture
def pim(db) -> Client:
    """A phone that joined FMC by its pass."""
    make_device("Pim Osgood")
    client = Client()
    client.cookies["device"] = "Pim Osgood"
    return client
