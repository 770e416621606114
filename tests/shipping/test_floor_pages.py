"""The floor plan of a leg: planned from the book, drawn, kept with its record, and printed on the truck load sheet."""

from __future__ import annotations

from datetime import timedelta
from itertools import count

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory import ledger, papers
from inventory.ledger import Fact
from inventory.models import Axle, Verb
from inventory.models.appendonly import AppendOnlyError
from inventory.templatetags.papers import floor
from shipping import boards, deck_page, deck_solving, decks, spots
from shipping.daylist import day_list
from shipping.deck_solving import DeckSearch
from shipping.documents.forms import draft
from shipping.models import ConsignmentCase, DeckPlan, PlanRun
from shipping.packing.floor.kept import plan_of
from shipping.packing.floor.telling import spot_words
from shipping.planning.drive import DeckQuestion
from tests.factories import ANA, IDA, T0, make_case, make_case_type, make_leg, make_place, make_vehicle

SIZE = {"length_mm": 800, "width_mm": 600, "height_mm": 500}


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(T0, tick=False):
        yield


@pytest.fixture
def teasel(db):
    vehicle = make_vehicle()
    held = vehicle.type.container
    held.inner_length_mm, held.inner_width_mm, held.inner_height_mm = 6100, 2400, 2300
    held.save()
    return vehicle


def a_case(number: str, tare: int = 30, **size: int):
    kind = make_case_type(f"type of {number}", tare_kg=tare)
    for name, value in {**SIZE, "max_on_top_kg": 40, **size}.items():
        setattr(kind, name, value)
    kind.save()
    return make_case(number, kind)


@pytest.fixture
def cases(db):
    return [a_case(f"HER-{n:02}") for n in range(1, 7)]


@pytest.fixture
def leg(cases, teasel):
    return make_leg(cases, teasel)


def text(response) -> str:
    return " ".join(response.content.decode().split())


def searched(leg, question=decks.PLAIN):
    """A search run to its end in this process; its newest plan."""
    run = deck_solving.start(leg, question, by="Ida Penrake", at=T0, seconds=5)
    steps = count()
    DeckSearch(run, lambda: T0 + timedelta(milliseconds=next(steps)), watched=False).solve()
    run.refresh_from_db()
    assert run.ending == "finished"
    return DeckPlan.objects.filter(run=run.pk).first()


def accepted(leg):
    return deck_solving.accept(leg, searched(leg).pk, by=IDA, at=T0)


def test_a_plan_is_on_the_page_at_once_with_its_drawing_and_record(sign_in, crew, leg):
    page = text(sign_in(crew).get(f"/leg/{leg.pk}/floor/"))
    assert "All 6 cases find a place on Teasel" in page and 'class="drawing floor-plan' in page
    assert "not a load-safety approval" in page and "Checked apart from the planner: passed." in page
    assert "Axle loads were not reckoned" in page
    assert "Search for a better plan" not in page


def test_a_lead_has_the_best_plan_kept_and_sees_it(sign_in, road_lead, leg):
    client = sign_in(road_lead)
    page = text(client.post(f"/leg/{leg.pk}/floor/search/", follow=True))
    assert "Searching for a better plan" in page and "Stop the search" in page
    DeckSearch(PlanRun.objects.get(), timezone.now, watched=False).solve()
    page = text(client.get(f"/leg/{leg.pk}/floor/"))
    assert "Fewest found possible under the limits entered." in page and "by Ana Rell" in page
    assert "prints a plan once it is accepted" in page
    kept = DeckPlan.objects.first()
    assert (kept.left, kept.proven, kept.check_passed, kept.made_by) == (0, True, True, "Ana Rell")
    page = text(client.post(f"/leg/{leg.pk}/floor/accept/", {"plan": kept.pk}, follow=True))
    assert "LOAD BY THIS" in page and "Accepted: load by this plan" in page
    with pytest.raises(AppendOnlyError):
        kept.delete()


