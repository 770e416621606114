"""A page of a long list is found by keys, then read whole; it holds what the list itself would."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.models import Holding, Item
from inventory.tables.paging import NarrowFirst
from inventory.tables.things import ThingTable, lines, rows
from tests.factories import T0, make_item, make_place, make_type

pytestmark = pytest.mark.django_db


@pytest.fixture
def things() -> list[Item]:
    """Seven panels and three cords, made in an order that is not that of their serials."""
    made = [make_item(serial=f"P{n}") for n in (4, 1, 7, 2, 6, 3, 5)]
    return made + [make_item(make_type("Cord"), serial=f"C{n}") for n in (2, 1, 3)]


def serials(found: list[Item]) -> list[str]:
    return [one.serial for one in found]


def panels(*order: str) -> NarrowFirst:
    return NarrowFirst(Item.objects.filter(type__name="Pane 24").order_by(*order), rows())


def test_a_page_keeps_the_order_and_the_filter_of_the_list(things):
    assert serials(panels("serial")[0:3]) == ["P1", "P2", "P3"]
    assert serials(panels("-serial")[3:6]) == ["P4", "P3", "P2"]


def test_pages_together_are_the_list_each_row_once(things):
    data = panels("serial")
    told = [one for start in range(0, 12, 2) for one in data[start : start + 2]]
    assert serials(told) == serials(list(data.data))
    assert len(told) == 7


def test_a_page_past_the_end_is_empty(things):
    assert panels("serial")[20:30] == []


def test_a_row_by_its_number_is_a_row_of_the_list(things):
    assert panels("serial")[2].serial == "P3"


def test_a_row_is_read_with_all_that_its_line_says(things):
    """Two questions for the rows and one for their labels, and no more when they are drawn."""
    Holding.objects.create(item=things[0], place=make_place(), bay="B")
    with CaptureQueriesContext(connection) as asked:
        page = panels("serial")[0:5]
        words = [(one.code, str(one.type), str(one.owner), one.home_case) for one in page]
        held = [one.holding.place.name for one in page if one.serial == "P4"]
    assert len(asked) == 3
    assert all(code for code, *_words in words)
    assert held == ["Mill Yard"]


def test_one_that_goes_between_the_two_questions_is_left_out(things):
    data = panels("serial")
    Item.objects.filter(serial="P2").update(retired_at=T0)
    data.whole = rows().filter(retired_at=None)
    assert serials(data[0:3]) == ["P1", "P3"]


def test_the_table_draws_a_page_of_it_sorted_as_asked(things):
    table = ThingTable(lines(Item.objects.all()), order_by=("-serial",))
    table.paginate(page=2, per_page=4)
    assert [row.record.serial for row in table.paginated_rows] == ["P3", "P2", "P1", "C3"]
    assert table.paginator.count == 10
