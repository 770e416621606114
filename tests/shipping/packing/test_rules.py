"""Every rule has one example that passes, one that fails, one that asks and one where nobody knows."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from shipping.packing.engine import default_limits, judge
from shipping.packing.facts import Load, Piece, Proof, Severity, State
from shipping.packing.rules import RULES
from shipping.packing.rules.registry import Ask
from tests.shipping.packing.examples import (
    AIR,
    EXAMPLES,
    FRAME,
    HERON,
    LINE,
    RAILS,
    ROAD,
    SET,
    UPS,
    A,
    B,
    border,
    box,
    but,
    case,
    load,
)

DECISION_ONLY = {"18", "23", "24", "25", "26", "28", "36", "39", "45"}


def findings(rule: str, of: Load):
    return list(RULES[rule].judge(of))


def test_every_rule_has_its_examples_and_no_example_is_an_orphan():
    assert set(EXAMPLES) == set(RULES)


def test_all_forty_six_of_the_trades_rules_are_there():
    assert {str(number) for number in range(1, 47)} - {one.number for one in RULES.values()} == set()


@pytest.mark.parametrize("rule", RULES)
def test_every_state_of_a_rule_has_its_example_or_says_why_it_cannot_be(rule):
    wanted = {"good", "wrong"}
    wanted |= {"not confirmed"} if RULES[rule].asks else set()
    wanted |= set() if RULES[rule].always_known else {"not known"}
    assert set(EXAMPLES[rule]) == wanted


@pytest.mark.parametrize("rule", RULES)
def test_the_passing_example_is_good(rule):
    assert findings(rule, EXAMPLES[rule]["good"]) == []


@pytest.mark.parametrize("rule", RULES)
def test_the_failing_example_is_wrong_and_says_a_way_out(rule):
    found = [one for one in findings(rule, EXAMPLES[rule]["wrong"]) if one.state == State.WRONG]
    assert found
    assert all(one.sentence and one.way_out and one.facts is not None for one in found)


@pytest.mark.parametrize("rule", [one for one in RULES if RULES[one].asks])
def test_a_rule_that_asks_for_evidence_says_not_confirmed_without_it(rule):
    found = findings(rule, EXAMPLES[rule]["not confirmed"])
    assert {one.state for one in found} == {State.NOT_CONFIRMED}
    assert not any(one.blocks for one in found)


@pytest.mark.parametrize("rule", RULES)
def test_a_rule_says_what_nobody_knows_or_why_that_cannot_be(rule):
    if RULES[rule].always_known:
        assert "not known" not in EXAMPLES[rule]
        return
    found = findings(rule, EXAMPLES[rule]["not known"])
    assert State.NOT_KNOWN in {one.state for one in found}
    assert not any(one.blocks for one in found)


@pytest.mark.parametrize("rule", RULES.values(), ids=list(RULES))
def test_a_rule_reads_as_a_sentence_and_names_its_source(rule):
    assert rule.sentence.endswith(".") and rule.sentence[0].isupper() and "\n" not in rule.sentence
    assert rule.source
    assert rule.decision_only == (rule.number in DECISION_ONLY)


def test_the_worst_comes_first_and_the_same_load_gives_the_same_list():
    mixed = load(case(FRAME, but(A, within=31)), box(A, ident=2), leg=AIR)
    found = judge(mixed)
    assert found == judge(mixed)
    assert [one.blocks for one in found] == sorted((one.blocks for one in found), reverse=True)
    assert found[0].blocks and found[0].severity == Severity.BLOCK


def test_the_digest_holds_for_the_same_facts_and_falls_with_them():
    first, second = (findings("within-rating", EXAMPLES["within-rating"]["wrong"])[0] for _ in range(2))
    assert first.digest == second.digest
    assert replace(first, sentence="other words").digest == first.digest
    assert replace(first, facts=(*first.facts, ("gross", "70"))).digest != first.digest


def test_a_limit_entered_later_is_the_one_that_counts():
    heavier = {("lift-band", "person_kg"): Decimal(36)}
    assert findings("lift-band", EXAMPLES["lift-band"]["wrong"])
    assert not findings("lift-band", replace(EXAMPLES["lift-band"]["wrong"], limits=default_limits() | heavier))


def test_no_unknown_mass_or_size_ever_blocks():
    bare = replace(FRAME, mass_kg=None, rack_depth_mm=None)
    assert not [one for one in judge(load(case(bare, *RAILS), leg=ROAD)) if one.blocks]


def test_rails_fitted_in_the_frame_count_as_with_it():
    fitted = [but(rail, within=31) for rail in RAILS]
    assert not findings("rails-with-frame", load(case(FRAME, *fitted), leg=ROAD))


def test_a_frame_on_no_leg_is_not_known_to_lack_its_rails():
    found = findings("rails-with-frame", load(case(FRAME)))
    assert {one.state for one in found} == {State.NOT_KNOWN}


def test_a_frame_of_a_system_without_listed_rails_is_not_known():
    assert {one.state for one in findings("rails-with-frame", load(case(FRAME), systems=(but(HERON, rails=None),), leg=ROAD))} == {State.NOT_KNOWN}  # noqa: E501  # fmt: skip


def test_an_unmounted_frame_asks_for_no_rails():
    assert not findings("rails-with-frame", load(case(but(FRAME, rack_units=None)), leg=ROAD))


def test_a_set_that_was_broken_up_is_not_incomplete():
    assert not findings("set-complete", load(box(A), sets=(but(SET, broken_up=True),)))


def test_order_in_a_free_set_only_warns():
    swapped = load(box(but(A, bay="B"), but(B, bay="A")), sets=(but(SET, strict=False),))
    found = findings("bay-order", swapped)
    assert found and not any(one.blocks for one in found)


def test_a_faulty_supply_is_no_second_supply():
    good, bad = EXAMPLES["redundant-supply"]["good"].cases[0].pieces[1:]
    found = findings("redundant-supply", load(case(FRAME, good, but(bad, fault="does not start"))))
    assert found[0].sentence == "Ebbmark 6 has 1 of its 2 supplies with it."


def test_a_small_lithium_ups_is_no_equipment_that_batteries_beside_it_belong_to():
    pack = Piece(71, "pack", "battery", battery_chemistry="lithium-ion", battery_count=1)
    ups = but(UPS, battery_chemistry="lithium-ion", battery_wh=Decimal(90))
    said = findings("lithium-alone-by-air", load(case(pack, ups), leg=AIR))
    assert [(one.state, one.blocks) for one in said] == [(State.WRONG, True), (State.NOT_CONFIRMED, False)]
    refused = case(ups, proofs={"lithium-alone-by-air": Proof("no")})
    assert findings("lithium-alone-by-air", load(refused, leg=AIR))[0].blocks
    taken = case(ups, proofs={"lithium-alone-by-air": Proof("yes")})
    assert not findings("lithium-alone-by-air", load(taken, leg=AIR))


def test_damaged_original_packaging_blocks():
    assert findings("packaging-sound", EXAMPLES["packaging-sound"]["wrong"])[0].blocks


def test_without_a_show_an_old_inspection_warns_and_does_not_block():
    gone = EXAMPLES["inspected-through"]["wrong"]
    assert findings("inspected-through", gone)[0].blocks
    alone = replace(gone, show=None, cases=(case(but(UPS, inspected=True, inspection_due=gone.on)),))
    assert not findings("inspected-through", alone)[0].blocks


def test_payload_counts_what_is_known_even_when_something_is_not():
    part = load(case(weighed_kg=Decimal(1100)), case(A, ident=2), leg=ROAD)
    assert findings("within-payload", part)[0].blocks


@pytest.mark.parametrize("mass,fits", [(Decimal("932.5"), True), (Decimal("932.6"), False)])
def test_payload_is_ninety_five_hundredths_less_crew(mass, fits):
    assert bool(findings("within-payload", load(case(weighed_kg=mass), leg=ROAD))) is not fits


@pytest.mark.parametrize(
    "text,vague",
    [("assorted adapters", "assorted"), ("Box of cables", "box of"), ("set of cables", ""), ("Ebbmark 6 frame", "")],
)
def test_vague_words_are_found_and_a_set_of_cables_may_stand(text, vague):
    from shipping.packing.rules.borders import vague_word

    assert vague_word(text) == vague


@pytest.mark.parametrize("origin,says", [("UK", "Write GB."), ("XK", "Write the two letters of ISO 3166-1.")])
def test_a_code_that_is_no_country_is_refused(origin, says):
    assert findings("lines-concrete", border(but(LINE, origin=origin)))[0].way_out == says


def test_two_exchanged_digits_are_named_as_such():
    assert "exchanged" in findings("serials-on-the-list", border(but(LINE, serial="71B40K")))[0].sentence


def test_a_case_that_crosses_without_an_issued_list_is_blocked():
    from tests.shipping.packing.examples import CROSSING, ISSUED

    found = findings("listed-at-the-border", load(case(A), leg=CROSSING, border=but(ISSUED, issued=False)))
    assert found[0].blocks


def test_braces_in_a_name_do_not_break_a_measure_sentence():
    from tests.shipping.packing.examples import PANEL, Proof

    odd = case(but(PANEL, name="{wide}"), proofs={"foam-round-delicate": Proof("5")})
    assert "{wide}" in findings("foam-round-delicate", load(odd))[0].sentence


@pytest.mark.parametrize("rule", [one for one in RULES if RULES[one].asks])
def test_a_rule_that_sets_a_number_against_a_limit_says_in_which_unit_it_is_asked(rule):
    asked = [
        one
        for one in RULES[rule].judge_load(EXAMPLES[rule]["not confirmed"], **_own_limits(rule))
        if isinstance(one, Ask)
    ]
    assert asked and {one.unit for one in asked} == {RULES[rule].measure}
    assert all(bool(one.limits) == bool(RULES[rule].measure) for one in asked)


def _own_limits(rule: str) -> dict[str, Decimal]:
    return {name: limit.value for name, limit in RULES[rule].limits.items()}