def test_a_search_is_stopped_and_what_it_found_stays(sign_in, road_lead, leg):
    client = sign_in(road_lead)
    client.post(f"/leg/{leg.pk}/floor/search/")
    run = PlanRun.objects.get()
    told = client.get(f"/leg/{leg.pk}/floor/status/", {"run": run.pk}).json()
    assert told["running"] and told["plan"] == DeckPlan.objects.get().pk
    client.post(f"/leg/{leg.pk}/floor/stop/", {"run": run.pk})
    search = DeckSearch(run, timezone.now, watched=False)
    search.look()
    search.solve()
    run.refresh_from_db()
    assert (run.ending, run.stop_asked_by) == ("stopped", "Ana Rell") and DeckPlan.objects.count() == 1


def test_a_what_if_is_planned_beside_and_never_accepted(sign_in, road_lead, leg):
    searched(leg)
    client = sign_in(road_lead)
    address = f"/leg/{leg.pk}/floor/?stay=HER-01"
    assert "All 5 cases" in text(client.get(address)) and "Accept: load by" not in text(client.get(address))
    small = make_vehicle("Meadowrue")
    assert "the deck of Meadowrue is" in text(client.get(f"/leg/{leg.pk}/floor/?van={small}"))
    kept = searched(leg, DeckQuestion(stay=(leg.consignment.cases.first().case_id,)))
    assert len(kept.plan["spots"]) == 5
    page = text(client.post(f"/leg/{leg.pk}/floor/accept/", {"plan": kept.pk}, follow=True))
    assert "This plan answers a what-if" in page and client.get(f"/leg/{leg.pk}/floor/?van=x").status_code == 422


def test_stops_in_another_order_turn_the_load_round(leg, teasel):
    make_leg([a_case("CUR-01")], teasel, leg.consignment.show, to_place=make_place("Quay Unit"),
             arrives_at=T0 + timedelta(days=2))  # fmt: skip
    plain = deck_page.page_of(leg, T0)
    turned = deck_page.page_of(leg, T0, DeckQuestion(order=(2, 1)))
    assert turned.freight.deck.stops == plain.freight.deck.stops[::-1] and turned.plan.breaches == ()
    assert turned.freight.by_id != plain.freight.by_id


def test_a_plan_of_a_book_that_changed_is_not_accepted(leg):
    kept = searched(leg)
    ConsignmentCase.objects.create(consignment=leg.consignment, case=a_case("HER-20"), position=20)
    with pytest.raises(deck_solving.DeckRefusal, match="changed since"):
        deck_solving.accept(leg, kept.pk, by=IDA, at=T0)


def test_crew_may_look_and_not_plan(sign_in, crew, leg):
    response = sign_in(crew).post(f"/leg/{leg.pk}/floor/search/")
    assert response.status_code == 403 and not DeckPlan.objects.exists()


def test_a_kept_plan_of_another_list_is_said_to_be_changed(sign_in, road_lead, leg):
    accepted(leg)
    ConsignmentCase.objects.create(consignment=leg.consignment, case=a_case("HER-20"), position=20)
    page = text(sign_in(road_lead).get(f"/leg/{leg.pk}/floor/"))
    assert "CHANGED" in page and "All 7 cases" in page and "LOAD BY THIS" not in page


def test_what_stays_behind_stands_first_with_its_reason(sign_in, road_lead, leg):
    odd = a_case("HER-30", height_mm=2400)
    ConsignmentCase.objects.create(consignment=leg.consignment, case=odd, position=30)
    page = text(sign_in(road_lead).get(f"/leg/{leg.pk}/floor/"))
    assert "1 of 7 cases find no place" in page
    assert "It is 2,400 mm high; inside there are 2,300 mm." in page
    kept = searched(leg)
    assert kept.left == 1


def test_axles_of_the_book_are_reckoned_after_every_stop(sign_in, road_lead, leg, teasel):
    for at, limit, empty in ((-900, 3200, 2550), (3350, 5200, 2550)):
        Axle.objects.create(container=teasel.type.container, behind_headboard_mm=at, limit_kg=limit, empty_kg=empty)
    second = make_leg([a_case("CUR-01")], teasel, leg.consignment.show, to_place=make_place("Quay Unit"),
                      arrives_at=T0 + timedelta(days=2))  # fmt: skip
    for one in (leg, second):
        page = text(sign_in(road_lead).get(f"/leg/{one.pk}/floor/"))
        assert "All 7 cases" in page and "After Mill Yard" in page and "Off at" in page
        assert "of 3,200 kg entered" in page and "Axle loads were not reckoned" not in page


