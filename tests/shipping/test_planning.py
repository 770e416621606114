"""From the book to findings: what the rules see is what the ledger says."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory import ledger
from inventory.ledger import Fact
from inventory.models import Grade, Kind, Verb
from inventory.papers import issue
from shipping.documents.forms import draft
from shipping.models import PackLine, RuleLimit
from shipping.planning import (
    blocks_for_leg,
    case_facts,
    coming_leg,
    findings_for_case,
    findings_for_cases,
    findings_for_leg,
    findings_for_show,
    seals_of,
)
from tests.factories import ANA, IDA, T0, make_case, make_case_type, make_drive, make_item, make_system, make_type
from tests.shipping.packed import join, make_frame, make_heron, make_leg, make_set, make_show, make_vehicle, put, stand

LATER = T0 + timedelta(hours=1)


def rules_of(found, state="wrong"):
    return {one.rule for one in found if one.state == state}


def test_a_whole_set_in_its_own_box_has_nothing_wrong_but_papers(db):
    heron = make_heron()
    assert rules_of(findings_for_case(heron.box, LATER)) == {"list-in-the-lid"}


def test_a_drive_of_another_set_and_a_missing_member_both_block(db):
    heron, curlew = make_heron(), make_heron("CUR-03", name="CURLEW-1")
    put(heron.box, curlew.drives[2], bays="E", at=LATER)
    ledger.record([Fact(Verb.PLACED, heron.drives[0], place=curlew.box.inside)], by=IDA, at=LATER)
    found = [one for one in findings_for_case(heron.box, LATER) if one.blocks]
    assert {one.rule for one in found} == {"one-set-one-box", "set-complete"}
    assert any("CURLEW-1 (bay C)" in one.sentence and "slot E" in one.sentence for one in found)
    assert any("HERON-1 A is missing: in CUR-03" in one.sentence for one in found)


def test_a_drive_left_in_a_frame_inside_the_case_is_seen_at_its_depth(db):
    case, frame, drive = make_case("HER-01"), make_frame(), make_drive("71B04K")
    put(case, frame)
    put(frame, drive, bays="C", verb=Verb.FITTED)
    found = [one for one in findings_for_case(case, LATER) if one.rule == "drives-out"]
    assert found[0].blocks and "in bay C" in found[0].sentence


def test_a_look_answers_a_question_until_the_case_opens(db):
    heron = make_heron()
    assert "antistatic" in rules_of(findings_for_case(heron.box, LATER), "not confirmed")
    ledger.record([Fact(Verb.CHECKED, heron.box, rule="antistatic", value="yes")], by=IDA, at=LATER)
    assert "antistatic" not in rules_of(findings_for_case(heron.box, LATER), "not confirmed")
    put(heron.box, make_drive("X1"), bays="pocket", at=LATER + timedelta(minutes=1))
    assert "antistatic" in rules_of(findings_for_case(heron.box, LATER + timedelta(hours=1)), "not confirmed")


def test_taking_a_thing_out_opens_the_case_as_well(db):
    heron = make_heron()
    ledger.record([Fact(Verb.CHECKED, heron.box, rule="antistatic", value="yes")], by=IDA, at=LATER)
    stand(heron.drives[0], at=LATER + timedelta(minutes=1))
    assert "antistatic" in rules_of(findings_for_case(heron.box, LATER + timedelta(hours=1)), "not confirmed")


def test_a_corrected_look_is_no_evidence(db):
    heron = make_heron()
    look = ledger.record([Fact(Verb.CHECKED, heron.box, rule="antistatic", value="yes")], by=IDA, at=LATER)[0]
    ledger.correct(look.act, reason="wrong box", by=IDA, at=LATER + timedelta(minutes=1))
    assert "antistatic" in rules_of(findings_for_case(heron.box, LATER + timedelta(hours=1)), "not confirmed")


def test_a_measure_holds_for_every_case_of_its_type_for_ever(db):
    heron, curlew = make_heron(), make_heron("CUR-03", name="CURLEW-1")
    ledger.record([Fact(Verb.CHECKED, curlew.box, rule="foam-round-drives", value="28 mm")], by=IDA, at=T0)
    put(heron.box, make_drive("X1"), bays="pocket", at=LATER)
    assert "foam-round-drives" not in rules_of(findings_for_case(heron.box, LATER), "not confirmed")


def test_a_scale_counts_until_the_case_opens(db):
    heron = make_heron()
    ledger.record([Fact(Verb.WEIGHED, heron.box, mass_g=7000)], by=IDA, at=LATER)
    assert case_facts(heron.box, LATER).gross_kg == 7
    put(heron.box, make_drive("X1"), bays="pocket", at=LATER + timedelta(minutes=1))
    after = case_facts(heron.box, LATER + timedelta(hours=1))
    assert after.weighed_kg is None and after.computed_kg == Decimal("7.8")


def test_a_plan_for_a_show_moves_what_a_case_expects(db):
    show, mine, other = make_show(), make_case("HER-06"), make_case("HER-07")
    keyboard = make_item(make_type("Tappet", "Hobbinet", kind=Kind.KEYBOARD), home_case=mine)
    put(other, keyboard)
    assert "as-listed" in rules_of(findings_for_case(mine, LATER))
    PackLine.objects.create(show=show, item=keyboard, case=other, decided_by="Ida Penrake", decided_at=T0)
    assert "as-listed" not in rules_of(findings_for_case(mine, LATER, show))
    assert "belongs-here" not in rules_of(findings_for_case(other, LATER, show))


def test_rails_on_the_same_leg_are_with_their_frame_and_elsewhere_are_not(db):
    heron, frame_case, rail_case = make_system(), make_case("HER-01"), make_case("HER-10")
    rails = [
        make_item(make_type("rail", "Orrinvale", kind=Kind.RAILS), serial=f"R{n}", home_system=heron) for n in (1, 2)
    ]
    frame = make_frame(home_system=heron, home_case=frame_case)
    put(frame_case, frame)
    put(rail_case, rails[0])
    stand(rails[1])
    make_leg(make_show(), [frame_case, rail_case])
    found = [one for one in findings_for_case(frame_case, LATER) if one.rule == "rails-with-frame"]
    assert [one.blocks for one in found] == [True] and "at Mill Yard" in found[0].sentence
    put(rail_case, rails[1], at=LATER)
    assert "rails-with-frame" not in rules_of(findings_for_case(frame_case, LATER))


def test_at_departure_only_what_is_loaded_counts_as_with_it(db):
    heron, frame_case, rail_case, van = make_system(), make_case("HER-01"), make_case("HER-10"), make_vehicle()
    rail = make_item(make_type("rail", "Orrinvale", kind=Kind.RAILS), serial="R1", home_system=heron)
    put(frame_case, make_frame(home_system=heron, home_case=frame_case))
    put(rail_case, rail)
    leg = make_leg(make_show(), [frame_case, rail_case], vehicle=van)
    put(van, frame_case, verb=Verb.LOADED)
    assert "rails-with-frame" not in {one.rule for one in blocks_for_leg(leg, LATER, as_loaded=False)}
    assert "rails-with-frame" in {one.rule for one in blocks_for_leg(leg, LATER)}
    put(van, rail_case, verb=Verb.LOADED, at=LATER)
    assert "rails-with-frame" not in {one.rule for one in blocks_for_leg(leg, LATER)}


def test_a_van_over_its_payload_blocks_departure_and_two_consignments_add_up(db):
    van, show = make_vehicle(payload=1150), make_show()
    heavy = make_case_type("trunk", tare_kg=Decimal(700), max_gross_kg=Decimal(900))
    first, second = make_case("GEN-01", heavy), make_case("GEN-02", heavy)
    leg = make_leg(show, [first], vehicle=van)
    assert "within-payload" not in {one.rule for one in blocks_for_leg(leg, LATER, as_loaded=False)}
    make_leg(show, [second], vehicle=van)
    assert "within-payload" in {one.rule for one in blocks_for_leg(leg, LATER, as_loaded=False)}


def test_a_case_on_top_of_what_cannot_carry_it_blocks(db):
    van = make_vehicle()
    weak = make_case_type("weak", tare_kg=Decimal(60), type_fields={"max_on_top_kg": Decimal(20)})
    base, top = make_case("HER-07", weak), make_case("HER-08", weak)
    leg = make_leg(make_show(), [base, top], vehicle=van)
    put(van, base, bays="1.1.1", verb=Verb.LOADED)
    put(van, top, bays="1.1.2", verb=Verb.LOADED)
    found = [one for one in findings_for_leg(leg, LATER) if one.rule == "stacks-allowed"]
    assert found[0].blocks and "stands on HER-07" in found[0].sentence


def test_lithium_on_an_air_leg_blocks_and_by_road_does_not(db):
    case = make_case("WRE-06")
    ups = make_type(
        "Steady L8", "Drumfell", kind=Kind.UPS, battery_chemistry="lithium", battery_wh=640, battery_count=1
    )
    put(case, make_item(ups, serial="L8-1", home_case=case))
    assert "lithium-in-equipment-by-air" not in rules_of(findings_for_case(case, LATER))
    make_leg(make_show(), [case], mode="air")
    found = [one for one in findings_for_case(case, LATER) if one.rule == "lithium-in-equipment-by-air"]
    assert found[0].blocks and "640 Wh" in found[0].sentence


def test_a_departed_leg_is_no_longer_the_coming_one(db):
    case, van = make_case("HER-01"), make_vehicle()
    out = make_leg(make_show(), [case], vehicle=van)
    assert coming_leg(case, LATER) == out
    ledger.record([Fact(Verb.DEPARTED, van, place=out.road, reference="FMC")], by=ANA, at=LATER)
    assert coming_leg(case, LATER) is None


def test_a_limit_counts_from_its_day_on(db):
    case = make_case("HER-01", make_case_type("heavy", tare_kg=Decimal(30)))
    put(case, make_drive("X1"))
    drive_type = make_type("Ingot 4T", "Pomandre")
    drive_type.mass_kg = Decimal(1)
    drive_type.save()
    RuleLimit.objects.create(
        rule="lift-band", name="person_kg", value=25, valid_from=(T0 + timedelta(days=2)).date(), source="our own",
        entered_by="Ida Penrake", entered_at=T0,
    )  # fmt: skip
    assert "lift-band" in rules_of(findings_for_case(case, LATER))
    assert "lift-band" not in rules_of(findings_for_case(case, T0 + timedelta(days=3)))


def test_a_set_broken_up_by_a_person_is_not_waited_for(db):
    heron = make_heron()
    stand(heron.drives[0], at=LATER)
    assert "set-complete" in rules_of(findings_for_case(heron.box, LATER))
    ledger.record([Fact(Verb.BROKEN_UP, drive_set=heron.set, note="client keeps A")], by=IDA, at=LATER)
    assert "set-complete" not in rules_of(findings_for_case(heron.box, LATER))


def test_a_swapped_out_drive_still_wears_its_letter(db):
    heron = make_heron()
    new, old = make_drive("NEWC"), heron.drives[2]
    ledger.record([Fact(Verb.DROPPED, old, drive_set=heron.set)], by=IDA, at=LATER)
    ledger.record([Fact(Verb.JOINED, new, drive_set=heron.set, bay="C")], by=IDA, at=LATER)
    put(heron.box, old, bays="pocket", at=LATER)
    put(heron.box, new, bays="C", at=LATER)
    found = {one.rule: one for one in findings_for_case(heron.box, LATER) if one.state == "wrong"}
    assert "Two Cs of HERON-1" in found["one-of-each-bay"].sentence
    assert "one-set-one-box" not in found and "set-complete" not in found


@pytest.mark.parametrize("many", [1, 4])
def test_judging_a_leg_costs_the_same_for_few_and_many_cases(db, django_assert_max_num_queries, many):
    cases = [make_heron(f"HER-{n:02}", name=f"HERON-{n}").box for n in range(1, many + 1)]
    leg = make_leg(make_show(), cases, vehicle=make_vehicle())
    with django_assert_max_num_queries(QUERIES_OF_A_LEG):
        assert findings_for_leg(leg, LATER)
    with django_assert_max_num_queries(QUERIES_OF_A_LEG):
        assert set(findings_for_cases(cases, LATER)) == {case.pk for case in cases}


QUERIES_OF_A_LEG = 62  # with what the drives hold and where the copies are


def test_the_show_names_a_missing_spare_once(db):
    show, case, system = make_show(), make_case("HER-06"), make_system()
    key = make_type("key", "Orrinvale", kind=Kind.LICENCE_KEY)
    put(case, make_item(key, serial="K1", home_system=system, home_case=case))
    system.parts.create(type=key, show_stopper=True)
    make_leg(show, [case])
    found = [one for one in findings_for_show(show, LATER) if one.rule == "spare-apart"]
    assert [one.subject for one in found] == ["show:FMC"]


def test_things_by_word_only_open_nothing(db):
    heron = make_heron()
    ledger.record([Fact(Verb.CHECKED, heron.box, rule="antistatic", value="yes")], by=IDA, at=LATER)
    said = Fact(Verb.PACKED, make_drive("X1"), place=heron.box.inside, bay="pocket", grade=Grade.SAID)
    ledger.record([said], by=IDA, at=LATER + timedelta(minutes=1))
    assert "antistatic" not in rules_of(findings_for_case(heron.box, LATER + timedelta(hours=1)), "not confirmed")


def test_joining_by_the_ledger_beats_the_home_set(db):
    heron = make_heron()
    join(make_set("CURLEW-1"), heron.drives[0], at=LATER)
    assert "one-set-one-box" in rules_of(findings_for_case(heron.box, LATER))


def test_another_number_seen_on_the_case_opens_it_for_evidence_as_for_the_seal(db):
    heron = make_heron()
    facts = [
        Fact(Verb.CHECKED, heron.box, rule="antistatic", value="yes"),
        Fact(Verb.SEALED, heron.box, seal="004418", grade=Grade.SCAN),
    ]
    ledger.record(facts, by=IDA, at=LATER)
    at = LATER + timedelta(hours=1)
    assert case_facts(heron.box, at).seal == seals_of([heron.box.pk], at)[heron.box.pk] == "004418"
    ledger.record([Fact(Verb.SEEN, heron.box, seal="004481", grade=Grade.SCAN)], by=ANA, at=at)
    assert case_facts(heron.box, at).seal == "" and seals_of([heron.box.pk], at) == {}
    assert "antistatic" in rules_of(findings_for_case(heron.box, at), "not confirmed")


def test_a_printed_list_is_current_until_what_lies_in_the_case_differs(db):
    heron = make_heron()
    issue(draft("case-list", "HER-03", "a4", LATER), by="Ida Penrake", at=LATER)
    at = LATER + timedelta(hours=2)
    assert "list-in-the-lid" not in rules_of(findings_for_case(heron.box, at))
    stand(heron.drives[0], at=LATER + timedelta(minutes=5))
    said = [one for one in findings_for_case(heron.box, at) if one.rule == "list-in-the-lid"]
    assert said and "changed since its list was printed" in said[0].sentence
    put(heron.box, heron.drives[0], bays="A", at=LATER + timedelta(minutes=9))
    assert "list-in-the-lid" not in rules_of(findings_for_case(heron.box, at))
