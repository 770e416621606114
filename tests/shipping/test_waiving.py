"""Who may set a rule aside, and how long their word stands."""

from __future__ import annotations

from dataclasses import replace

import pytest

from inventory.ledger import Witness
from inventory.models import Role
from inventory.models.appendonly import AppendOnlyError
from shipping.models import Waiver
from shipping.packing.facts import Finding, Severity, State
from shipping.waiving import Counted, WaiveRefusal, how_often, standing, waive
from tests.factories import ANA, IDA, T0

FOUND = Finding(
    "one-set-one-box", "case:3", Severity.BLOCK, State.WRONG, "A drive of CURLEW-1.", "Out.", (("drive", "9"),)
)
HEAVY = replace(FOUND, rule="within-rating", facts=(("gross", "70"),))
WES = Witness("Wes", Role.CREW)


def test_the_same_facts_stay_waived_and_changed_facts_do_not(db):
    waive(FOUND, reason="no other box", by=IDA, at=T0)
    same, changed = standing([replace(FOUND, sentence="said anew"), replace(FOUND, facts=(("drive", "10"),))])
    assert not same.blocks and same.waiver.by == "Ida Penrake"
    assert changed.blocks and changed.waiver is None


def test_a_waiver_of_one_case_or_rule_is_none_of_another(db):
    waive(FOUND, reason="no other box", by=IDA, at=T0)
    elsewhere = [replace(FOUND, subject="case:4"), replace(FOUND, rule="set-complete")]
    assert all(one.blocks for one in standing(elsewhere))


def test_crew_never_waive(db):
    with pytest.raises(WaiveRefusal, match="Only the kit manager"):
        waive(FOUND, reason="in a hurry", by=WES, at=T0, leads_show=True)


def test_a_road_lead_waives_on_their_own_show_only(db):
    with pytest.raises(WaiveRefusal, match="their own show"):
        waive(FOUND, reason="no other box", by=ANA, at=T0)
    assert waive(FOUND, reason="no other box", by=ANA, at=T0, leads_show=True).role == Role.ROAD_LEAD


def test_without_a_reason_there_is_no_waiver(db):
    with pytest.raises(WaiveRefusal, match="Say why"):
        waive(FOUND, reason="  ", by=IDA, at=T0)


@pytest.mark.parametrize("missing", [{}, {"document": "e-mail of 3 May"}, {"person": "R. Holm, carrier"}])
def test_what_nobody_can_waive_needs_a_name_and_a_document(db, missing):
    with pytest.raises(WaiveRefusal, match="Nobody can waive this rule"):
        waive(HEAVY, reason="rated higher", by=IDA, at=T0, **missing)
    assert not Waiver.objects.exists()


def test_a_recorded_decision_says_that_this_tool_did_not_approve_it(db):
    made = waive(HEAVY, reason="rated higher", by=IDA, at=T0, document="letter of 3 May", person="R. Holm, maker")
    assert made.is_decision and "decision of R. Holm, maker" in made.reason
    assert "not approved by this tool" in made.reason
    assert not standing([HEAVY])[0].blocks


def test_a_waiver_is_never_changed(db):
    made = waive(FOUND, reason="no other box", by=IDA, at=T0)
    made.reason = "something else"
    with pytest.raises(AppendOnlyError):
        made.save()


def test_the_rules_page_can_say_how_often(db):
    for subject in ("case:1", "case:2"):
        waive(replace(FOUND, subject=subject), reason="no other box", by=IDA, at=T0)
    assert how_often(["one-set-one-box", "within-rating"], since=T0) == {"one-set-one-box": Counted(2, 2)}
