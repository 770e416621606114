"""Rows added the quick way are the rows that the slow way adds."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import UUID

import pytest
from django.db import DataError, IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from inventory import ledger
from inventory.ledger import Fact
from inventory.models import Entry, Grade, Photo, Place, Role, ScanReceipt, Verb
from inventory.models.adding import FEW
from inventory.models.appendonly import AppendOnlyError
from tests.factories import IDA, T0, make_device, make_item, make_place, make_set

pytestmark = pytest.mark.django_db
FRACTION = T0 + timedelta(microseconds=123)
BARE = {"verb": Verb.SEEN, "grade": Grade.SCAN, "by": "Ana Rell", "role": Role.ROAD_LEAD}


def entry(number: int, **more: Any) -> Entry:
    fields = {**BARE, "label": make_item(serial=f"S{number}").labels.get(), **more}
    return Entry(id=UUID(int=number), act=UUID(int=900), happened_at=FRACTION, received_at=FRACTION, **fields)


def every_kind() -> dict[str, Any]:
    """Text that could be taken for more than text, moments, numbers, links, a yes."""
    device = make_device()
    photo = Photo.objects.create(hash="a" * 64, content_type="image/jpeg", size=1, received_at=T0)
    return {
        "label": make_item(serial="X1").labels.get(), "place": make_place(), "drive_set": make_set(), "bay": "A",
        "quantity": 3, "mass_g": 1200, "note": "it's 100 % \"full\"; -- größer 日本", "value": "%s", "due_at": T0,
        "taken_at": FRACTION, "offset_ms": -2_000_000_000, "stated": True, "device": device, "device_seq": 2**40,
        "day_pass": device.day_pass, "photo": photo,
    }  # fmt: skip


def as_stored(row: Entry) -> tuple[Any, ...]:
    """The row as the database holds it, nothing turned back into Python's own; its key left out."""
    columns = ", ".join(f'+"{one.column}"' if connection.vendor == "sqlite" else f'"{one.column}"::text'
                        for one in Entry._meta.concrete_fields if not one.primary_key)  # fmt: skip
    with connection.cursor() as cursor:
        key = Entry._meta.pk.get_db_prep_save(row.pk, connection)
        cursor.execute(f"SELECT {columns} FROM inventory_entry WHERE id = %s", [key])
        found: tuple[Any, ...] = cursor.fetchone()
    return found


@pytest.mark.parametrize("many", (1, FEW + 1), ids=("alone", "among many"))
@pytest.mark.parametrize("fields", (dict, every_kind), ids=("bare", "every kind of value"))
def test_what_is_appended_is_stored_as_by_bulk_create(fields, many):
    given = fields()
    quick, slow = entry(1, **given), entry(2, **given)
    slow.label = quick.label
    Entry.objects.append([quick, *(entry(100 + number) for number in range(many - 1))])
    Entry.objects.bulk_create([slow])
    assert as_stored(quick) == as_stored(slow)
    assert Entry.objects.get(pk=quick.pk).happened_at == FRACTION and Entry.objects.count() == many + 1


def test_many_are_one_act_and_none_is_no_question_at_all():
    rows = [entry(number) for number in range(1, 6)]
    with CaptureQueriesContext(connection) as asked:
        Entry.objects.append(rows)
        Entry.objects.append([])
    assert len(asked) == 1
    assert list(Entry.objects.order_by("pk").values_list("pk", flat=True)) == [row.pk for row in rows]


@pytest.mark.parametrize("many", (1, FEW + 1))
def test_a_key_that_is_there_is_refused_and_the_first_row_stands(many):
    Entry.objects.append([entry(1, note="first")])
    with pytest.raises(IntegrityError), transaction.atomic():
        Entry.objects.append([*(entry(2 + number) for number in range(many)), entry(1, note="second")])
    assert Entry.objects.get().note == "first"


def test_what_the_database_will_not_have_is_told_alike_of_one_and_of_many():
    for many in (1, FEW + 1):
        with pytest.raises(IntegrityError), transaction.atomic():
            Entry.objects.append([entry(number, verb=Verb.PLACED) for number in range(1, many + 1)])
        with pytest.raises(DataError if connection.vendor == "postgresql" else IntegrityError), transaction.atomic():
            Entry.objects.append([entry(number, quantity=2**40, mass_g=-1) for number in range(1, many + 1)])


def test_what_was_appended_can_no_more_be_changed_than_any_row():
    row = entry(1)
    Entry.objects.append([row])
    for act in (row.save, row.delete):
        with pytest.raises(AppendOnlyError):
            act()


def test_each_table_is_put_into_its_own():
    device = make_device()
    receipt = ScanReceipt(scan=UUID(int=1), word="stored", says="good", sentence="In.", digest="d", device=device,
                          received_at=T0)  # fmt: skip
    Entry.objects.append([entry(1)])
    ScanReceipt.objects.append([receipt])
    assert ScanReceipt.objects.get().sentence == "In."
    assert Entry.objects.get().pk == UUID(int=1)


def test_an_entry_never_names_what_is_not_in_the_book():
    with pytest.raises(ValueError, match="not in the book yet"):
        ledger.record([Fact(Verb.PLACED, make_item(), place=Place(name="Nowhere"))], by=IDA, at=T0)
    assert not Entry.objects.exists()
