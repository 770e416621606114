"""What Today tells by the hour, though its rows are kept over the hours."""

from __future__ import annotations

from datetime import timedelta

import pytest

from inventory import unchanged
from inventory.ledger import Fact, record
from inventory.models import Grade, Item, Role, Verb
from shipping.today import needs
from tests.factories import IDA, T0, make_item, make_owner, make_place

pytestmark = pytest.mark.django_db
AT = T0 + timedelta(microseconds=4711)
HOUR = timedelta(hours=1)


@pytest.fixture(autouse=True)
def marks(monkeypatch):
    """The mark that stands, for a test to set: the book is kept over the hours."""
    standing = ["first"]
    monkeypatch.setattr(unchanged, "mark", lambda: standing[0])
    unchanged.forget()
    yield standing
    unchanged.forget()


def told(at) -> list[tuple[str, str]]:
    return [
        (one.sentence, one.meaning) for one in needs(Role.KIT_MANAGER, at) if one.sentence.startswith(("Ask", "Send"))
    ]


def leave(item: Item, due) -> None:
    fact = Fact(Verb.LEFT, item, place=make_place("Harbour Hall", "venue"), grade=Grade.SCAN, due_at=due)
    record([fact], by=IDA, at=T0 - HOUR)


def test_a_promise_is_chased_from_two_days_before_to_the_hour_and_late_from_its_hour_on():
    item = make_item(name="Beacon")
    leave(item, AT + timedelta(days=2, hours=3))
    leave(make_item(name="Buoy"), AT + 2 * HOUR)
    asked = [told(AT + hours * HOUR) for hours in (0, 2, 2.5, 3)]
    assert [[(words.split(" for ")[1].split(":")[0], meaning) for words, meaning in one] for one in asked] == [
        [("Buoy", "doubtful")], [("Buoy", "doubtful")], [("Buoy", "stop")], [("Buoy", "stop"), ("Beacon", "doubtful")],
    ]  # fmt: skip


def test_a_promise_made_since_is_chased(marks):
    assert told(AT) == []
    leave(make_item(name="Beacon"), AT + 2 * HOUR)
    marks[0] = "second"
    assert len(told(AT + HOUR)) == 1


def test_a_hire_ends_and_has_ended_by_the_hour():
    hired = make_owner("Gullwing Hire")
    for number, ends in enumerate((AT + 2 * HOUR, AT + timedelta(days=3, hours=1))):
        make_item(name=f"Lamp {number}", owner=hired, off_hire_at=ends)
    asked = [told(AT + hours * HOUR) for hours in (0, 1, 3)]
    assert [[meaning for _words, meaning in one] for one in asked] == [
        ["doubtful"], ["doubtful", "doubtful"], ["stop", "doubtful"],
    ]  # fmt: skip
    assert "Send Lamp 0 back to Gullwing Hire: the hire ended" in asked[2][0][0]
