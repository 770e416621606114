"""Loads and plans as data: what is stored comes back the same, and a load is what a load file would say."""

from __future__ import annotations

import json

import pytest

from shipping.packing.kept import as_load, plan_data, plan_of
from shipping.packing.planner.solver import at_once
from shipping.packing.reading import job_of
from shipping.packing.wanted import Air, Gear, Job, Van
from tests.shipping.packing.loads import filled, trunk


@pytest.mark.parametrize("seed", range(3))
def test_a_load_written_as_a_file_reads_back_the_same(seed):
    job, _ = filled(100, seed)
    assert job_of(json.dumps(as_load(job))) == job


def test_a_load_keeps_grams_vehicles_and_switches():
    gear = Gear("reel", "reel", "loose", 3, 1_234, homes=(("T1", 3),), stays=True, convoy="Heron")
    job = Job((gear,), (trunk("T1"),), (Van("Teasel", "Teasel", 2_120_500),), 90, True, True)
    assert job_of(json.dumps(as_load(job))) == job


def test_a_load_by_air_keeps_what_keeps_things_apart_and_what_batteries_they_have():
    camera = Gear("camera", "camera", "loose", 2, 900, size_mm=(9, 9, 9), runs_on=2, chemistry="lithium",
                  battery_mwh=98_540)  # fmt: skip
    rails = Gear("rails", "rails", "rack", 1, 900, spare="rails")
    drive = Gear("drive", "drive", "loose", 1, 900, units=1, rails="rails", boxed=True, copies=("x", "y"))
    case = trunk("T1", lift_g=60_500, made_for=("drive",), compartments=(("drive", 2),))
    job = Job((camera, rails, drive), (case,), air=Air(False, True, 99_999, 1, 4_500))
    assert job_of(json.dumps(as_load(job))) == job


def test_a_plan_comes_back_from_text_as_it_was():
    job, _ = filled(100, 1)
    plan = at_once(job)
    assert plan.contents and plan.layouts
    assert plan_of(json.loads(json.dumps(plan_data(plan)))) == plan
