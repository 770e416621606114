"""The packing desk plans what is still to travel: ways that lie behind plan nothing, and take no vehicle."""

from __future__ import annotations

from datetime import timedelta

from django.utils import timezone

from inventory.ledger import Fact, correct, record
from inventory.models import Entry, Verb
from shipping.planning.desk import wanted
from shipping.planning.going import Question, going
from tests.factories import IDA, make_leg
from tests.shipping.desked import small_show
from tests.shipping.test_desk_pages import text, url


def under_way(**flight):
    """Both trunks went by van; only HER-13 has a way still to go."""
    at = timezone.now()
    show = small_show(back_at=at + timedelta(days=2))
    (out,) = show.consignments.get().legs.all()
    trunks = {one.case.number: one.case for one in out.consignment.cases.all()}
    record([Fact(Verb.DEPARTED, out.vehicle, place=out.road, reference=show.code)], by=IDA, at=at - timedelta(days=1))
    if flight:
        make_leg([trunks["HER-13"]], None, show, departs_at=at + timedelta(days=1), **flight)
    return show, at


def test_a_case_whose_ways_all_lie_behind_is_not_planned_and_is_named(db, kit_manager, sign_in):
    show, at = under_way(mode="air")
    goes = going(show, Question(), at)
    assert [str(case) for case in goes.cases] == ["HER-13"] and [str(case) for case in goes.done] == ["HER-14"]
    assert {item.home_case.number for item in goes.items} == {"HER-13"}
    assert goes.by_air and goes.vehicles == ()
    said = text(sign_in(kit_manager).get(url()))
    assert "Not planned any more: HER-14. It has made all the journeys of this show." in said
    assert "<h2>Vehicles</h2>" not in said and "Too much for the vehicles" not in said


def test_a_departure_that_was_taken_back_lies_behind_nobody(db):
    show, at = under_way(mode="air")
    correct(Entry.objects.get(verb=Verb.DEPARTED).act, reason="pressed too early", by=IDA, at=at)
    assert {str(case) for case in going(show, Question(), at).cases} == {"HER-13", "HER-14"}


def test_a_show_all_of_whose_ways_lie_behind_is_planned_as_a_whole(db):
    show, at = under_way()
    assert set(wanted(show, Question(), at).cases) == {"HER-13", "HER-14"}


def test_a_show_that_is_over_is_planned_as_a_whole_though_a_leg_never_left(db):
    show, at = under_way(mode="air")
    show.back_at = at - timedelta(hours=1)
    assert set(wanted(show, Question(), at).cases) == {"HER-13", "HER-14"}


def test_a_case_that_goes_by_another_way_than_a_vehicle_is_told_beside_the_vehicles(db, kit_manager, sign_in):
    at = timezone.now()
    show = small_show(back_at=at + timedelta(days=2))
    case = show.consignments.get().cases.get(case__number="HER-13")
    make_leg([case.case], None, show, mode="courier", departs_at=at + timedelta(days=1))
    case.delete()
    said = text(sign_in(kit_manager).get(url()))
    assert f"{case.case} is consigned by courier" in said


def test_what_finds_no_case_is_named_in_the_verdict(tonight, client):
    client.force_login(tonight.witnesses["ida"].user)
    said = text(client.get(url(code="SBR")))
    assert "Drumfell Steady L8 finds no case: the reason stands below." in said
    assert "on Meadowrue" not in said and "WRE-06" in said and "things left behind" in said
