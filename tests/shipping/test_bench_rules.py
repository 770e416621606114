"""The rules of the wipe bench: each with an example that passes, one that fails, one that asks, one not known.

They are kept by the wipe answer, the bench and the matters of drives; the dated limits are read by those.
"""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory import bench
from inventory.answers.bench_rules import BENCH_RULES
from inventory.answers.drive_matters import matters
from inventory.deciding import Refused
from inventory.ledger import Witness
from inventory.models import Role
from shipping.limits import set_limit
from tests.factories import IDA
from tests.inventory.histories import History
from tests.inventory.test_wipe_table import COPIED, RELEASED, SHOW

pytestmark = pytest.mark.django_db
METHOD = bench.Method("purge", "block erase", "tool 1.2")
GOOD, WRONG, ASKS, UNKNOWN = "good", "wrong", "not confirmed", "not known"
# For each rule and state: a story, and the answer with the word of the reason that stands for the rule.
ANSWERED = {
    "wipe-needs-release": {
        GOOD: (RELEASED, "YES", "released"),
        WRONG: (COPIED, "NO", "not released"),
        ASKS: (COPIED + "12 release FMC A Steward", "NOT KNOWN", "unsure release"),
        UNKNOWN: ("1 new A", "NOT KNOWN", "no start"),
    },
    "copies-confirmed": {
        GOOD: (RELEASED, "YES", "released"),
        WRONG: (SHOW + "10 copy FMC A tape archive\n12 release FMC A", "NO", "too few copies"),
        ASKS: (SHOW + "10 copy FMC A tape archive\n10 copy FMC A disk Mill unverified\n12 release FMC A", "NO",
               "too few copies"),
    },
    "no-hold": {
        GOOD: (RELEASED + "13 hold A\n14 lift", "YES", "released"),
        WRONG: (RELEASED + "13 hold FMC", "NO", "hold"),
    },
}  # fmt: skip
# States that a rule cannot be in, and why.
CANNOT = {
    ("copies-confirmed", UNKNOWN): "a copy nobody entered is no copy: silence is never one",
    ("no-hold", ASKS): "a hold is set or lifted by a person's act",
    ("no-hold", UNKNOWN): "a hold is recorded or there is none",
    ("second-person", ASKS): "the act itself names the person",
    ("second-person", UNKNOWN): "nobody acts on the bench without a name",
    ("unpowered-content", ASKS): "a check by somebody is an entry, and starts the clock anew",
    ("unpowered-content", UNKNOWN): "a drive whose content nobody knows is asked about by the wipe answer",
}
ELSEWHERE = {
    ("second-person", GOOD),
    ("second-person", WRONG),
    ("unpowered-content", GOOD),
    ("unpowered-content", WRONG),
}


def test_every_bench_rule_has_each_of_its_states_or_says_why_not():
    given = {(rule, state) for rule, states in ANSWERED.items() for state in states} | set(CANNOT) | ELSEWHERE
    assert given == {(rule, state) for rule in BENCH_RULES for state in (GOOD, WRONG, ASKS, UNKNOWN)}


@pytest.mark.parametrize(
    "story,answer,word",
    [example for states in ANSWERED.values() for example in states.values()],
    ids=[f"{rule} {state}" for rule, states in ANSWERED.items() for state in states],
)
def test_the_wipe_answer_keeps_the_rule(story, answer, word):
    found = History().tell(story).answer("A")
    assert found.answer == answer and word in [reason.word for reason in found.reasons]


def begin(history: History, name: str):
    by = Witness(name, Role.KIT_MANAGER)
    return bench.begin([history.drives["A"]], METHOD, by=by, at=history.now)[0].job


def test_another_than_who_entered_the_release_may_wipe_and_a_third_hand_verifies():
    history = History().tell(RELEASED)
    job = begin(history, "Tomas Quill")
    bench.verify(job, history.drives["A"], "all read back", by=Witness("Mara", Role.KIT_MANAGER), at=history.now)


def test_one_person_alone_finishes_no_wipe():
    history = History().tell(RELEASED)
    with pytest.raises(Refused, match="Somebody else must operate"):
        begin(history, "Tomas")
    job = begin(history, "Tomas Quill")
    with pytest.raises(Refused, match="A second person must verify"):
        bench.verify(job, history.drives["A"], "read", by=Witness("Tomas Quill", Role.KIT_MANAGER), at=history.now)


def told(history: History, days: int) -> list[str]:
    return [one.sentence for one in matters(history.now + timedelta(days=days))]


def limit(history: History, rule: str, name: str, value: int) -> None:
    set_limit(rule, name, Decimal(value), valid_from=history.now.date(), source="ours", by=IDA, at=history.now)


def test_the_days_without_power_are_those_of_the_limit_in_force():
    history = History().tell(SHOW)
    assert told(history, 40) == [] and len(told(history, 61)) == 1
    limit(history, "unpowered-content", "warn_days", 30)
    limit(history, "unpowered-content", "late_days", 40)
    assert told(history, 29) == []
    assert told(history, 31)[0].startswith("Power and check") and told(history, 41)[0].startswith(
        "Power the drives now"
    )


def test_more_copies_asked_for_from_a_day_on_count_for_releases_from_that_day():
    history = History().tell(RELEASED)
    assert history.answer("A").answer == "YES"
    set_limit("copies-confirmed", "copies", Decimal(3), valid_from=history.now.date() + timedelta(days=400),
              source="ours", by=IDA, at=history.now)  # fmt: skip
    assert history.answer("A").answer == "YES"
    set_limit("copies-confirmed", "copies", Decimal(3), valid_from=history.now.date() - timedelta(days=400),
              source="ours", by=IDA, at=history.now)  # fmt: skip
    found = history.answer("A")
    assert found.answer == "NO" and "2 of 3 copies" in found.sentence + " ".join(r.sentence for r in found.reasons)
