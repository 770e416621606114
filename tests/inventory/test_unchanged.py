"""Answers are given again while nothing changed, and never after something did."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import count

import pytest
from django.db import connection as own
from django.db import transaction
from django.db.utils import ConnectionHandler

from inventory import unchanged
from inventory.rereading import unnoted
from inventory.unchanged import kept, mark, part, until
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
    """On PostgreSQL a mark changes with what others do in other databases too: that may spoil a try, but not every."""
    assert any(_left_by_reading(two) for _ in range(200))


def _left_by_reading(two) -> bool:
    before = mark()
    _say(two[0], "SELECT * FROM t")
    _say(two[1], "SELECT * FROM t")
    return before is not None and mark() == before


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


@pytest.fixture
def book(two, monkeypatch):
    """A connection to make answers by, and what somebody else writes with another. That alone changes the mark."""
    first, second = two
    written = ["once"]

    def write(words: str) -> None:
        written.append(words)
        _say(second, words)

    monkeypatch.setattr(unchanged, "until", lambda at: at + timedelta(hours=1))
    monkeypatch.setattr(unchanged, "mark", lambda: len(written))
    _say(second, "CREATE TABLE other (n integer)")
    yield first, write
    _say(second, "DROP TABLE other")


def _ask(connection, sql: str, params=None) -> list[tuple]:
    with connection.cursor() as cursor:
        cursor.execute(sql, params)
        return cursor.fetchall()


class Counted:
    """Makes an answer by one query, and counts how often."""

    def __init__(self, connection, sql: str, at: datetime | None = None) -> None:
        self.connection, self.sql, self.at, self.made = connection, sql, at, 0

    def __call__(self) -> list[tuple]:
        self.made += 1
        at = self.at and self.connection.ops.adapt_datetimefield_value(self.at)
        return _ask(self.connection, self.sql, [at] if at else None)


LATER = NOON + timedelta(microseconds=17)


def test_an_answer_is_read_once_to_be_made_and_kept(book, monkeypatch):
    connection, write = book
    write("INSERT INTO t VALUES (1)")
    monkeypatch.setattr(unchanged, "read_again", lambda *asked: pytest.fail("read twice"))
    make = Counted(connection, "SELECT n FROM t")
    assert [kept("a", LATER, make) for _ in range(2)] == [[(1,)], [(1,)]]
    assert make.made == 1


def test_every_kind_of_value_reads_again_as_it_read_first(book):
    connection, write = book
    write(
        "CREATE TABLE said (at timestamp, day date, yes bool, mass decimal(9, 3), share double precision, words text)"
    )
    write("INSERT INTO said VALUES ('2026-03-04 12:00:01.000002', '2026-03-04', '1', 12.5, 0.1, 'Ärmel')")
    write("INSERT INTO said VALUES (NULL, NULL, NULL, NULL, NULL, NULL)")
    make = Counted(connection, "SELECT * FROM said ORDER BY words")
    try:
        first = kept("a", LATER, make)
        write("INSERT INTO other VALUES (1)")
        assert kept("a", LATER, make) is first
        write("UPDATE said SET share = 0.10000000000000002")
        assert kept("a", LATER, make) is not first
    finally:
        write("DROP TABLE said")


def test_a_cursor_whose_rows_were_all_fetched_gives_them_in_any_portions(book):
    connection, write = book
    write("INSERT INTO t VALUES (1), (2), (3), (4), (5)")

    def by_portions() -> list:
        with connection.cursor() as cursor:
            cursor.execute("SELECT n FROM t ORDER BY n")
            told = [cursor.fetchone(), cursor.fetchmany(2), list(cursor), cursor.fetchone(), cursor.fetchmany(2)]
            cursor.execute("SELECT n FROM t WHERE n > 4")
            told.append(cursor.fetchall())
            with unnoted():
                cursor.execute("SELECT n FROM t WHERE n > 3 ORDER BY n")
                return [*told, cursor.fetchall()]

    told = kept("a", LATER, by_portions)
    assert told == by_portions() == [(1,), [(2,), (3,)], [(4,), (5,)], None, [], [(5,)], [(4,), (5,)]]


def test_an_answer_outlives_a_write_of_what_it_never_read(book):
    connection, write = book
    make = Counted(connection, "SELECT n FROM t ORDER BY n")
    write("INSERT INTO t VALUES (1)")
    assert kept("a", LATER, make) == [(1,)]
    for _ in range(3):
        write("INSERT INTO other VALUES (1)")
        assert kept("a", LATER, make) == [(1,)]
    assert make.made == 1


@pytest.mark.parametrize("words", ("INSERT INTO t VALUES (2)", "UPDATE t SET n = 3", "DELETE FROM t"))
def test_an_answer_falls_with_anything_it_read(book, words):
    connection, write = book
    make = Counted(connection, "SELECT n FROM t ORDER BY n")
    write("INSERT INTO t VALUES (1)")
    kept("a", LATER, make)
    write(words)
    assert kept("a", LATER, make) == _ask(connection, make.sql)
    assert make.made == 2


def test_an_answer_is_read_again_for_the_moment_now_asked_about(book):
    """What happened since the answer was made is in it, though its query named the moment of then."""
    connection, write = book
    write("CREATE TABLE said (n integer, happened_at timestamp)")
    sql = "SELECT n FROM said WHERE happened_at <= %s ORDER BY n"
    assert kept("a", LATER, Counted(connection, sql, LATER)) == []
    write("INSERT INTO said VALUES (5, '2026-03-04 12:00:01.000002')")
    now = LATER + timedelta(minutes=1)
    try:
        assert kept("a", now, Counted(connection, sql, now)) == [(5,)]
    finally:
        write("DROP TABLE said")


def test_an_answer_made_of_another_falls_with_what_that_one_read(book):
    connection, write = book
    inner, outer = Counted(connection, "SELECT n FROM t"), Counted(connection, "SELECT n FROM other")
    both = lambda: (outer(), kept("inner", LATER, inner))  # noqa: E731
    kept("inner", LATER, inner)
    kept("outer", LATER, both)
    write("INSERT INTO t VALUES (8)")
    assert kept("outer", LATER, both) == ([], [(8,)])


@pytest.mark.parametrize("step", (timedelta(days=1), -timedelta(minutes=5)))
def test_what_was_reckoned_from_the_moment_is_never_read_again(book, step):
    connection, write = book
    make = Counted(connection, "SELECT %s FROM t", LATER + step)
    kept("a", LATER, make)
    write("INSERT INTO other VALUES (1)")
    kept("a", LATER, make)
    assert make.made == 2


def test_an_answer_outlives_no_moment_that_the_book_names(book):
    connection, write = book
    make = Counted(connection, "SELECT n FROM t")
    kept("a", LATER, make)
    write("INSERT INTO other VALUES (1)")
    kept("a", LATER + timedelta(hours=1), make)
    assert make.made == 2


def test_an_answer_that_wrote_is_never_kept_for_long(book):
    connection, write = book
    made = count()

    def writing() -> int:
        _say(connection, "UPDATE t SET n = n")
        return next(made)

    assert kept("a", LATER, writing) == 0
    write("INSERT INTO other VALUES (1)")
    assert kept("a", LATER, writing) == 1


def _largest_of(connection, made: list[datetime], sql: str = "SELECT n FROM t"):
    """Makes a part: the largest number in t. It reads them all."""

    def make(at: datetime) -> int:
        made.append(at)
        return max((n for (n,) in _ask(connection, sql)), default=0)

    return make


def test_an_answer_holds_while_its_part_comes_out_equal_and_falls_when_it_does_not(book):
    connection, write = book
    parts, outer = [], Counted(connection, "SELECT n FROM other")
    largest = _largest_of(connection, parts)
    whole = lambda at: kept("outer", at, lambda: (outer(), part("largest", at, largest)))  # noqa: E731
    write("INSERT INTO t VALUES (5)")
    assert whole(LATER) == ([], 5)
    now = LATER + timedelta(minutes=1)
    write("INSERT INTO t VALUES (3)")
    assert whole(now) == ([], 5)
    assert (outer.made, parts) == (1, [LATER, now])
    write("INSERT INTO t VALUES (8)")
    assert whole(now) == ([], 8)
    assert (outer.made, len(parts)) == (2, 3)


def test_a_part_is_not_made_again_while_all_it_read_reads_the_same(book):
    connection, write = book
    parts = []
    whole = lambda: kept("outer", LATER, lambda: part("largest", LATER, _largest_of(connection, parts)))  # noqa: E731
    write("INSERT INTO t VALUES (5)")
    whole()
    write("INSERT INTO other VALUES (1)")
    assert whole() == 5
    assert len(parts) == 1


def test_an_answer_made_of_an_answer_falls_with_the_parts_of_that_one(book):
    connection, write = book
    largest = _largest_of(connection, [])
    inner = lambda: kept("inner", LATER, lambda: part("largest", LATER, largest))  # noqa: E731
    inner()
    assert kept("outer", LATER, inner) == 0
    write("INSERT INTO t VALUES (8)")
    assert kept("outer", LATER, inner) == 8


def test_a_part_asked_of_another_falls_with_what_that_one_read(book):
    connection, write = book
    largest = _largest_of(connection, [])
    twice = lambda: kept("outer", LATER, lambda: part("twice", LATER, lambda at: 2 * part("once", at, largest)))  # noqa: E731
    write("INSERT INTO t VALUES (5)")
    assert twice() == 10
    write("INSERT INTO t VALUES (8)")
    assert twice() == 16


def test_a_part_that_cannot_be_read_again_is_made_again_and_the_answer_holds(book):
    connection, write = book
    parts = []
    step = connection.ops.adapt_datetimefield_value(LATER + timedelta(days=1))

    def reckoned(at: datetime) -> int:
        parts.append(at)
        return len(_ask(connection, "SELECT %s FROM t", [step]))

    outer = Counted(connection, "SELECT n FROM t")
    whole = lambda: kept("outer", LATER, lambda: (outer(), part("reckoned", LATER, reckoned)))  # noqa: E731
    for _ in range(3):
        assert whole() == ([], 0)
        write("INSERT INTO other VALUES (1)")
    assert (outer.made, len(parts)) == (1, 3)
