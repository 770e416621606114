"""A show as a load to plan: what goes, as which kinds, into which cases; what is not entered is named."""

from __future__ import annotations

import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.ledger import Fact, record
from inventory.models import Kind, Verb
from shipping.packing.planner.solver import at_once
from shipping.packing.planner.vans import gross_g
from shipping.packing.reading import job_of
from shipping.planning.desk import assigned, usual, wanted
from shipping.planning.going import Question
from tests.factories import (
    IDA,
    T0,
    make_case,
    make_case_type,
    make_drive,
    make_item,
    make_leg,
    make_set,
    make_system,
    make_type,
    make_vehicle,
)
from tests.shipping.trunks import MEASURED, trunk


def thing(name, home, system, **over):
    return make_item(make_type(name, **{**MEASURED, **over}), home_case=home, home_system=system)


def load(show, **question):
    return wanted(show, Question(**question), T0)


def kind(wanted, name):
    return next(gear for gear in wanted.job.gear if gear.name == name)


def test_alike_things_of_two_cases_are_one_kind_with_two_homes(show, heron):
    first, second = trunk("HER-05", heron), trunk("HER-06", heron)
    for home in (first, first, second):
        thing("Reach sender", home, heron)
    gear = kind(load(show), "Kittiwade Reach sender")
    assert (gear.count, gear.homes, gear.size_mm) == (3, (("HER-05", 2), ("HER-06", 1)), (300, 200, 100))


def test_what_has_no_size_stays_at_home_and_is_named_with_its_type(show, heron):
    home = trunk("HER-05", heron)
    cord = thing("C13 cord", home, heron, length_mm=None)
    found = load(show)
    gear = kind(found, "Kittiwade C13 cord")
    assert gear.stays and gear.size_mm is None
    assert [(one.type_id, one.sentence) for one in found.missing] == [
        (cord.type_id, "Kittiwade C13 cord: no size entered (one thing), so it stays in HER-05.")
    ]


def test_what_has_no_mass_stays_at_home_and_is_named(show, heron):
    thing("Fan tray", trunk("HER-05", heron), heron, mass_kg=None)
    found = load(show)
    assert kind(found, "Kittiwade Fan tray").stays
    assert "no mass entered" in found.missing[0].sentence


def test_a_case_with_things_that_are_not_measured_takes_no_strangers(show, heron):
    known, unknown = trunk("HER-05", heron), trunk("HER-06", heron)
    thing("Reach sender", known, heron)
    thing("C13 cord", unknown, heron, length_mm=None)
    found = load(show)
    family = kind(found, "Kittiwade Reach sender").family
    assert [one.id for one in found.job.shells if family in one.families] == ["HER-05"]


def test_a_case_whose_figures_are_missing_keeps_its_own_and_is_named(show, heron):
    home = trunk("HER-05", heron, "Bare trunk", tare_kg=None, max_gross_kg=None)
    thing("Reach sender", home, heron)
    found = load(show)
    assert [one.sentence.split(": ")[1].split(" entered")[0] for one in found.missing] == [
        "no empty mass", "no most gross mass",
    ]  # fmt: skip
    assert found.job.cases["HER-05"].max_gross_g == 2000
    assert at_once(found.job).contents == usual(found)


def test_delicate_things_and_what_lives_with_them_stay(show, heron):
    home = trunk("HER-07", heron)
    thing("Pane 24", home, heron, kind=Kind.MONITOR)
    thing("Pane supply", home, heron)
    trunk("HER-08", heron)
    assert all(gear.stays for gear in load(show).job.gear)
    assert load(show).missing == ()


def test_a_things_system_decides_which_cases_it_may_go_into(show, heron):
    curlew = make_system("Curlew")
    thing("Reach sender", trunk("HER-05", heron), heron)
    thing("Reach sender", trunk("CUR-05", curlew), curlew)
    trunk("GEN-01", None)
    make_leg([make_case("GEN-01x", make_case_type("Trunk"))], show=show)
    found = load(show, also=(curlew.pk,))
    reach = {one.id for one in found.job.shells if any("of Heron" in word for word in one.families)}
    assert reach == {"HER-05", "GEN-01x"}


def test_a_drive_set_goes_whole_and_alone_in_a_box(show, heron):
    box = make_case_type("Drive box", slots="A B C D E F", for_drives=True, tare_kg=8, max_gross_kg=20)
    own, drive_set = make_case("HER-03", box, home_system=heron), make_set("HERON-1", host=heron)
    for bay in "ABCDEF":
        drive = make_drive(f"71B0{bay}", home_case=own, home_set=drive_set, home_system=heron)
        record([Fact(Verb.JOINED, drive, drive_set=drive_set, bay=bay)], by=IDA, at=T0)
    found = load(show)
    gear = kind(found, "HERON-1")
    assert (gear.count, gear.slots, len(found.units[gear.id][0].items)) == (1, 6, 6)
    assert set(assigned(found, at_once(found.job).contents).values()) == {"HER-03"}


