"""The index of parts keeps in step with the book, whoever writes and by whatever way."""

from __future__ import annotations

import pytest
from django.core.checks import run_checks
from django.db import connection

from inventory import findable
from inventory.answers.candidates import items_meant
from inventory.folding import fold_confusable
from inventory.models import Item, ItemAlias, ItemType, Label
from tests.factories import T0, make_case, make_drive, make_item, make_type

pytestmark = pytest.mark.django_db


def meant(text: str) -> set[str]:
    return {item.serial or item.number for item in Item.objects.filter(pk__in=items_meant(text))}


def test_what_is_written_is_found_at_once():
    make_drive("71B04K"), make_case("HER-04")
    assert meant("B04") == {"71B04K"} and meant("her04") == {"HER-04"}


def test_what_is_changed_is_found_by_its_new_serial_only():
    drive = make_drive("71B04K")
    drive.serial = "93X77Y"
    drive.save()
    assert meant("93X77Y") == {"93X77Y"} and meant("B04K") == set()


def test_what_many_rows_bring_in_at_once_is_found():
    drive = make_drive("71B04K")
    for number in range(3):
        copy = Item(type=drive.type, serial=f"55C3{number}M", owner=drive.owner, added_at=T0)
        copy.refresh_keys()
        Item.objects.bulk_create([copy])
    assert meant("55C3") == {"55C30M", "55C31M", "55C32M"}


def test_a_code_is_found_once_it_is_bound_and_a_former_number_always():
    case = make_case("HER-04")
    ItemAlias.objects.create(item=case, number="CBL-01", since=T0)
    blank = Label.objects.create(code="7ACEFHJ", kind="blank", issued_at=T0)
    assert meant("CBL01") == {"HER-04"} and meant("7ACEFHJ") == set()
    blank.item = case
    blank.save()
    assert meant("ACEFH") == {"HER-04"}


def test_a_renamed_type_is_found_by_its_new_name():
    panel = make_item(make_type("Gull 8", "Drumfell"), serial="P1")  # no code holds a G, a U or an L
    assert items_meant("drumfell gull") == [panel.pk]
    panel.type.name = "Sill 9"
    panel.type.save()
    assert items_meant("gull") == [] and items_meant("drumfell sill") == [panel.pk]


def test_what_is_gone_is_not_found():
    kind = make_type("Perch 8", "Drumfell")
    panel = Item.objects.create(type=kind, serial="P77Q4", owner=make_drive("71B04K").owner, added_at=T0)
    panel.delete()
    assert items_meant("P77Q4") == []


@pytest.mark.parametrize("serial", ["71B04K", "oqdilsbz", "a-b_c d", "7I-BO 4K", "Q0O"])
def test_the_database_folds_as_the_book_does(serial):
    """Numbers and codes are folded by the database, serials before they come there: both must read alike."""
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {findable._folded('%s', connection.vendor)}", [serial])
        assert cursor.fetchone()[0] == fold_confusable(serial)


ODD = ['"', "'; DROP TABLE x", "term : x", "a OR b", "%", "(((", "NEAR(a b)", "*", "\x00\x00\x00"]


@pytest.mark.parametrize("text", ODD)
def test_what_looks_like_a_question_of_the_index_is_only_text(text):
    make_drive("71B04K")
    assert isinstance(items_meant(text), list)


def test_a_lost_index_is_made_anew_and_filled():
    make_drive("71B04K")
    with connection.cursor() as cursor:
        on = " ON inventory_item" if connection.vendor == "postgresql" else ""
        cursor.execute(f"DROP TRIGGER findable_item_new{on}")
        cursor.execute(f"DELETE FROM {findable.TABLE}")
    assert not findable.is_whole(connection) and meant("B04K") == set()
    findable.make(connection)
    assert findable.is_whole(connection) and meant("B04K") == {"71B04K"}


def test_making_it_twice_changes_nothing():
    make_drive("71B04K")
    findable.make(connection)
    assert meant("B04K") == {"71B04K"} and ItemType.objects.count() == 1


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite brings its trigrams along")
def test_a_missing_extension_is_said_and_looking_up_still_works(monkeypatch):
    make_drive("71B04K")
    monkeypatch.setattr(findable, "_has_trigrams", lambda connection: False)
    found = run_checks(tags=["database"], databases=["default"])
    assert "inventory.W001" in {message.id for message in found}
    assert meant("B04K") == {"71B04K"}


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite brings its trigrams along")
def test_before_the_first_migration_no_extension_is_missed(monkeypatch):
    monkeypatch.setattr(findable, "_has_trigrams", lambda connection: False)
    monkeypatch.setattr(findable, "is_whole", lambda connection: False)
    assert run_checks(tags=["database"], databases=["default"]) == []
