"""A dangerous-goods person's recorded decision lets a thing be planned: planner, desk page and leg page agree."""

from __future__ import annotations

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.models import Kind
from shipping.models import Waiver
from shipping.packing.planner.solver import at_once
from shipping.planning import blocks_for_leg, findings_for_leg
from shipping.planning.desk import wanted
from shipping.planning.foretold import judged
from shipping.planning.going import Question
from shipping.waiving import waive
from tests.factories import IDA, make_item, make_leg, make_type
from tests.shipping.docked import text
from tests.shipping.packed import put
from tests.shipping.trunks import MEASURED, trunk

BIG = {"kind": Kind.OTHER, "battery_chemistry": "lithium-ion", "battery_wh": 640, "battery_count": 1}
PACK = {"kind": Kind.BATTERY, "battery_chemistry": "Li-ion", "battery_wh": 98, "mass_kg": 1}
UPS = {"kind": Kind.UPS, "battery_chemistry": "lead-acid", "battery_count": 4}


@pytest.fixture
def home(heron):
    return trunk("HER-05", heron)


@pytest.fixture
def other(heron):
    return trunk("HER-06", heron)


def thing(name, home, **over):
    """One that lives in a case and is packed in it."""
    made = make_item(make_type(name, "", **{**MEASURED, **over}), home_case=home, home_system=home.home_system)
    put(home, made)
    return made


def flight(show, *cases):
    return make_leg(list(cases), show=show, mode="air", passenger_aircraft=True)


def decide(leg, many=1):
    """Record a decision over everything that stands in the way of this flight."""
    blocks = blocks_for_leg(leg, timezone.now())
    assert len(blocks) == many
    for one in blocks:
        waive(one, reason="flies as agreed", by=IDA, at=timezone.now(), document="e-mail of 3 May",
              person="R. Holm, carrier", reference="FMC")  # fmt: skip


def planned(show, **question):
    load = wanted(show, Question(**question), timezone.now())
    return load, judged(load, at_once(load.job))


def left(show, **question):
    load, plan = planned(show, **question)
    assert plan.breaches == ()
    return {load.job.kinds[one.gear].name: one.count for one in plan.left}


def packed(show):
    """What the plan has in each case, by the names of the kinds."""
    load, plan = planned(show)
    assert plan.breaches == ()
    return {case: sorted(load.job.kinds[ident].name for ident, _ in held) for case, held in plan.contents.items()}


@pytest.mark.parametrize("over", [BIG, UPS], ids=["watt-hours", "lead-acid"])
def test_what_was_decided_is_planned_in_the_case_the_decision_names(show, home, other, over):
    thing("Cinder", home, **over)
    leg = flight(show, home, other)
    assert list(left(show).values()) == [1]
    decide(leg)
    assert left(show) == {} and packed(show) == {"HER-05": ["Cinder"]}
    assert not blocks_for_leg(leg, timezone.now())


def test_a_battery_by_itself_flies_alone_by_decision_and_what_runs_on_it_stays_out(show, home, other):
    thing("Pack", home, **PACK)
    leg = flight(show, home, other)
    assert left(show) == {"Pack": 1}
    decide(leg)
    thing("Camera", other, battery_count=1, battery_chemistry="Li-ion", battery_wh=60)
    assert left(show) == {} and packed(show) == {"HER-05": ["Pack"], "HER-06": ["Camera"]}


def test_desk_and_rules_agree_that_a_small_lithium_ups_is_no_company_for_a_battery(show, home, other):
    thing("Pack", home, **PACK)
    thing("Small UPS", home, kind=Kind.UPS, battery_chemistry="lithium-ion", battery_wh=90, battery_count=1)
    leg = flight(show, home, other)
    assert left(show) == {"Pack": 1}
    assert [one.rule for one in blocks_for_leg(leg, timezone.now())] == ["lithium-alone-by-air"]


def test_more_batteries_than_the_rule_allows_fly_by_decision_with_what_runs_on_them(show, home, other):
    thing("Camera", home, battery_count=1, battery_chemistry="Li-ion", battery_wh=60)
    for _ in range(5):
        thing("Pack", home, **PACK)
    leg = flight(show, home, other)
    assert left(show) == {"Pack": 2}
    decide(leg)
    assert left(show) == {} and packed(show) == {"HER-05": ["Camera", "Pack"]}
    thing("Pack", home, **PACK)
    assert blocks_for_leg(leg, timezone.now()) and left(show) == {"Pack": 3}  # decided of five, not of six


def test_a_decision_about_a_case_does_not_free_an_accumulator_beside_it(show, home):
    thing("Camera", home, battery_count=1, battery_chemistry="Li-ion", battery_wh=60)
    for _ in range(5):
        thing("Pack", home, **PACK)
    leg = flight(show, home)
    decide(leg)
    thing("Heavy UPS", home, **UPS)
    assert left(show) == {"Heavy UPS": 1}
    assert [one.rule for one in blocks_for_leg(leg, timezone.now())] == ["lead-acid-by-air"]


def test_a_decision_for_one_of_two_flights_is_not_enough(show, home):
    thing("Cinder", home, **BIG)
    first = flight(show, home)
    decide(first)
    assert left(show) == {}
    second = flight(show, home)
    assert left(show) == {"Cinder": 1}
    decide(second)
    assert left(show) == {}


def test_a_decision_over_other_facts_frees_nothing(show, home):
    lamp = thing("Cinder", home, **BIG)
    decide(flight(show, home))
    lamp.type.battery_wh = 700
    lamp.type.save()
    assert left(show) == {"Cinder": 1}


def test_without_the_case_that_was_decided_of_the_thing_stays(show, home, other):
    thing("Cinder", home, **BIG)
    decide(flight(show, home, other))
    assert left(show, without=(home.pk,)) == {"Cinder": 1}


def test_the_desk_says_where_to_record_a_decision_and_then_whose_it_was(show, home, kit_manager, sign_in):
    thing("Cinder", home, **BIG)
    leg, client = flight(show, home), sign_in(kit_manager)
    desk, page = reverse("packing", args=[show.code]), reverse("leg", args=[leg.pk])
    before = client.get(desk)
    assert "Ask the carrier's dangerous-goods person" in text(before).replace("&#x27;", "'")
    assert "record whose decision that is on the page of the flight" in text(before)
    assert f'href="{page}"' in before.content.decode()
    (block,) = [one for one in findings_for_leg(leg, timezone.now()) if one.blocks]
    form = text(client.get(page))
    assert "Nobody can waive this: record a decision" in form and f'value="{block.digest}"' in form
    said = {"finding": block.digest, "reason": "cells removed", "person": "R. Holm, carrier", "document": "e-mail"}
    assert client.post(reverse("leg-waive", args=[leg.pk]), said).status_code == 302
    after = text(client.get(desk))
    assert "ALL GOES" in after and "By decision of a dangerous-goods person" in after
    assert "decision of R. Holm, carrier: cells removed; not approved by this tool" in after
    agreed = text(client.get(page))
    assert (
        "NO BLOCK" in agreed
        and "decision of R. Holm, carrier: cells removed" in agreed
        and Waiver.objects.get().is_decision
    )


def test_a_waiver_that_is_no_decision_frees_nothing(show, home):
    thing("Cinder", home, **BIG)
    leg = flight(show, home)
    (block,) = blocks_for_leg(leg, timezone.now())
    Waiver.objects.create(rule=block.rule, subject=block.subject, digest=block.digest, reason="hurry", by="Wes",
                          role="crew", given_at=timezone.now())  # fmt: skip
    assert left(show) == {"Cinder": 1}
