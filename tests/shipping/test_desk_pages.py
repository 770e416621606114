"""The packing desk as people see it: the plan at once, what is elsewhere and why, what is too much, what is missing."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.models import Item
from shipping.models import PackPlan, PlanRun
from shipping.solving import Search
from tests.factories import make_vehicle
from tests.shipping.desked import reel, small_show, trunk


@pytest.fixture
def show(db):
    return small_show()


def url(name="packing", query="", code="FMC"):
    return reverse(name, args=[code]) + query


def text(response):
    return " ".join(response.content.decode().split())


def test_a_whole_plan_stands_on_the_page_at_once_and_nothing_is_written(show, kit_manager, sign_in):
    said = text(sign_in(kit_manager).get(url()))
    assert (
        "ALL GOES" in said and "1 case carries everything, 38 kg, 3 out of the usual case; 1 fewer than usual" in said
    )
    assert "the fewest possible; a calculation from entered figures, not a load-safety approval" in said
    assert "3 x Hobbinet Reel" in said and "can then stay behind: one case fewer" in said
    assert "trunk-view" in said and "checked apart from the planner: passed" in said
    assert not PackPlan.objects.exists() and not PlanRun.objects.exists()


def test_the_show_leads_to_it(show, kit_manager, sign_in):
    assert url() in text(sign_in(kit_manager).get(reverse("show", args=["FMC"])))


def test_a_search_is_begun_watched_and_its_plan_taken_in(show, kit_manager, sign_in):
    client = sign_in(kit_manager)
    assert "data-begin" in text(client.get(url()))
    assert client.post(url("packing-search")).status_code == 302
    run, said = PlanRun.objects.get(), text(client.get(url()))
    assert "Searching for a better plan" in said and "data-running" in said and "Stop the search" in said
    asked = client.get(url("packing-status", f"?run={run.pk}")).json()
    assert asked["running"] is True and asked["plan"] == PackPlan.objects.get().pk
    run.seconds = 2
    run.save()
    Search(run, timezone.now, watched=False).solve()
    asked = client.get(url("packing-status", f"?run={run.pk}")).json()
    assert asked["running"] is False and asked["plan"] == PackPlan.objects.first().pk
    said = text(client.get(url()))
    assert "Fewest found possible under the limits entered." in said and "data-begin" not in said


def test_the_status_of_no_search_is_that_none_runs(show, staff, sign_in):
    for query in ("", "?run=x", "?run=9799456d-5cb2-4872-af21-c03795600e72"):
        assert sign_in(staff).get(url("packing-status", query)).json() == {"running": False, "plan": None, "words": ""}


def test_a_search_is_stopped_by_who_leads_the_show(show, kit_manager, crew, sign_in):
    client = sign_in(kit_manager)
    client.post(url("packing-search"))
    run = PlanRun.objects.get()
    assert sign_in(crew).post(url("packing-stop"), {"run": run.pk}).status_code == 403
    client.post(url("packing-stop"), {"run": run.pk})
    assert PlanRun.objects.get().stop_asked_by == "Ida Penrake"


def test_who_may_not_search_sees_the_plan_and_no_button(show, staff, sign_in):
    said = text(sign_in(staff).get(url()))
    assert "ALL GOES" in said and "Search for a better plan" not in said


def test_a_road_lead_of_another_show_is_told_whom_to_ask(show, road_lead, kit_manager, sign_in):
    show.lead = kit_manager
    show.save()
    assert sign_in(road_lead).post(url("packing-search")).status_code == 403


def test_what_is_not_entered_is_named_with_where_to_enter_it(show, kit_manager, sign_in):
    cord = reel(trunk("HER-15"), "Cord", length_mm=None)
    said = text(sign_in(kit_manager).get(url()))
    assert "Hobbinet Cord: no size entered (one thing), so it stays in HER-15." in said
    assert reverse("item-type", args=[cord.type_id]) in said


def test_what_cannot_be_packed_is_named_with_a_reason(show, kit_manager, sign_in):
    reel(None, "Long mast", length_mm=1500)
    said = text(sign_in(kit_manager).get(url()))
    assert "NOT ALL" in said and "1 x Hobbinet Long mast" in said and "No case takes it" in said
    assert "infeasible" not in said.lower()


def test_nothing_booked_says_what_to_do(show, kit_manager, sign_in):
    show.bookings.all().delete()
    show.consignments.all().delete()
    said = text(sign_in(kit_manager).get(url()))
    assert "Nothing is booked that could be packed. Book a system" in said


def test_another_question_stands_in_the_address(show, kit_manager, sign_in):
    client = sign_in(kit_manager)
    said = text(client.get(url(query="?order=usual")))
    assert "2 cases carry everything, 58 kg, all in the usual cases" in said
    assert "Everything that goes is in its usual case" in said
    said = text(client.get(url(query="?without=HER-14")))
    assert "HER-14 does not go" not in said and "1 case carries everything" in said
    wrong = client.get(url(query="?home=ZZZ"))
    assert wrong.status_code == 422 and "Nothing is called ZZZ" in text(wrong)
    assert client.get(url(query="?van=Nothing")).status_code == 422


def test_a_thing_that_stays_at_home_is_not_planned(show, kit_manager, sign_in):
    item = reel(None, "Long mast", length_mm=1500)
    said = text(sign_in(kit_manager).get(url(query=f"?home={item.code}")))
    assert "ALL GOES" in said and "Long mast" not in said.split("What if")[0]


def test_too_much_for_the_vehicles_says_by_how_much(db, kit_manager, sign_in):
    small_show(payload_kg=200)  # 95 % of it less the crew leaves 30 kg
    said = text(sign_in(kit_manager).get(url(query="?order=usual")))
    assert "TOO MUCH" in said and "The cases weigh 58 kg as usually packed; 30 kg may be planned onto Meadowrue" in said
    assert "28 kg too much" in said and "Hire a vehicle for at least 28 kg more" in said


def test_the_page_costs_the_same_whatever_its_size(show, kit_manager, sign_in):
    client = sign_in(kit_manager)

    def asked():
        client.get(url())
        with CaptureQueriesContext(connection) as queries:
            assert client.get(url()).status_code == 200
        return len(queries)

    before = asked()
    for at in range(15, 20):
        reel(trunk(f"HER-{at}"), f"Reel {at}", length_mm=None)
    assert asked() == before


def searched(client, query=""):
    client.post(url("packing-search", query))
    run = PlanRun.objects.get(ended_at=None)
    run.seconds = 2
    run.save()
    Search(run, timezone.now, watched=False).solve()


def test_what_if_a_case_stays_starts_from_the_last_plan_and_says_what_changes(show, kit_manager, sign_in):
    client = sign_in(kit_manager)
    searched(client)
    used = PackPlan.objects.first()
    gone = Item.objects.get(pk=next(iter(set(used.items.values()))))
    other = {"HER-13": "HER-14", "HER-14": "HER-13"}[gone.number]
    client.post(url("packing-search", f"?without={gone.number}"))
    said = text(client.get(url(query=f"?without={gone.number}")))
    assert f"1 case is no longer used: {gone.number}." in said and f"1 more case goes: {other}." in said
    assert f'6 x Hobbinet Reel</th><td data-label="Before">{gone.number}</td>' in said
    assert "Compared with the plan kept" in said and "The same mass in all." in said


def test_what_if_a_thing_stays_at_home_takes_it_out_and_moves_nothing_else(show, kit_manager, sign_in):
    client, item = sign_in(kit_manager), Item.objects.filter(home_case__number="HER-13", type__name="Reel").first()
    searched(client)
    said = text(client.get(url(query=f"?home={item.code}")))
    assert "1 x Hobbinet Reel" in said and "does not go" in said and "3 kg less in all." in said
    assert PackPlan.objects.count() == 2  # looking keeps nothing


def test_what_if_on_another_van_names_what_rides_elsewhere(show, kit_manager, sign_in):
    make_vehicle("Teasel", 2400, number="Teasel")
    client = sign_in(kit_manager)
    searched(client)
    said = text(client.get(url(query="?van=Teasel")))
    assert "1 case rides on Teasel, not Meadowrue: HER-1" in said


def test_a_question_without_an_earlier_plan_is_compared_with_one_made_now(show, kit_manager, sign_in):
    said = text(sign_in(kit_manager).get(url(query="?without=HER-14")))
    assert "Compared with a first plan of the show, made now." in said
    assert not PackPlan.objects.exists()


def test_the_plain_question_compares_with_nothing(show, kit_manager, sign_in):
    assert "Against the show as it is booked" not in text(sign_in(kit_manager).get(url()))


def test_each_case_leads_to_what_if_it_does_not_go_and_keeps_what_was_asked_before(show, kit_manager, sign_in):
    page = sign_in(kit_manager).get(url(query="?order=usual")).content.decode()
    assert 'href="?order=usual&amp;without=HER-13"' in page and 'href="?order=usual&amp;leave=HER-13"' in page


@pytest.mark.parametrize(
    ("query", "is_open"),
    [
        ("", False),
        ("?order=usual", False),
        ("?without=HER-14", True),
        ("?home=R-01", True),
        ("?home=nothing-like-it", True),
    ],
)
def test_what_is_rarely_asked_is_folded_until_it_is_asked(show, kit_manager, sign_in, query, is_open):
    reel(None, number="R-01")
    said = text(sign_in(kit_manager).get(url(query=query)))
    assert said.count('<details open id="stays">') == is_open
    for words in ("What counts first", "Without these cases", "Leave these cases behind", "These things stay at home"):
        assert said.count(words) == 1
