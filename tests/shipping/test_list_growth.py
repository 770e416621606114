"""Every list and board of a book that grows: as many queries as before, and of lists no more rows than a page holds."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from uuid import uuid4

import pytest
import time_machine
from django.db import connection
from django.db.backends.utils import CursorWrapper
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory import ledger, papers
from inventory.hands import Handing, hand_over
from inventory.ledger import Fact
from inventory.models import (
    ImportedSheet,
    Item,
    Person,
    Place,
    PlaceKind,
    SetAside,
    SystemPart,
    Verb,
)
from shipping.documents.forms import draft
from shipping.models import Booking
from tests.factories import (
    ANA,
    IDA,
    T0,
    make_case,
    make_device,
    make_drive,
    make_item,
    make_leg,
    make_owner,
    make_pass,
    make_place,
    make_set,
    make_show,
    make_system,
    make_type,
    make_vehicle,
)

NOW = T0 + timedelta(hours=5)
FEW, MANY, A_PAGE = 6, 12, 4

# A page of each holds A_PAGE lines, whatever stands behind it.
LISTS = "things cases drive-sets shows places people item-types papers ledger import work-list held systems"
# Where page sizes are kept.
SIZES = """
inventory.views.things.PER_PAGE inventory.views.places.PER_PAGE inventory.views.places.LINES
inventory.views.editing.PER_PAGE inventory.views.drives.PAGE inventory.views.ledger.PER_PAGE
inventory.views.ledger.MOST_UNSENT inventory.views.importing.SHEETS inventory.views.work_list.PER_PAGE
inventory.views.work_list.FIRST inventory.views.held.MOST shipping.views.shows.PAGE shipping.views.papers.PER_PAGE
shipping.views.cases.PER_PAGE shipping.views.systems.PER_PAGE
"""
BOARDS = "today crew drive-hands if-it-burns bench promise rules ledger-odd"


@pytest.fixture(autouse=True)
def clock() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def ida(kit_manager, sign_in) -> Client:
    return sign_in(kit_manager)


def grow(numbers: range, *, names: bool = True) -> None:
    """A thing, case, kind, show, paper, sheet, phone and held scan more for each number.

    With `names` also a system, set, shelf, person and firm: what a form or a filter lists to choose from.
    """
    for n in numbers:
        one = n if names else 0
        yard = make_place("Mill Yard", is_ours=True)
        shelf = make_place(f"shelf {one}", PlaceKind.SHELF, parent=yard, is_ours=True)
        system, case = make_system(f"Heron-{one}"), make_case(f"HER-{n:03}")
        kind = make_type(f"Pane {n}", is_lot=n % 2 == 0)
        thing = make_item(kind, number=f"PAN-{n:03}", home_case=case, home_system=system if names else None)
        if names:
            SystemPart.objects.create(system=system, item=thing)
        drives = _a_set(n, case) if names else [make_drive(f"71B{n:03}A")]
        ledger.record(
            [Fact(Verb.PLACED, case, place=shelf), Fact(Verb.PACKED, thing, place=case.inside)], by=IDA, at=T0
        )
        ledger.record([Fact(Verb.SEALED, case, seal=f"S{n}")], by=IDA, at=T0 + timedelta(hours=1))
        _a_show(n, case, system)
        _papers_and_people(n, one, case, drives)


def _a_set(n: int, case: Item) -> list[Item]:
    found = make_set(f"HERON-{n}", "A B")
    drives = [make_drive(f"71B{n:03}{bay}") for bay in "AB"]
    joins = [Fact(Verb.JOINED, one, drive_set=found, bay=bay) for one, bay in zip(drives, "AB", strict=True)]
    ledger.record([*joins, *(Fact(Verb.PACKED, one, place=case.inside) for one in drives)], by=IDA, at=T0)
    return drives


def _a_show(n: int, case: Item, system: object) -> None:
    show = make_show(f"S{n:03}", name=f"Show {n}")
    make_leg([case], make_vehicle(f"Van {n}"), show)
    Booking.objects.create(show=show, system=system, booked_at=T0, booked_by="Ida Penrake")


def _papers_and_people(n: int, one: int, case: Item, drives: list[Item]) -> None:
    firm = make_owner(f"Firm {one}")
    person = Person.objects.get_or_create(name=f"Pusher {one}", defaults={"role": "crew", "organisation": firm})[0]
    hand_over(drives[:1], person, Handing(due_at=T0 + timedelta(hours=2)), by=ANA, at=T0 + timedelta(hours=2))
    papers.issue(draft("case-list", case.number, "a4", T0), by="Ida Penrake", at=T0)
    for done in (None, T0):
        outcome = {"added": 1, "changed": 0, "same": 0}
        ImportedSheet.objects.create(
            name=f"gear {n}.csv", body=b"item\nPane", digest=f"{n}{done}", uploaded_at=T0, uploaded_by="Ida Penrake",
            committed_at=done, outcome=outcome if done else {},
        )  # fmt: skip
    phone = make_device(f"phone {n}", day_pass=make_pass(f"S{n:03}"), unsent=3)
    SetAside.objects.create(why="held", sentence=f"held {n}", body="{}", received_at=T0, device=phone, entry_id=uuid4())


@contextmanager
def counting_rows(monkeypatch) -> Iterator[list[int]]:
    """How many rows the database handed over."""
    rows = [0]

    def one(self: CursorWrapper) -> object:
        row = self.cursor.fetchone()
        rows[0] += row is not None
        return row

    def many(name: str) -> Callable[..., list[object]]:
        def fetch(self: CursorWrapper, *args: int) -> list[object]:
            found = getattr(self.cursor, name)(*args)
            rows[0] += len(found)
            return found

        return fetch

    def each(self: CursorWrapper) -> Iterator[object]:
        for row in self.cursor:
            rows[0] += 1
            yield row

    with monkeypatch.context() as patch:
        patch.setattr(CursorWrapper, "fetchone", one, raising=False)
        patch.setattr(CursorWrapper, "fetchmany", many("fetchmany"), raising=False)
        patch.setattr(CursorWrapper, "fetchall", many("fetchall"), raising=False)
        patch.setattr(CursorWrapper, "__iter__", each)
        yield rows


def cost(client: Client, address: str, monkeypatch) -> tuple[int, int]:
    """Queries and rows of one page, asked by somebody who has looked at it before."""
    client.get(address)
    with counting_rows(monkeypatch) as rows, CaptureQueriesContext(connection) as asked:
        answer = client.get(address)
    assert answer.status_code == 200, address
    return len(asked), rows[0]


def test_counting_counts_what_is_fetched(db, monkeypatch):
    for n in range(3):
        make_place(f"shelf {n}")
    with counting_rows(monkeypatch) as rows:
        list(Place.objects.all())
        Place.objects.filter(name="shelf 1").get()
        Place.objects.count()
    assert rows == [5]


@pytest.fixture
def addresses(db, monkeypatch) -> dict[str, str]:
    for where in SIZES.split():
        monkeypatch.setattr(where, A_PAGE)
    found = {name: reverse(name) for name in (LISTS + " " + BOARDS).split()}
    return found | {"place": reverse("place", args=[make_place("Mill Yard", is_ours=True).pk])}


def test_lists_and_boards_ask_no_more_of_a_larger_book(addresses, ida, monkeypatch):
    addresses["where"] = reverse("where") + "?q=HER"
    grow(range(FEW))
    before = {name: cost(ida, address, monkeypatch)[0] for name, address in addresses.items()}
    grow(range(FEW, MANY))
    after = {name: cost(ida, address, monkeypatch)[0] for name, address in addresses.items()}
    assert {name: (before[name], now) for name, now in after.items() if now > before[name]} == {}


def test_lists_fetch_a_page_however_many_stand_behind_it(addresses, ida, monkeypatch):
    lists = {name: addresses[name] for name in (*LISTS.split(), "place")}
    grow(range(FEW))
    before = {name: cost(ida, address, monkeypatch)[1] for name, address in lists.items()}
    grow(range(FEW, MANY), names=False)
    after = {name: cost(ida, address, monkeypatch)[1] for name, address in lists.items()}
    assert {name: (before[name], now) for name, now in after.items() if now > before[name]} == {}


@pytest.mark.parametrize("name", ["places", "people", "item-types", "systems", "import"])
def test_what_does_not_fit_a_page_stands_on_the_next(addresses, ida, name):
    grow(range(FEW))
    assert "page=2" in ida.get(addresses[name]).content.decode()
    assert "page=1" in ida.get(addresses[name] + "?page=2").content.decode()