def test_rack_gear_takes_units_and_a_frame_rides_with_its_rails(show, heron):
    rack = make_case_type("Rack", rack_units=6, usable_depth_mm=700, tare_kg=30, max_gross_kg=100)
    home = make_case("HER-01", rack, home_system=heron)
    thing("Ebbmark 6", home, heron, kind=Kind.FRAME, rack_units=5, rack_depth_mm=580, needs_rails=True,
          shock_critical=True)  # fmt: skip
    thing("rail left", trunk("HER-10", heron), heron, kind=Kind.RAILS)
    found = load(show)
    frame, rail = kind(found, "Kittiwade Ebbmark 6"), kind(found, "Kittiwade rail left")
    assert (frame.units, frame.depth_mm, frame.stays) == (5, 580, True)
    assert frame.convoy == rail.convoy == "Heron and its rails"


def test_the_payload_is_the_share_less_the_crew_and_an_unknown_one_is_named(show, heron):
    make_leg([trunk("HER-05", heron)], make_vehicle("Meadowrue", 1150, number="Meadowrue"), show)
    make_leg([], make_vehicle("Teasel", None, number="Teasel"), show)
    found = load(show)
    assert [(one.id, one.payload_g) for one in found.job.vans] == [("Meadowrue", 932_500)]
    assert "Teasel: nobody has entered what it may carry" in found.missing[0].sentence


def test_the_questions_change_what_goes(show, heron):
    first, second = trunk("HER-05", heron), trunk("HER-06", heron)
    one, two = thing("Reach sender", first, heron), thing("Reach receiver", second, heron)
    assert set(load(show, without=(second.pk,)).cases) == {"HER-05"}
    assert {gear.name for gear in load(show, without=(second.pk,)).job.gear} == {
        "Kittiwade Reach sender", "Kittiwade Reach receiver",
    }  # fmt: skip
    assert [gear.name for gear in load(show, at_home=(one.pk,)).job.gear] == [str(two.type)]


def test_things_that_live_there_are_the_ones_that_stay(show, heron):
    first, second = trunk("HER-05", heron), trunk("HER-06", heron)
    here, there = (thing("Reach sender", home, heron) for home in (first, second))
    found = load(show)
    ident = found.job.gear[0].id
    assert assigned(found, {"HER-05": ((ident, 1),), "HER-06": ((ident, 1),)}) == {
        here.pk: "HER-05",
        there.pk: "HER-06",
    }
    assert assigned(found, {"HER-06": ((ident, 2),)}) == {here.pk: "HER-06", there.pk: "HER-06"}


def test_the_same_book_has_the_same_digest_and_a_changed_mass_another(show, heron):
    item = thing("Reach sender", trunk("HER-05", heron), heron)
    before = load(show).digest
    assert before == load(show).digest
    item.type.mass_kg = 3
    item.type.save()
    assert load(show).digest != before


def test_the_queries_do_not_grow_with_the_things(show, heron):
    def asked(many):
        for at in range(many):
            home = trunk(f"HER-{at + many:03}", heron)
            thing(f"Reach {at} {many}", home, heron)
        with CaptureQueriesContext(
            connection,
        ) as queries:
            load(show)
        return len(queries)

    asked(1)
    assert asked(2) == asked(5)


def told(*words):
    out, err = StringIO(), StringIO()
    call_command("plan", *words, stdout=out, stderr=err)
    return out.getvalue(), err.getvalue()


def test_the_command_plans_a_show_and_prints_it_as_a_load_file(show, heron):
    home = trunk("HER-05", heron)
    thing("Reach sender", home, heron)
    thing("C13 cord", home, heron, length_mm=None)
    out, err = told("--show", "fmc", "--json", "--seconds", "2")
    plan = json.loads(out)
    assert plan["record"]["check"] == "passed" and set(plan["cases"]) == {"HER-05"}
    assert "C13 cord: no size entered" in err
    assert job_of(told("--show", "FMC", "--load")[0]) == load(show).job


@pytest.mark.parametrize("words", [(), ("x.json", "--show", "FMC"), ("--show", "NONE"), ("--show", "FMC")])
def test_the_command_says_what_it_needs(show, words):
    with pytest.raises(CommandError, match="Name one load file|No show has|Nothing is booked"):
        told(*words)


def test_the_demo_weighs_what_its_tables_say(tonight):
    curlew, meadowrue = tonight.systems["Curlew"], tonight.things["Meadowrue"]
    show = tonight.shows["FMC"]
    masses = {}
    for also in ((), (curlew.pk,)):
        found = wanted(show, Question(also=also, vehicles=(meadowrue.pk,)), tonight.zero)
        lives = usual(found)
        masses[len(lives)] = sum(gross_g(found.job, case, held) for case, held in lives.items())
    assert masses == {18: 669_000, 32: 1_161_000}
