"""A leg as freight, by its carrier's figures as they stand on the day it leaves."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.ledger import Fact, Witness, record
from inventory.models import Kind, Role, Verb
from shipping import carriers
from shipping.freighting import freight_of
from shipping.limits import set_limit
from shipping.models import CarrierFigure, Policy
from shipping.models.policies import Basis
from shipping.planning import findings_for_leg
from tests.factories import IDA, T0, make_case, make_case_type, make_item, make_type
from tests.shipping.packed import make_leg, make_show, put
from tests.shipping.test_case_pages import text

TODAY = T0.date()
SIZE = {"length_mm": 800, "width_mm": 500, "height_mm": 500}


def trunk(number: str = "GEN-01", grams: int = 20000):
    case = make_case(number, make_case_type("trunk", tare_kg=Decimal(10), type_fields=SIZE))
    record([Fact(Verb.WEIGHED, case, mass_g=grams)], by=IDA, at=T0)
    return case


@pytest.fixture
def leg(db):
    return make_leg(make_show(), [trunk()], mode="air", carrier="Skerry Air")


def enter(leg, name, value, day=TODAY, currency="", every=False, by=IDA):
    return carriers.enter(
        leg, name, Decimal(value), currency=currency, every_carrier=every, valid_from=day, source="their terms", by=by,
        at=T0,
    )  # fmt: skip


def test_a_light_trunk_by_air_is_billed_by_its_volume(leg):
    found = freight_of(leg, T0).bill
    assert found.chargeable_kg == Decimal("33.5") and found.by == "volume"


def test_the_carriers_own_divisor_counts_from_its_day_and_before_that_of_any_carrier(leg):
    enter(leg, "divisor", 5000)
    enter(leg, "divisor", 4000, every=True)
    enter(leg, "divisor", 3000, day=T0.date() + timedelta(days=9))
    assert freight_of(leg, T0).bill.by_volume_kg == 40
    leg.carrier = "skerry  air"
    assert freight_of(leg, T0).bill.by_volume_kg == 40
    leg.carrier = "Other Air"
    assert freight_of(leg, T0).bill.by_volume_kg == 50
    leg.departs_at = T0 + timedelta(days=10)
    leg.carrier = "Skerry Air"
    assert freight_of(leg, T0).bill.by_volume_kg == Decimal(200000) / 3000


def test_the_rule_reads_the_same_divisor_as_the_page(leg):
    def billed():
        said = [one.sentence for one in findings_for_leg(leg, T0) if one.rule == "billed-by-volume"]
        return said[0] if said else ""

    assert "billed as 33.3 kg" in billed()
    set_limit("billed-by-volume", "divisor", Decimal(8000), valid_from=T0.date(), source="x", by=IDA, at=T0)
    assert freight_of(leg, T0).bill.by_volume_kg == 25 and "billed as 25.0 kg" in billed()
    enter(leg, "divisor", 5000)
    assert "billed as 40.0 kg" in billed()


def test_a_courier_has_its_own_usual_divisor_and_a_road_leg_loading_metres(leg):
    leg.mode = "courier"
    assert freight_of(leg, T0).bill.by_volume_kg == 40
    leg.mode = "road"
    assert freight_of(leg, T0).bill.loading_m == Decimal("0.8") * Decimal("0.5") / Decimal("2.4")
    leg.mode = "sea"
    assert freight_of(leg, T0).bill.by_volume_kg == 200


@pytest.mark.parametrize(
    "given,why",
    [
        ({"name": "kg_per_ldm"}, "no figure called"),
        ({"value": 0}, "above zero"),
        ({"name": "insured"}, "in which currency"),
        ({"by": Witness("Ana", Role.ROAD_LEAD)}, "Only the kit manager"),
    ],
)
def test_what_is_no_figure_is_refused_with_a_sentence(leg, given, why):
    with pytest.raises(carriers.FigureRefusal, match=why):
        enter(leg, given.get("name", "divisor"), given.get("value", 5000), by=given.get("by", IDA))
    assert not CarrierFigure.objects.exists()


def test_a_leg_without_a_carrier_takes_a_figure_for_any(leg):
    leg.carrier = ""
    with pytest.raises(carriers.FigureRefusal, match="names no carrier"):
        enter(leg, "divisor", 5000)
    assert enter(leg, "divisor", 5000, every=True).carrier == ""


def test_the_page_says_what_is_billed_what_is_worth_and_what_to_ask(leg, kit_manager, sign_in):
    lamp = make_item(
        make_type("lamp", kind=Kind.OTHER, mass_kg=2, battery_chemistry="lithium-ion", battery_wh=50, battery_count=1,
                  replacement_value=900, currency="GBP")
    )  # fmt: skip
    case = leg.consignment.cases.get().case
    put(case, lamp, at=T0 - timedelta(hours=1))
    enter(leg, "liability", 20, currency="GBP")
    enter(leg, "insured", 500, currency="GBP")
    said = text(sign_in(kit_manager).get(reverse("freight", args=[leg.pk])))
    assert "Billed by its volume as 33.5 kg." in said and "the carrier measures" in said.lower()
    assert "Worth 900 GBP" in said and "owe at most 400 GBP" in said and "400 GBP too little" in said
    assert "UN 3481, packing instruction 967?" in said and "no answer is suggested" in said
    assert "may be refused" in said and "billed as 33.3 kg" in said


def test_where_no_sum_is_entered_for_the_journey_the_houses_policies_of_the_day_are_told(leg, kit_manager, sign_in):
    panel = make_item(make_type("wide panel", mass_kg=2, replacement_value=900, currency="GBP"))
    put(leg.consignment.cases.get().case, panel, at=T0 - timedelta(hours=1))
    address, client = reverse("freight", args=[leg.pk]), sign_in(kit_manager)
    said = text(client.get(address))
    assert "What it is insured for on this journey alone is not entered." in said
    assert "NOT KNOWN No policy in GBP is entered for that day." in said
    Policy.objects.create(
        insurer="Quay Mutual", number="FM 7", currency="GBP", in_one_vehicle=500, basis=Basis.NEW,
        valid_from=date(2026, 1, 1), entered_by="Ida Penrake", entered_at=T0,
    )  # fmt: skip
    said = text(client.get(address))
    assert "TOO LITTLE Insured for up to 500 GBP in one vehicle: 400 GBP less than it costs new." in said
    enter(leg, "insured", 1000, currency="GBP")
    said = text(client.get(address))
    assert "It is insured for 1,000 GBP." in said and "TOO LITTLE" not in said


def test_an_empty_leg_says_what_to_do(db, staff, sign_in):
    empty = make_leg(make_show(), [])
    assert "No case travels on this leg yet" in text(sign_in(staff).get(reverse("freight", args=[empty.pk])))


def test_a_kit_manager_enters_a_figure_and_sees_the_earlier_ones(leg, kit_manager, sign_in):
    client, address = sign_in(kit_manager), reverse("freight-figure", args=[leg.pk, "insured"])
    day = timezone.localdate().isoformat()
    answer = client.post(address, {"value": "50000", "currency": "gbp", "valid_from": day, "source": "policy 7"})
    assert answer.status_code == 302
    said = text(client.get(address))
    assert "50,000 GBP in all" in said and "policy 7" in said and "Skerry Air" in said
    assert client.post(address, {"value": "5", "currency": "", "valid_from": day, "source": "x"}).status_code == 422
    assert client.get(reverse("freight-figure", args=[leg.pk, "nothing"])).status_code == 404


def test_the_page_costs_the_same_however_many_cases(leg, staff, sign_in):
    client, address = sign_in(staff), reverse("freight", args=[leg.pk])

    def count():
        with CaptureQueriesContext(
            connection,
        ) as seen:
            client.get(address)
        return len(seen)

    count()
    before = count()
    for n in range(8):
        leg.consignment.cases.create(case=trunk(f"GEN-1{n}"), position=n + 2)
    assert count() == before
