"""A show of which some cases fly and others ride: what may not fly is planned into what rides."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from django.utils import timezone

from inventory.models import Kind
from shipping.packing.planner.solver import at_once
from shipping.planning.desk import wanted
from shipping.planning.foretold import breaches, judged
from shipping.planning.going import Question
from tests.factories import T0, make_item, make_leg, make_type, make_vehicle
from tests.shipping.desked import small_show
from tests.shipping.desked import trunk as small_trunk
from tests.shipping.test_desk_pages import text, url
from tests.shipping.trunks import MEASURED, trunk

LITHIUM = {"battery_chemistry": "Li-ion", "battery_wh": 98}


def thing(name, home, system, **over):
    return make_item(make_type(name, **{**MEASURED, **over}), home_case=home, home_system=system)


def load(show, **question):
    return wanted(show, Question(**question), T0)


def where(plan, name):
    """How many of a kind each case takes."""
    found = {case: sum(many for ident, many in held if name in ident) for case, held in plan.contents.items()}
    return {case: many for case, many in found.items() if many}


def make_ups(home, heron):
    return thing("Steady 1500", home, heron, kind=Kind.UPS, battery_count=1, battery_chemistry="lead-acid")


@pytest.fixture
def flown(show, heron):
    """Goes by air, with the batteries and the UPS that usually live in it."""
    case = trunk("HER-05", heron)
    for _ in range(5):
        thing("Reach pack", case, heron, kind=Kind.BATTERY, mass_kg=1, **LITHIUM)
    make_ups(case, heron)
    thing("Reach camera", case, heron, battery_count=1, **LITHIUM)
    make_leg([case], show=show, mode="air", passenger_aircraft=True)
    return case


def test_what_may_not_fly_goes_into_the_case_that_goes_by_road(show, heron, flown):
    alone = judged(load(show), at_once(load(show).job))
    assert {one.gear: one.count for one in alone.left} == {"Kittiwade Reach pack": 2, "Kittiwade Steady 1500": 1}
    make_leg([trunk("HER-06", heron)], show=show, mode="road")
    found = load(show)
    assert {one.id: (one.rides, one.off_vans) for one in found.job.shells} == {
        "HER-05": (False, True), "HER-06": (True, False),
    }  # fmt: skip
    plan = judged(found, at_once(found.job))
    assert plan.breaches == () and not plan.left and where(plan, "Steady") == {"HER-06": 1}
    assert sum(where(plan, "pack").values()) == 5 and where(plan, "pack").get("HER-05", 0) <= 3


def test_an_alike_case_by_air_refuses_what_the_case_by_road_takes(show, heron, flown):
    make_leg([trunk("HER-06", heron)], show=show, mode="road")
    found = load(show)
    plan = judged(found, at_once(found.job))
    other = {"HER-05": "HER-06", "HER-06": "HER-05"}
    turned = replace(plan, contents={other[case]: held for case, held in plan.contents.items()},
                     layouts={other[case]: laid for case, laid in plan.layouts.items()})  # fmt: skip
    assert any("lead-acid, in HER-05" in one for one in breaches(found, turned))
    untold = replace(found, job=replace(found.job, air=None))  # as if the check by geometry knew nothing of the air
    assert breaches(untold, plan) == () and any("lead" in one for one in breaches(untold, turned))


def test_vans_carry_what_rides_and_not_what_flies(show, heron, flown):
    van = make_vehicle("Teasel", 1000, number="Teasel")
    make_leg([trunk("HER-06", heron)], van, show, mode="road")
    found = load(show)
    plan = judged(found, at_once(found.job))
    assert plan.breaches == () and set(plan.contents) == {"HER-05", "HER-06"} and plan.vans == {"HER-06": "Teasel"}


def test_a_case_that_goes_to_its_flight_by_van_is_planned_onto_the_van(show, heron, flown):
    van = make_vehicle("Teasel", 1000, number="Teasel")
    to_the_airport = make_leg([], van, show, mode="road")
    to_the_airport.consignment, to_the_airport.position = flown.consignments.get().consignment, 2
    to_the_airport.save()
    make_leg([trunk("HER-06", heron)], van, show, mode="road")
    assert {one.id: (one.rides, one.off_vans) for one in load(show).job.shells} == {
        "HER-05": (False, False), "HER-06": (True, False),
    }  # fmt: skip


def test_a_case_that_no_leg_names_is_planned_as_if_it_flew_and_that_is_said(show, heron, flown):
    make_leg([trunk("HER-06", heron)], show=show, mode="road")
    trunk("HER-07", heron)
    found = load(show)
    assert {one.id: (one.rides, one.off_vans) for one in found.job.shells}["HER-07"] == (False, False)
    (note,) = found.notes
    for at in range(10, 17):
        trunk(f"HER-{at}", heron)
    assert "whether HER-07, HER-10, HER-11, HER-12, HER-13 and 3 more will fly" in load(show).notes[0]
    assert note.startswith("No leg to come tells whether HER-07 will fly")


def test_what_a_courier_carries_is_planned_as_if_it_flew(show, heron, flown):
    make_leg([trunk("HER-06", heron)], show=show, mode="courier")
    make_leg([trunk("HER-07", heron)], show=show, mode="sea")
    found = load(show)
    assert {one.id: (one.rides, one.off_vans) for one in found.job.shells} == {
        "HER-05": (False, True), "HER-06": (False, False), "HER-07": (True, False),
    }  # fmt: skip
    (note,) = found.notes
    assert note.startswith("No leg to come tells whether HER-06 will fly (by courier it may)")


def test_where_all_that_is_consigned_flies_nothing_rides_and_the_rest_is_named(show, heron, flown):
    trunk("HER-06", heron)
    found = load(show, vehicles=(make_vehicle("Teasel", 1000, number="Teasel").pk,))
    assert not any(one.rides or one.off_vans for one in found.job.shells)
    assert any("whether HER-06 will fly" in one for one in found.notes)


def test_a_show_that_rides_whole_says_nothing_of_the_air(show, heron):
    make_leg([trunk("HER-06", heron)], show=show, mode="road")
    trunk("HER-07", heron)
    found = load(show)
    assert found.job.air is None and not found.notes and not any(one.rides for one in found.job.shells)


def test_the_page_tells_what_flies_beside_the_vehicles(db, kit_manager, sign_in):
    at = timezone.now()
    show = small_show(back_at=at + timedelta(days=2))
    case = small_trunk("HER-15")
    make_item(make_type("Steady 1500", kind=Kind.UPS, **MEASURED), home_case=case)
    make_leg([case], None, show, mode="air", departs_at=at + timedelta(days=1))
    said = text(sign_in(kit_manager).get(url()))
    assert "HER-15 flies, and goes on none of these vehicles." in said and "is consigned by air" not in said
    assert "it may fly, and nobody has entered what battery it is or has" in said