def test_a_weighed_case_counts_with_what_the_scale_said(leg, cases):
    ledger.record([Fact(Verb.WEIGHED, cases[0], mass_g=45_500)], by=IDA, at=T0)
    page = deck_page.page_of(leg, T0 + timedelta(minutes=1))
    assert page.freight.by_id[str(cases[0].pk)].mass_g == 45_500


def test_a_leg_without_a_deck_says_what_to_enter(sign_in, road_lead, cases, db):
    client = sign_in(road_lead)
    plain = make_leg(cases, make_vehicle("Meadowrue"))
    assert "how long, wide and high the deck of Meadowrue is" in text(client.get(f"/leg/{plain.pk}/floor/"))
    by_air = make_leg(cases[:1])
    assert "has no vehicle of ours" in text(client.get(f"/leg/{by_air.pk}/floor/"))
    assert "has no vehicle of ours" in text(client.post(f"/leg/{by_air.pk}/floor/search/", follow=True))


def test_the_number_of_queries_does_not_grow_with_the_cases(sign_in, road_lead, leg):
    client = sign_in(road_lead)
    counts = []
    for more in (1, 6):
        for n in range(more):
            one = a_case(f"GEN-{more}{n}")
            ConsignmentCase.objects.create(consignment=leg.consignment, case=one, position=40 + more * 10 + n)
        with CaptureQueriesContext(
            connection,
        ) as run:
            client.get(f"/leg/{leg.pk}/floor/")
        counts.append(len(run))
    assert counts[0] == counts[1]


def test_the_truck_sheet_prints_the_kept_drawing_and_its_places(leg, cases):
    plain = draft("truck-sheet", f"leg {leg.pk}", "a4", T0).body
    assert plain.floor is None and {line.row for line in plain.lines} == {""}
    accepted(leg)
    body = draft("truck-sheet", f"leg {leg.pk}", "a4", T0).body
    assert {case.label for case in body.floor.cases} == {f"HER-{n:02}" for n in range(1, 7)}
    assert "Fewest found possible" in body.floor_words and "by Ida Penrake" in body.floor_words
    assert "kN in sum" in body.floor_advice[-2] and "competent person" in body.floor_advice[-1]
    paper = papers.issue(draft("truck-sheet", f"leg {leg.pk}", "a4", T0), by=IDA.name, at=T0)
    assert not any(said.endswith("…") for said in paper.data["body"]["floor_advice"])
    places = {case.label: f"{case.row}.{case.place}.{case.tier}" for case in body.floor.cases}
    assert {line.label: line.row for line in body.lines} == places
    ledger.record([Fact(Verb.LOADED, cases[0], place=leg.vehicle.inside, bay="3.1.1")], by=IDA, at=T0)
    rows = {line.label: line.row for line in draft("truck-sheet", f"leg {leg.pk}", "a4", T0).body.lines}
    assert rows["HER-01"] == "3.1.1"


def test_a_truck_sheet_does_not_print_a_plan_of_another_list(leg):
    accepted(leg)
    ConsignmentCase.objects.create(consignment=leg.consignment, case=a_case("HER-20"), position=20)
    body = draft("truck-sheet", f"leg {leg.pk}", "a4", T0).body
    assert body.floor is None and "Plan the floor again" in body.floor_words


def test_show_and_dock_lead_to_the_floor_plan(sign_in, road_lead, leg):
    client = sign_in(road_lead)
    for page in (f"/dock/{leg.pk}/", f"/show/{leg.consignment.show.code}/"):
        assert f"/leg/{leg.pk}/floor/" in text(client.get(page))


def test_the_paper_is_the_same_drawing(leg):
    accepted(leg)
    paper = papers.issue(draft("truck-sheet", f"leg {leg.pk}", "a4", T0), by=IDA.name, at=T0)
    assert floor(paper.data["body"]["floor"]) == deck_page.page_of(leg, T0).drawing


