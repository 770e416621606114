"""SQLite knows how full its tables are once a book of some size is served, or a long sheet went in."""

from __future__ import annotations

import io

import pytest
from django.core.management import call_command
from django.db import connection

from config.sqlite import statistics
from tests.factories import make_item
from tests.inventory.sheets import csv_bytes

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL counts by itself"),
]


@pytest.fixture(autouse=True)
def small(monkeypatch):
    """Three rows are many here."""
    monkeypatch.setattr(statistics, "MANY", 3)


def counted(table: str = "inventory_item") -> int:
    return statistics._counted(connection).get(table, 0)


def refresh() -> str:
    out = io.StringIO()
    call_command("refresh_statistics", stdout=out)
    return out.getvalue()


def test_a_book_that_was_never_counted_is(ours):
    for _ in range(3):
        make_item()
    assert counted() == 0
    assert "were counted" in refresh()
    assert counted() == 3
    with connection.cursor() as cursor:
        indexes = cursor.execute("SELECT COUNT(*) FROM sqlite_stat1 WHERE tbl = 'inventory_item'").fetchone()[0]
    assert indexes > 5


def test_it_is_counted_again_once_it_has_doubled(ours):
    for _ in range(4):
        make_item()
    refresh()
    for _ in range(4):
        make_item()
    assert "nothing to count" in refresh()
    assert counted() == 4
    make_item()
    assert "were counted" in refresh()
    assert counted() == 9


def test_a_book_of_few_rows_is_left_alone(monkeypatch, ours):
    monkeypatch.setattr(statistics, "MANY", 1000)
    make_item()
    assert not statistics.refresh(connection)


def test_a_sheet_that_fills_the_book_has_it_counted(tmp_path, ours):
    sheet = tmp_path / "gear.csv"
    sheet.write_bytes(csv_bytes([["item", "serial"], *(["Pane 24", f"K{n}"] for n in range(5))]))
    answers = ["--answer", "rest=none"]
    call_command("import_sheet", str(sheet), *answers, "--commit", stdout=io.StringIO())
    assert counted() == 5
