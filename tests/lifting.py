"""The one place where the database is let forget: between tests, and to show that a check would notice."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.db import connection
from django.test import TransactionTestCase

from inventory import triggers


@contextmanager
def lifted() -> Iterator[None]:
    """Take the append-only triggers away, and put them back."""
    standing = triggers.present(connection) & triggers.names(connection)
    with connection.cursor() as cursor:
        for name in sorted(standing):
            table = name.rsplit("_refuses_", 1)[0]
            on = f' ON "{table}"' if connection.vendor == "postgresql" else ""
            cursor.execute(f'DROP TRIGGER "{name}"{on}')
    try:
        yield
    finally:
        triggers.make(connection)


def let_tests_clean_up() -> None:
    """Tests with real transactions empty the tables afterwards; only that is let through."""
    emptying = TransactionTestCase._fixture_teardown

    def teardown(self: Any) -> None:
        with lifted():
            emptying(self)

    TransactionTestCase._fixture_teardown = teardown
