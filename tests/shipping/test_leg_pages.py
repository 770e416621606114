"""The pages of a leg and of a vehicle: findings worst first, each with its way out, and what is done about them."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.ledger import Fact, record
from inventory.models import Entry, Verb
from shipping.boards import board
from shipping.daylist import day_list
from shipping.leg_sheet import sheet_of_leg, sheet_of_vehicle
from shipping.limits import set_limit
from shipping.models import Waiver
from shipping.planning import findings_for_leg
from tests.factories import IDA, make_case, make_case_type
from tests.shipping.packed import make_leg, make_show, make_vehicle
from tests.shipping.test_case_pages import text


def trunk(number: str, kg: int, **over):
    case = make_case(number, make_case_type("trunk", tare_kg=Decimal(10), max_gross_kg=Decimal(2000), wheels=True))
    record([Fact(Verb.WEIGHED, case, mass_g=kg * 1000)], by=IDA, at=timezone.now() - timedelta(hours=1))
    return case


@pytest.fixture
def van(db):
    return make_vehicle("Meadowrue", 1150)


def leg_with(van, *masses: int):
    now = timezone.now()
    cases = [trunk(f"GEN-{n + 1:02}", kg) for n, kg in enumerate(masses)]
    return make_leg(make_show(at=now), cases, vehicle=van, departs_at=now + timedelta(hours=12),
                    arrives_at=now + timedelta(hours=13))  # fmt: skip


def leg_page(client, leg):
    return client.get(reverse("leg", args=[leg.pk]))


def test_a_leg_without_a_vehicle_offers_no_truck_load_sheet(van, staff, sign_in):
    client = sign_in(staff)
    leg = leg_with(van, 40)
    assert "truck load sheet" in text(leg_page(client, leg))
    leg.vehicle, leg.mode = None, "air"
    leg.save()
    said = text(leg_page(client, leg))
    assert "truck load sheet" not in said and "Print manifest" in said


def test_a_leg_within_its_payload_says_by_how_much(van, staff, sign_in):
    leg = leg_with(van, 400, 269)
    said = text(leg_page(sign_in(staff), leg))
    assert "NO BLOCK Nothing stands in the way of leaving. The driver and the person in charge decide." in said
    assert "669 kg of cases and 160 kg of crew: 263.5 kg below 1,092.5 kg, 95 % of the payload entered." in said
    assert "plated limits, axle loads and a weighbridge decide" in said and "safe" not in said.lower()


def test_an_overload_blocks_says_by_how_much_and_what_to_leave(van, staff, sign_in):
    leg = leg_with(van, 900, 150, 111)
    said = text(leg_page(sign_in(staff), leg))
    assert "NOT YET One thing stands in the way of leaving." in said
    assert "228.5 kg over 1,092.5 kg" in said and "Leaving GEN-01 (900 kg) would do by mass" in said
    assert said.index("more than 1,092.5 kg") < said.index("No case is flagged as first off")


def test_where_no_single_case_is_heavy_enough_the_fewest_are_named(van):
    payload = sheet_of_leg(leg_with(van, *[130] * 9), timezone.now()).payload
    assert payload.over_kg == Decimal("237.5")
    assert payload.leave.startswith("At least 2 cases must stay, for example GEN-01, GEN-02")


def test_a_mass_nobody_knows_makes_the_sum_a_floor(van):
    leg = leg_with(van, 100)
    leg.consignment.cases.create(case=make_case("GEN-09", make_case_type("crate")), position=2)
    payload = sheet_of_leg(leg, timezone.now()).payload
    assert payload.unweighed == ("GEN-09",) and payload.sentence.startswith("At least 100 kg")


def test_nobody_waives_an_overload_but_a_decision_is_recorded(van, kit_manager, sign_in):
    client, leg = sign_in(kit_manager), leg_with(van, 1000)
    (block,) = [one for one in findings_for_leg(leg, timezone.now()) if one.blocks]
    address = reverse("leg-waive", args=[leg.pk])
    refused = client.post(address, {"finding": block.digest, "reason": "short way"})
    assert refused.status_code == 422 and "Nobody can waive this rule" in text(refused)
    given = {
        "finding": block.digest,
        "reason": "weighed on a bridge",
        "person": "Ida Penrake, owner",
        "document": "slip 7",
    }
    assert client.post(address, given).status_code == 302
    assert Waiver.objects.get().is_decision
    said = text(leg_page(client, leg))
    assert "NO BLOCK" in said and "Set aside by somebody's word" in said and "slip 7" in said


@pytest.mark.parametrize(
    "data,why", [({}, "Say why it may stand"), ({"finding": "0" * 64, "reason": "x"}, "have changed")]
)
def test_what_cannot_be_set_aside_is_answered_in_words(van, kit_manager, sign_in, data, why):
    answer = sign_in(kit_manager).post(reverse("leg-waive", args=[leg_with(van, 10).pk]), data)
    assert answer.status_code == 422 and why in text(answer)


def test_crew_and_another_shows_lead_waive_nothing_here(van, crew, road_lead, sign_in):
    leg = leg_with(van, 1000)
    leg.consignment.show.lead = crew
    leg.consignment.show.save()
    (block,) = [one for one in findings_for_leg(leg, timezone.now()) if one.blocks]
    data = {"finding": block.digest, "reason": "x", "person": "y", "document": "z"}
    assert sign_in(crew).post(reverse("leg-waive", args=[leg.pk]), data).status_code == 403
    assert sign_in(road_lead).post(reverse("leg-waive", args=[leg.pk]), data).status_code == 422


def test_what_the_driver_says_is_kept_and_asked_no_more(van, crew, sign_in):
    client, leg = sign_in(crew), leg_with(van, 100)
    assert "each row on Meadowrue is restrained, or every 2.4 m at the most, for 0.8 g forward" in text(
        leg_page(client, leg)
    )
    address = reverse("leg-confirm", args=[leg.pk])
    assert client.post(address, {"rule-rows-restrained": "yes"}).status_code == 302
    kept = Entry.objects.get(verb=Verb.CHECKED)
    assert (kept.rule, kept.value, kept.label.item) == ("rows-restrained", "yes", van)
    assert "Does the driver say" not in text(leg_page(client, leg))
    assert client.post(address, {}).status_code == 422


def test_a_row_that_is_not_restrained_stands_as_wrong(van, crew, sign_in):
    client, leg = sign_in(crew), leg_with(van, 100)
    client.post(reverse("leg-confirm", args=[leg.pk]), {"rule-rows-restrained": "no"})
    assert "A row on Meadowrue is not restrained. Restrain it; ask the driver." in text(leg_page(client, leg))


def test_a_leg_without_a_vehicle_asks_no_driver(db, crew, sign_in):
    leg = leg_with(None, 100)
    assert sign_in(crew).post(reverse("leg-confirm", args=[leg.pk]), {"rule-rows-restrained": "yes"}).status_code == 422
    assert sheet_of_leg(leg, timezone.now()).payload is None


def test_a_leg_leads_to_its_floor_plan_where_a_vehicle_goes(van, staff, sign_in):
    now = timezone.now()
    driven, flown = leg_with(van, 40), make_leg(make_show("SBR", at=now), [], mode="air", departs_at=now)
    assert reverse("floor", args=[driven.pk]) in leg_page(sign_in(staff), driven).content.decode()
    assert reverse("floor", args=[flown.pk]) not in leg_page(sign_in(staff), flown).content.decode()


def test_an_empty_leg_says_what_to_do(van, staff, sign_in):
    assert "EMPTY No case travels on it yet." in text(leg_page(sign_in(staff), leg_with(van)))


def test_a_vehicles_page_leads_with_its_next_leg_and_what_stands_in_the_way(van, staff, sign_in):
    leg = leg_with(van, 1000)
    said = text(sign_in(staff).get(reverse("vehicle", args=["Meadowrue"])))
    assert "NOT YET Next: Mill Yard to Fjellmark Hall, Fjellmark Masters Chess. One thing stands in the way" in said
    assert "payload entered 1,150 kg" in said and "Nothing is in it by the book" in said
    record([Fact(Verb.LOADED, leg.consignment.cases.get().case, place=van.inside)], by=IDA, at=timezone.now())
    assert [one.number for one in sheet_of_vehicle(van, timezone.now()).aboard] == ["GEN-01"]


def test_a_vehicle_without_a_leg_says_so_and_a_case_is_no_vehicle(van, staff, sign_in):
    client = sign_in(staff)
    assert "NO LEG No coming leg names it." in text(client.get(reverse("vehicle", args=["Meadowrue"])))
    trunk("GEN-01", 10)
    assert client.get(reverse("vehicle", args=["GEN-01"])).status_code == 404
    page = client.get(reverse("item", args=[van.labels.first().code])).content.decode()
    assert reverse("vehicle", args=["Meadowrue"]) in page


def test_a_leg_costs_the_same_however_many_cases(van, staff, sign_in):
    client, leg = sign_in(staff), leg_with(van, 50)

    def count():
        with CaptureQueriesContext(connection) as seen:
            leg_page(client, leg)
        return len(seen)

    count()
    before = count()
    for n in range(6):
        leg.consignment.cases.create(case=trunk(f"GEN-2{n}", 20), position=n + 2)
    assert count() == before


def test_the_dock_and_the_phones_list_reckon_by_the_limits_that_were_set(van, db):
    leg, at = leg_with(van, 30), timezone.now()
    day = timezone.localdate(at)
    for rule, name, value in (("within-payload", "share", "0.9"), ("lift-band", "person_kg", "31")):
        set_limit(rule, name, Decimal(value), valid_from=day, source="ours", by=IDA, at=at)
    now = board(leg, at)
    assert now.limit_kg == Decimal(1035) and now.share_words == "90 %"
    assert now.faces[0].lift.words == "one person"
    row = next(one for one in day_list([leg.consignment.show], at)["cases"] if one["number"] == "GEN-01")
    assert row["lift"] == "one person"


def test_what_blocks_its_cases_stands_with_what_blocks_the_leg_before_every_warning(van, staff, sign_in):
    leg = leg_with(van, 900, 300)
    sealed = leg.consignment.cases.first().case
    type(sealed.type.container).objects.filter(pk=sealed.type.container.pk).update(max_gross_kg=100)
    client = sign_in(staff)
    for page in (leg_page(client, leg), client.get(reverse("vehicle", args=[van.code]))):
        said = text(page)
        over, case, warned = (said.index(one) for one in ("kg of crew on", "it is rated for 100 kg", "no seal"))
        assert over < case < warned
        assert said.count("GEN-01 weighs 900 kg; it is rated for 100 kg.") == 1
