"""A show's load keeps apart what must not travel together, and by air what may not fly."""

from __future__ import annotations

from dataclasses import replace

import pytest

from inventory.answers.keeping import Kept, KeptCopy
from inventory.answers.values import ItemRef
from inventory.models import Kind, SystemPart
from shipping.packing.planner.solver import at_once
from shipping.packing.wanted import Air, Left
from shipping.planning.desk import wanted
from shipping.planning.foretold import breaches, judged
from shipping.planning.going import Question
from tests.factories import (
    T0,
    make_case,
    make_case_type,
    make_drive,
    make_item,
    make_leg,
    make_type,
    make_vehicle,
)
from tests.shipping.trunks import MEASURED, TRUNK, trunk


def thing(name, home, system, **over):
    return make_item(make_type(name, **{**MEASURED, **over}), home_case=home, home_system=system)


def load(show, **question):
    return wanted(show, Question(**question), T0)


def copied(original, copy):
    """What a drive holds of FMC, with one confirmed copy of it: on that drive."""
    return Kept(ItemRef(original.pk, "", "", original.serial), "FMC", False, (KeptCopy(on_drive=copy.pk),))


@pytest.fixture
def two_drives(show, heron, monkeypatch):
    """An original and its only copy, each in its usual slot."""
    homes = [make_case(f"HER-1{at}", make_case_type("Case of slots", slots="1 2", **TRUNK), home_system=heron)
             for at in range(2)]  # fmt: skip
    drives = [make_drive(f"71B0{at}K", home_case=home, home_system=heron) for at, home in enumerate(homes)]
    monkeypatch.setattr("shipping.planning.desk.kept_on", lambda ids, at: [copied(*drives)])
    return drives


def _told_nothing(found):
    """As if the planner and its check knew of no copies, so that only the rule can see them."""
    return tuple(replace(one, copies=()) for one in found.job.gear)


def _without_the_rest(found, plan):
    """What the plan does not pack is left, so that the counts hold."""
    packed = {ident: count for held in plan.contents.values() for ident, count in held}
    left = tuple(Left(one.id, one.count - packed.get(one.id, 0), "not asked") for one in found.job.gear)
    return replace(plan, left=tuple(one for one in left if one.count), layouts=_of_packed(plan, packed))


def _of_packed(plan, packed):
    return {case: tuple(one for one in laid if one.gear in packed) for case, laid in plan.layouts.items()}


def test_an_original_and_its_only_copy_are_planned_onto_two_vehicles(show, two_drives):
    vans = [make_vehicle(name, 1000, number=name) for name in ("Meadowrue", "Teasel")]
    found = load(show, vehicles=tuple(van.pk for van in vans))
    assert [len(one.copies) for one in found.job.gear] == [1, 1]
    plan = judged(found, at_once(found.job))
    assert plan.breaches == () and not plan.left and len(set(plan.vans.values())) == 2
    together = replace(plan, vans=dict.fromkeys(plan.vans, "Teasel"))
    said = breaches(replace(found, job=replace(found.job, gear=_told_nothing(found))), together)
    assert any("only other copy" in one for one in said)


def test_with_one_vehicle_the_copy_stays_and_that_is_said(show, two_drives):
    found = load(show, vehicles=(make_vehicle("Meadowrue", 1000, number="Meadowrue").pk,))
    plan = judged(found, at_once(found.job))
    assert plan.breaches == () and [one.count for one in plan.left] == [1]
    assert "do not go on one vehicle" in plan.left[0].reason


def test_a_spare_of_a_show_stopper_is_kept_in_another_case(show, heron):
    first, second = trunk("HER-05", heron), trunk("HER-06", heron)
    for home in (first, first, second):
        sender = thing("Reach sender", home, heron)
    SystemPart.objects.create(system=heron, type=sender.type, quantity=1, show_stopper=True)
    found = load(show)
    assert sorted((one.spare != "", one.homes) for one in found.job.gear) == [
        (False, (("HER-05", 1),)), (True, (("HER-05", 1),)), (True, (("HER-06", 1),)),
    ]  # fmt: skip
    assert len(at_once(found.job).contents) == 2


def test_by_air_batteries_are_planned_by_the_limits_of_the_day(show, heron):
    home = trunk("HER-05", heron)
    lithium = {"battery_chemistry": "Li-ion", "battery_wh": 98}
    thing("Reach camera", home, heron, battery_count=1, **lithium)
    for _ in range(5):
        thing("Reach pack", home, heron, kind=Kind.BATTERY, mass_kg=1, **lithium)
    thing("Mystery lamp", home, heron, battery_count=1)
    make_leg([home], show=show, mode="air", passenger_aircraft=True)
    found = load(show)
    assert found.job.air == Air(passenger=True)
    assert any("Mystery lamp: it flies, and nobody" in one.sentence for one in found.missing)
    plan = judged(found, at_once(found.job))
    assert plan.breaches == () and [one.count for one in plan.left] == [1]
    alone = replace(plan, contents={case: tuple(one for one in held if "pack" in one[0]) for case, held in
                                    plan.contents.items()})  # fmt: skip
    said = breaches(replace(found, job=replace(found.job, air=None)), _without_the_rest(found, alone))
    assert any("without equipment" in one for one in said)
