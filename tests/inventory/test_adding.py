"""Many rows added at once are the rows that bulk_create adds, under the keys that come next."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, connection, transaction

from inventory.models import Item, Label
from inventory.models.adding import FEW, add_all
from tests.factories import T0, make_item, make_owner, make_set, make_system, make_type

pytestmark = pytest.mark.django_db
EVERYTHING = {
    "name": "it's 100 % \"full\" -- größer 日本", "quantity": 3, "cost_per_day": Decimal("12.5"),
    "warranty_until": date(2027, 3, 1), "inspection_due": date(2026, 2, 28),
    "off_hire_at": T0 + timedelta(microseconds=5), "note": "%s\t\\N\n",
}  # fmt: skip


def items(first: int, **more: object) -> list[Item]:
    """More than a few, each with a serial of its own."""
    made = [
        Item(type=make_type(), owner=make_owner(), serial=f"S{first + nth}", added_at=T0, **more)
        for nth in range(FEW + 2)
    ]
    for item in made:
        item.refresh_keys()
    return made


def stored(item: Item) -> tuple[object, ...]:
    """The row as the database holds it, less what sets each thing apart."""
    apart = {"id", "serial", "serial_key", "serial_skeleton", "identity"}
    columns = [f'"{one.column}"' for one in Item._meta.concrete_fields if one.column not in apart]
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {', '.join(columns)} FROM inventory_item WHERE id = %s", [item.pk])
        found: tuple[object, ...] = cursor.fetchone()
    return found


@pytest.mark.parametrize("said", ({}, EVERYTHING), ids=("bare", "everything"))
def test_they_are_stored_as_by_bulk_create(said):
    said = said and {**said, "home_system": make_system(), "home_set": make_set(), "home_case": make_item()}
    quick, slow = items(0, **said), items(100, **said)
    add_all(quick), Item.objects.bulk_create(slow)
    assert len({stored(item) for item in [*quick, *slow]}) == 1
    again = Item.objects.get(serial="S3")
    assert again == quick[3] and not quick[3]._state.adding and again.cost_per_day == (said or {}).get("cost_per_day")


def test_keys_go_on_from_the_last_whoever_adds():
    first = make_item(serial="A1").pk
    many = add_all(items(0))
    after = make_item(serial="A2").pk
    assert [item.pk for item in many] == list(range(first + 1, first + 1 + len(many))) and after == many[-1].pk + 1


def test_few_and_none_are_added_alike():
    assert add_all([]) == []
    few = items(0)[:2]
    assert add_all(few) == few and all(item.pk for item in few) and Item.objects.count() == 2


def test_all_are_in_or_none():
    make_item(serial="S4")
    with pytest.raises(IntegrityError), transaction.atomic():
        add_all(items(0))
    assert Item.objects.count() == 1 and Label.objects.count() == 1
