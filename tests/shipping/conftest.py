"""A show's cases on their leg, and a phone of its pass, for the tests of docks."""

from __future__ import annotations

import pytest
from django.test import Client

from tests.factories import make_case, make_device, make_leg, make_vehicle


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
