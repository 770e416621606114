"""How many questions the main pages of the demo world ask the database: again, and with nothing kept."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import count

import pytest
import time_machine
from django.contrib.auth import get_user_model
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory import unchanged

pytestmark = pytest.mark.slow

# Page, questions while nothing changed, questions with nothing kept. They may fall; what raises one needs a reason.
MOST = (
    ("/", 9, 297),
    ("/systems/", 5, 98),
    ("/show/FMC/", 10, 209),
    ("/show/FMC/return/", 5, 54),
    ("/case/HER-02/", 13, 149),
    ("/system/heron/", 10, 111),
    ("/set/heron-2/", 22, 95),
)


@pytest.fixture
def asked(tonight, client, monkeypatch) -> Iterator[Callable[[str], int]]:
    """Asks a page as the kit manager and tells how many questions that took; reading again is not counted."""
    marks = count()
    monkeypatch.setattr(unchanged, "mark", lambda: "one")
    monkeypatch.setattr(unchanged, "read_again", lambda connection, reading, at: next(marks).to_bytes(8))
    client.force_login(get_user_model().objects.get(username="ida"))

    def ask(page: str) -> int:
        with CaptureQueriesContext(connection) as told:
            assert client.get(page).status_code == 200
        return len(told)

    unchanged.forget()
    with time_machine.travel(tonight.zero.replace(microsecond=12345), tick=False):
        yield ask
    unchanged.forget()


@pytest.mark.parametrize(("page", "again", "anew"), MOST)
def test_a_page_asks_no_more_than_it_did(asked, page, again, anew):
    asked(page)  # who asks, and what Django itself looks up once
    unchanged.forget()
    assert asked(page) <= anew
    assert asked(page) <= again
