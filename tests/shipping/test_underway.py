"""From the book to the rules about the way itself: nights, balance, arrival, and drives beside their copies."""

from __future__ import annotations

from datetime import timedelta

import pytest

from inventory.ledger import Fact, record
from inventory.models import Copy, CopySerial, Verb
from shipping.planning import findings_for_leg
from tests.factories import IDA, T0, make_case, make_drive, make_item, make_type
from tests.shipping.packed import make_heron, make_leg, make_show, make_vehicle, put

LATER = T0 + timedelta(hours=6)


def said(leg, rule, at=LATER):
    return [one for one in findings_for_leg(leg, at) if one.rule == rule]


def recorded_box():
    """HER-03 with HERON-1, on which FMC was recorded an hour ago."""
    heron = make_heron()
    facts = [Fact(Verb.RECORDING, drive_set=heron.set, reference="FMC")]
    record(facts, by=IDA, at=T0 + timedelta(hours=1))
    record([Fact(Verb.STOPPED, drive_set=heron.set, reference="FMC")], by=IDA, at=T0 + timedelta(hours=2))
    return heron


def copy_onto(drives, **where):
    made = T0 + timedelta(hours=3)
    row = Copy.objects.create(
        reference="FMC", made_at=made, medium="disk", verified_at=made, verified_how="checksums", verified_by="Ida",
        entered_by="Ida", entered_at=made, **where,
    )  # fmt: skip
    CopySerial.objects.bulk_create(CopySerial(copy=row, drive=drive) for drive in drives)


@pytest.fixture
def travelling(db):
    """Recorded drives, and a case with a spare drive, on one leg of one van."""
    heron, case, spare = recorded_box(), make_case("GEN-01"), make_drive("88C01T")
    put(case, spare)
    leg = make_leg(make_show(), [heron.box, case], vehicle=make_vehicle(), driver="Ana Rell")
    return heron, spare, leg


def test_drives_and_their_only_copy_in_one_van_block(travelling):
    heron, spare, leg = travelling
    copy_onto(heron.drives, on_drive=spare)
    assert [(one.state, one.blocks) for one in said(leg, "not-with-the-only-copy")] == [("wrong", True)]


def test_a_copy_that_stays_at_home_lets_the_drives_travel(travelling):
    heron, spare, leg = travelling
    copy_onto(heron.drives, on_drive=spare)
    copy_onto(heron.drives, place_words="vault at Carrowmere")
    assert said(leg, "not-with-the-only-copy") == []


def test_a_copy_of_one_drive_does_not_speak_for_the_set(travelling):
    heron, spare, leg = travelling
    copy_onto(heron.drives, on_drive=spare)
    copy_onto(heron.drives[:1], place_words="vault at Carrowmere")
    (found,) = said(leg, "not-with-the-only-copy")
    assert found.blocks and str(heron.drives[1]) in found.sentence and str(heron.drives[0]) not in found.sentence


def test_each_drive_is_told_by_where_its_own_copy_is(travelling):
    heron, spare, leg = travelling
    copy_onto(heron.drives[:1], on_drive=spare)
    copy_onto(heron.drives[1:])
    assert [one.state for one in said(leg, "not-with-the-only-copy")] == ["wrong", "not known"]


def test_a_copy_nobody_placed_is_not_known(travelling):
    heron, _spare, leg = travelling
    copy_onto(heron.drives)
    assert [one.state for one in said(leg, "not-with-the-only-copy")] == ["not known"]


def test_unreleased_drives_with_nobody_named_warn_and_a_named_driver_ends_it(travelling):
    _heron, _spare, leg = travelling
    assert said(leg, "drives-with-a-holder") == []
    leg.driver = ""
    assert [one.severity for one in said(leg, "drives-with-a-holder")] == ["warn"]


def test_dear_goods_over_a_night_ask_for_a_locked_compound(db):
    case = make_case("HER-01")
    put(case, make_item(make_type("Ebbmark 6", "Orrinvale", replacement_value=21000, currency="GBP")))
    leg = make_leg(make_show(), [case], vehicle=make_vehicle(), arrives_at=T0 + timedelta(hours=36))
    assert [one.state for one in said(leg, "guarded-overnight")] == ["not confirmed"]
    leg.arrives_at = leg.departs_at + timedelta(hours=1)
    assert said(leg, "guarded-overnight") == []
    leg.arrives_at = None
    assert [one.state for one in said(leg, "guarded-overnight")] == ["not known"]


def test_the_cold_is_asked_for_once_a_sealed_case_has_arrived(db):
    case = make_case("HER-01")
    put(case, make_item(make_type("Ebbmark 6", "Orrinvale", shock_critical=True)))
    leg = make_leg(make_show(), [case], vehicle=make_vehicle())
    record([Fact(Verb.SEALED, case, seal="0041")], by=IDA, at=T0 + timedelta(minutes=1))
    assert said(leg, "warm-before-power") == []
    record([Fact(Verb.DEPARTED, leg.vehicle, place=leg.road, reference="FMC")], by=IDA, at=T0 + timedelta(hours=1))
    record([Fact(Verb.ARRIVED, leg.vehicle, place=leg.to_place, reference="FMC")], by=IDA, at=T0 + timedelta(hours=4))
    assert [one.state for one in said(leg, "warm-before-power")] == ["not confirmed"]
    record([Fact(Verb.CHECKED, case, rule="warm-before-power", value="14 °C")], by=IDA, at=T0 + timedelta(hours=5))
    assert [one.sentence for one in said(leg, "warm-before-power")] == [
        "It is 14 °C colder than the room: water may form inside."
    ]


def test_all_the_weight_on_one_side_is_said(db):
    cases = [make_case(number) for number in ("HER-01", "HER-02")]
    leg = make_leg(make_show(), cases, vehicle=make_vehicle())
    for case, mass, stand in zip(cases, (60_000, 20_000), ("1.1.1", "1.2.1"), strict=True):
        record([Fact(Verb.WEIGHED, case, mass_g=mass)], by=IDA, at=T0)
        record([Fact(Verb.LOADED, case, place=leg.vehicle.inside, bay=stand)], by=IDA, at=T0 + timedelta(hours=1))
    assert ["left carries 60 kg" in one.sentence for one in said(leg, "load-balanced")] == [True]
