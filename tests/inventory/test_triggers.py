"""What happened stays: the model, the query set and the database itself refuse."""

from __future__ import annotations

import pytest
from django.core.checks import run_checks
from django.db import DatabaseError, connection, transaction

from inventory import ledger, triggers
from inventory.ledger import Fact
from inventory.models import Entry, Verb
from inventory.models.appendonly import AppendOnly, AppendOnlyError
from tests.factories import IDA, T0, make_item, make_place
from tests.lifting import lifted

pytestmark = pytest.mark.django_db


@pytest.fixture
def entry():
    return ledger.record([Fact(Verb.PLACED, make_item(), place=make_place())], by=IDA, at=T0)[0]


def refused(sql, *values):
    with pytest.raises(DatabaseError, match="only ever added to"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql, values)


def test_model_and_queryset_refuse(entry):
    for act in (
        entry.save,
        entry.delete,
        Entry.objects.all().delete,
        lambda: Entry.objects.update(note="x"),
        lambda: Entry.objects.bulk_update([entry], ["note"]),
    ):
        with pytest.raises(AppendOnlyError):
            act()


def test_the_database_refuses_to_change_or_delete(entry):
    refused("UPDATE inventory_entry SET note = 'x'")
    refused("DELETE FROM inventory_entry")
    assert Entry.objects.get().note == ""


@pytest.mark.skipif(connection.vendor != "sqlite", reason="INSERT OR REPLACE is SQLite's")
def test_replacing_is_refused_too(entry):
    columns = ", ".join(field.column for field in Entry._meta.fields)
    refused(f"INSERT OR REPLACE INTO inventory_entry ({columns}) SELECT {columns} FROM inventory_entry")


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite has no truncate")
def test_truncating_is_refused_even_for_a_replica(entry):
    with connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
    refused("TRUNCATE inventory_entry CASCADE")
    refused("SET LOCAL session_replication_role = replica; DELETE FROM inventory_entry")


def test_every_append_only_table_has_its_triggers():
    tables = {model._meta.db_table for model in AppendOnly.tables()}
    assert {"inventory_entry", "inventory_wipe", "shipping_waiver"} <= tables
    guarded = {name.rsplit("_refuses_", 1)[0] for name in triggers.present(connection) if "_refuses_" in name}
    assert guarded == tables


def test_the_check_is_quiet_when_all_stand_and_names_what_is_missing():
    def found():
        return [message.id for message in run_checks(tags=["database"], databases=["default"])]

    assert found() == []
    with lifted():
        assert found() == ["inventory.E001"]
    assert found() == []


@pytest.mark.skipif(connection.vendor != "sqlite", reason="SQLite's own setting")
def test_the_check_notices_when_sqlite_skips_nested_triggers():
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA recursive_triggers = OFF")
        try:
            assert [m.id for m in run_checks(tags=["database"], databases=["default"])] == ["inventory.E002"]
        finally:
            cursor.execute("PRAGMA recursive_triggers = ON")
