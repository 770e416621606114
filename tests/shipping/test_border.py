"""A border list names each thing, is checked before it is issued, and never changes after."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.models import Kind
from shipping import border
from shipping.border import BorderRefusal
from shipping.planning import blocks_for_leg, findings_for_border
from shipping.waiving import waive
from tests.factories import IDA, T0, make_drive, make_item, make_owner, make_type
from tests.shipping.packed import make_heron, make_leg, make_show, put

LATER = T0 + timedelta(hours=1)


@pytest.fixture
def drafted(db):
    heron = make_heron()
    kind = heron.drives[0].type
    kind.replacement_value, kind.currency, kind.country_of_origin = Decimal(400), "GBP", "GB"
    kind.save()
    leg = make_leg(make_show(), [heron.box], crosses_border=True)
    return border.draft(leg.consignment.show, "GL-2207"), leg, heron


def wrong(listed):
    return {one.rule for one in findings_for_border(listed, LATER) if one.state == "wrong"}


def test_each_thing_is_one_line_with_its_serial_mass_and_value(drafted):
    listed, _, heron = drafted
    lines = list(listed.lines.all())
    assert [line.serial for line in lines] == [drive.serial for drive in heron.drives]
    assert [line.line for line in lines] == [1, 2, 3]
    assert lines[0].mass_kg == Decimal("0.7") and lines[0].value == 400 and lines[0].case == heron.box


def test_a_clean_list_is_issued_and_then_stands(drafted):
    listed, leg, _ = drafted
    border.issue(listed, by=IDA, at=LATER)
    for act in (
        lambda: border.mend(listed.lines.first(), serial="X"), lambda: border.leave_out(listed.lines.first()),
        lambda: border.issue(listed, by=IDA, at=LATER),
    ):  # fmt: skip
        with pytest.raises(BorderRefusal, match="nothing is added to it or changed"):
            act()
    assert not [one for one in blocks_for_leg(leg, LATER, as_loaded=False) if one.rule == "listed-at-the-border"]


@pytest.mark.parametrize(
    "change,rule",
    [
        ({"serial": "HER-03A17K"}, "serials-on-the-list"),
        ({"serial": ""}, "serials-on-the-list"),
        ({"description": "assorted adapters"}, "lines-concrete"),
        ({"origin": "UK"}, "lines-concrete"),
        ({"value": Decimal(0)}, "lines-concrete"),
    ],
)
def test_a_wrong_line_keeps_the_list_from_being_issued(drafted, change, rule):
    listed, _, _ = drafted
    border.mend(listed.lines.first(), **change)
    with pytest.raises(BorderRefusal, match="One thing stands in the way of issuing it") as refused:
        border.issue(listed, by=IDA, at=LATER)
    assert [one.rule for one in refused.value.findings] == [rule]
    listed.refresh_from_db()
    assert listed.issued_at is None


def test_only_a_recorded_decision_lets_a_wrong_line_through(drafted):
    listed, _, _ = drafted
    border.mend(listed.lines.first(), description="assorted adapters")
    found = next(one for one in findings_for_border(listed, LATER) if one.blocks)
    waive(found, reason="the office asked for it", by=IDA, at=LATER, person="R. Holm, agent", document="e-mail 3 May")
    assert border.issue(listed, by=IDA, at=LATER).issued_by == "Ida Penrake"


def test_a_hired_thing_waits_for_its_owners_consent(drafted):
    listed, leg, heron = drafted
    headset = make_item(
        make_type("Mutterby", "Merrowby", kind=Kind.COMMS), serial="MB1", owner=make_owner("Brambleside Hire")
    )
    put(heron.box, headset, bays="pocket", at=LATER)
    second = border.draft(leg.consignment.show, "GL-2208")
    assert "hired-with-consent" in wrong(second)
    border.mend(second.lines.get(serial="MB1"), owner_consents=True)
    assert "hired-with-consent" not in wrong(second)


def test_a_leg_that_crosses_is_blocked_without_a_list_and_for_what_is_on_no_line(drafted):
    listed, leg, heron = drafted
    assert "listed-at-the-border" in {one.rule for one in blocks_for_leg(leg, LATER, as_loaded=False)}
    border.issue(listed, by=IDA, at=LATER)
    put(heron.box, make_drive("88C01T"), bays="pocket", at=LATER)
    said = [one for one in blocks_for_leg(leg, LATER, as_loaded=False) if one.rule == "listed-at-the-border"]
    assert len(said) == 1 and "88C01T" in said[0].sentence


def test_a_crossing_says_what_is_out_what_is_not_and_what_is_on_no_line(drafted):
    listed, leg, heron = drafted
    put(heron.box, make_drive("88C01T"), bays="pocket", at=LATER)
    other = make_heron("CUR-03", name="CURLEW-1").box
    put(other, heron.drives[0], bays="F", at=LATER)
    said = border.crossing(listed, leg)
    assert [line.serial for line in said.not_out] == [heron.drives[0].serial]
    assert [item.serial for item in said.not_listed] == ["88C01T"]
    assert said.sentence == "2 of 3 lines go across; 1 thing on the leg is on no line."


def test_leaving_a_line_out_closes_the_gap(drafted):
    listed, _, _ = drafted
    border.leave_out(listed.lines.get(line=2))
    assert list(listed.lines.values_list("line", flat=True)) == [1, 2]


def test_a_number_serves_one_list(drafted):
    listed, leg, _ = drafted
    with pytest.raises(BorderRefusal, match="already"):
        border.draft(leg.consignment.show, "GL-2207")
    with pytest.raises(BorderRefusal, match="No case travels"):
        border.draft(make_show("EMPTY"), "GL-1")


def test_a_serial_that_is_none_of_ours_names_the_one_it_was_meant_for(drafted):
    listed, _, heron = drafted
    listed.lines.create(line=4, description="drive, Pomandre Ingot 4T", serial="HER-03A17K", pieces=1)
    said = [one for one in findings_for_border(listed, LATER) if one.rule == "serials-on-the-list"]
    assert said[0].blocks and said[0].way_out == f"Write {heron.drives[0].serial}."
