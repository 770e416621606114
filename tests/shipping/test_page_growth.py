"""Pages ask as many queries of a large book as of a small one."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory import ledger
from inventory.ledger import Fact
from inventory.models import SystemPart, Verb
from tests.factories import ANA, T0, make_item, make_system, make_type
from tests.shipping.packed import make_heron, put


@pytest.fixture
def ida(kit_manager, sign_in):
    """A client of the kit manager's that has looked around once."""
    client = sign_in(kit_manager)
    client.get(reverse("today"))
    return client


def queries(client, address: str) -> int:
    with CaptureQueriesContext(connection) as asked:
        assert client.get(address).status_code == 200
    return len(asked)


def sealed_herons(*numbers: int) -> None:
    for n in numbers:
        box = make_heron(f"HER-{n:02}", name=f"HERON-{n}", at=T0).box
        ledger.record([Fact(Verb.SEALED, box, seal=f"S{n}")], by=ANA, at=T0 + timedelta(hours=1))


def test_today_costs_the_same_for_many_sealed_cases_and_sets_as_for_two(db, ida):
    sealed_herons(1, 2)
    few = queries(ida, reverse("today"))
    sealed_herons(3, 4, 5, 6)
    assert queries(ida, reverse("today")) == few


def test_a_case_costs_the_same_for_many_things_as_for_one(db, ida):
    box = make_heron("HER-01", at=T0).box
    kind = make_type("cord")
    address = reverse("case", args=["HER-01"])

    def put_in(*serials: str) -> None:
        put(box, *(make_item(kind, serial=serial, home_case=box) for serial in serials), at=T0)

    put_in("C1")
    few = queries(ida, address)
    put_in("C2", "C3", "C4", "C5", "C6")
    assert queries(ida, address) == few


def test_a_system_costs_the_same_for_many_parts_as_for_one(db, ida):
    wren = make_system("Wren", slug="wren")

    def part(*names: str) -> None:
        for name in names:
            SystemPart.objects.create(system=wren, item=make_item(name=name, home_system=wren))

    part("first")
    few = queries(ida, reverse("system", args=["wren"]))
    part("second", "third", "fourth", "fifth")
    assert queries(ida, reverse("system", args=["wren"])) == few
