"""Answers are given again while nothing changed, and never after something did."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import count

import pytest
from django.db import connection as own
from django.db import transaction
from django.db.utils import ConnectionHandler

from inventory import unchanged
from inventory.unchanged import kept, mark, until
from tests.factories import make_show

NOON = datetime(2026, 3, 4, 12, tzinfo=UTC)


@pytest.fixture(autouse=True)
def nothing_kept():
    unchanged.forget()
    yield
    unchanged.forget()


@pytest.fixture
def two(tmp_path, monkeypatch, transactional_db):
    """Two connections to one database with a table t, the first of them the one that is asked for marks."""
    config = dict(own.settings_dict)
    if own.vendor == "sqlite":
        config["NAME"] = tmp_path / "book.sqlite3"
    first, second = (ConnectionHandler({"default": config})["default"] for _ in range(2))
    monkeypatch.setattr(unchanged, "connection", first)
    _say(second, "CREATE TABLE t (n integer)")
    yield first, second
    _say(second, "DROP TABLE t")
    first.close()
    second.close()


def _say(connection, words: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(words)


@pytest.mark.parametrize("who", (0, 1))
@pytest.mark.parametrize(
    "write", ("INSERT INTO t VALUES (2)", "UPDATE t SET n = 3", "DELETE FROM t", "ALTER TABLE t ADD COLUMN more text")
)
def test_every_commit_changes_the_mark_whoever_wrote(two, who, write):
    _say(two[1], "INSERT INTO t VALUES (1)")
    before = mark()
    _say(two[who], write)
    assert mark() != before


def test_reading_leaves_the_mark(two):
    before = mark()
    _say(two[0], "SELECT * FROM t")
    _say(two[1], "SELECT * FROM t")
    assert mark() == before
    assert before is not None


def test_what_a_mark_stood_for_never_comes_back(two):
    marks = []
    for _ in range(3):
        _say(two[1], "INSERT INTO t VALUES (1)")
        _say(two[1], "DELETE FROM t")
        marks.append(mark())
    assert len(set(marks)) == 3


def test_inside_a_transaction_there_is_no_mark(db):
    with transaction.atomic():
        assert mark() is None


@pytest.fixture
def marks(monkeypatch):
    """The mark that stands, for a test to set."""
    standing = ["first"]
    monkeypatch.setattr(unchanged, "mark", lambda: standing[0])
    return standing


def test_an_answer_is_given_again_while_nothing_changed(db, marks):
    made = count()
    assert [kept("a", NOON, lambda: next(made)) for _ in range(3)] == [0, 0, 0]
    assert kept("b", NOON, lambda: next(made)) == 1


def test_an_answer_is_made_anew_after_a_change(db, marks):
    made = count()
    assert kept("a", NOON, lambda: next(made)) == 0
    marks[0] = "second"
    assert kept("a", NOON, lambda: next(made)) == 1


def test_an_answer_made_while_somebody_wrote_is_not_kept(db, marks):
    made = count()

    def slowly() -> int:
        marks[0] = "second"
        return next(made)

    assert kept("a", NOON, slowly) == 0
    marks[0] = "first"
    assert kept("a", NOON, lambda: next(made)) == 1


def test_an_answer_is_made_anew_once_a_named_moment_has_come(db, marks):
    make_show(leaves_at=NOON + timedelta(hours=2))
    made = count()
    assert kept("a", NOON, lambda: next(made)) == 0
    assert kept("a", NOON + timedelta(minutes=119), lambda: next(made)) == 0
    assert kept("a", NOON + timedelta(hours=2), lambda: next(made)) == 1


def test_an_answer_of_the_past_is_not_given_for_the_present(db, marks):
    made = count()
    assert kept("a", NOON, lambda: next(made)) == 0
    assert kept("a", NOON - timedelta(days=2), lambda: next(made)) == 1
    assert kept("a", NOON, lambda: next(made)) == 0


def test_midnight_is_a_named_moment(db):
    assert until(datetime(2026, 7, 4, 22, tzinfo=UTC)) == datetime(2026, 7, 4, 23, tzinfo=UTC)  # in London
    assert until(NOON) == datetime(2026, 3, 5, tzinfo=UTC)


def test_where_no_mark_can_be_had_every_answer_is_made(db, monkeypatch):
    monkeypatch.setattr(unchanged, "mark", lambda: None)
    made = count()
    assert [kept("a", NOON, lambda: next(made)) for _ in range(3)] == [0, 1, 2]