def test_deck_and_axles_are_entered_and_reckoned_with(sign_in, kit_manager, leg, teasel):
    client = sign_in(kit_manager)
    sent = {"inner_length_mm": 6000, "inner_width_mm": 2400, "inner_height_mm": 2300, "payload_kg": 2400,
            "axles": "3350, 5200, 2550\n-900, 3200, -"}  # fmt: skip
    page = text(client.post(f"/vehicle/{teasel.pk}/deck/?leg={leg.pk}", sent, follow=True))
    assert "mm of 6,000 mm" in page and "Not every axle of Teasel" in page
    rows = Axle.objects.values_list("behind_headboard_mm", "limit_kg", "empty_kg")
    assert list(rows) == [(-900, 3200, None), (3350, 5200, 2550)]
    assert "-900, 3200, -" in text(client.get(f"/vehicle/{teasel.pk}/deck/"))
    client.post(f"/vehicle/{teasel.pk}/deck/", sent | {"axles": ""})
    assert not Axle.objects.exists()


@pytest.mark.parametrize(
    "axles,says",
    [("-900, x, 1", "Line 1: whole numbers"), ("-, 1, 2", "Line 1: say where it is"), ("1, 2, 3, 4", "say where"),
     ("1, -5, 3", "0 to 100,000 kg"), ("5, 1, 1\n5, 2, 2", "same place"), ("\n".join("123456789"), "At most 8")],
)  # fmt: skip
def test_a_slip_in_the_axles_is_said_and_nothing_is_kept(sign_in, kit_manager, teasel, axles, says):
    response = sign_in(kit_manager).post(f"/vehicle/{teasel.pk}/deck/", {"axles": axles})
    assert response.status_code == 422 and says in text(response)
    assert not Axle.objects.exists()


def test_a_case_has_no_deck_to_enter(sign_in, kit_manager, cases):
    assert sign_in(kit_manager).get(f"/vehicle/{cases[0].pk}/deck/").status_code == 404


@pytest.fixture
def planned(leg):
    """The leg, with a plan that Ana accepted."""
    deck_solving.accept(leg, searched(leg).pk, by=ANA, at=T0)
    return leg


def places() -> dict[int, str]:
    return {int(one.cargo): one.label for one in plan_of(DeckPlan.objects.latest("pk").plan).spots}


def test_without_an_accepted_plan_nothing_has_a_place(leg):
    searched(leg)
    assert spots.spots_of([leg], T0) == {}
    assert [row["spots"] for row in day_list([leg.consignment.show], T0)["cases"]] == [{}] * 6


def test_the_accepted_plan_says_where_each_case_stands(planned):
    assert spots.spots_of([planned], T0) == {planned.pk: places()}


def test_the_dock_lists_what_is_to_go_in_the_order_of_loading_with_the_drawing(planned, road_lead, sign_in):
    board = spots.with_spots(boards.board(planned, T0), T0)
    turns = [tuple(map(int, face.spot.split("."))) for face in board.to_go]
    assert len(turns) == 6 and turns == sorted(turns)
    page = text(sign_in(road_lead).get(reverse("dock", args=[planned.pk])))
    assert "floor-plan" in page and spot_words(board.to_go[0].spot).capitalize() in page


def test_a_phone_takes_the_place_of_each_case_along(planned):
    rows = {row["code"]: row["spots"] for row in day_list([planned.consignment.show], T0)["cases"]}
    by_code = {case.case.code: case.case_id for case in planned.consignment.cases.all()}
    assert rows == {code: {str(planned.pk): spot_words(places()[by_code[code]])} for code in rows}


def test_a_plan_of_other_masses_says_no_place_and_the_dock_says_why(planned, cases, road_lead, sign_in):
    ledger.record([Fact(Verb.WEIGHED, cases[0], mass_g=55_000)], by=IDA, at=timezone.now())
    assert spots.spots_of([planned], T0) == {}
    page = text(sign_in(road_lead).get(reverse("dock", args=[planned.pk])))
    assert "masses or limits have changed since. Plan the floor again." in page


def test_a_dock_without_a_plan_leads_to_the_floor_plan(leg, road_lead, sign_in):
    page = text(sign_in(road_lead).get(reverse("dock", args=[leg.pk])))
    assert "Nobody has accepted a floor plan of this load." in page and reverse("floor", args=[leg.pk]) in page


def test_a_tier_is_said_where_something_stands_below():
    assert [spot_words("3.2.1"), spot_words("3.2.2")] == ["row 3, place 2", "row 3, place 2, tier 2"]
