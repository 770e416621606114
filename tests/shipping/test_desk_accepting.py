"""Taking a plan: it becomes the show's pack lines, which case pages read; it places nothing and hides no change."""

from __future__ import annotations

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.models import Entry, Item
from shipping.models import PackLine, PackPlan, PlanAcceptance
from shipping.plan_accepting import PlanRefusal, accept
from shipping.planning.going import Question
from shipping.planning.pieces import homes
from shipping.solving import Search, start
from tests.factories import IDA, T0, make_show
from tests.shipping.desked import reel, small_show, trunk
from tests.shipping.test_desk_pages import text, url


@pytest.fixture
def show(db):
    return small_show()


@pytest.fixture
def plan(show):
    """All six reels in one trunk, kept."""
    run = start(show, Question(), by="Ida Penrake", at=timezone.now(), seconds=2)
    Search(run, timezone.now, watched=False).solve()
    return PackPlan.objects.first()


def planned(show):
    """Item id to the case that the book has it in for the show."""
    return {item: case for item, (case, _) in homes(list(Item.objects.values_list("pk", flat=True)), show).items()}


def test_a_whole_plan_becomes_the_pack_lines_of_what_is_elsewhere(show, plan):
    taken = accept(show, plan.pk, None, by=IDA, at=T0)
    assert planned(show) == {int(item): case for item, case in plan.items.items()}
    assert PackLine.objects.count() == taken.lines == 3
    line = PackLine.objects.first()
    assert (line.decided_by, "one case fewer" in line.why) == ("Ida Penrake", True)
    assert PlanAcceptance.objects.get().whole and not Entry.objects.exists()


def test_accepting_twice_leaves_the_same_lines(show, plan):
    accept(show, plan.pk, None, by=IDA, at=T0)
    before = planned(show)
    accept(show, plan.pk, None, by=IDA, at=T0)
    assert (planned(show), PackLine.objects.count(), PlanAcceptance.objects.count()) == (before, 3, 2)


def test_one_case_is_taken_without_the_others(show):
    third, small = trunk("HER-15"), trunk("HER-16", name="Small trunk", inner_length_mm=450, inner_height_mm=450)
    there, mast = reel(small), reel(None, "Mast", length_mm=900, width_mm=450, height_mm=450)
    run = start(show, Question(usual_first=True), by="Ida", at=timezone.now(), seconds=2)
    Search(run, timezone.now, watched=False).solve()
    kept = PackPlan.objects.first()
    cases = {item: kept.items[str(item.pk)] for item in (there, mast)}
    assert cases[mast] == third.pk and cases[there] not in (third.pk, small.pk)
    accept(show, kept.pk, [third.pk], by=IDA, at=T0)
    assert planned(show)[mast.pk] == third.pk and planned(show)[there.pk] == small.pk
    with pytest.raises(PlanRefusal, match="Choose cases"):
        accept(show, kept.pk, [small.pk], by=IDA, at=T0)


def test_going_back_to_the_usual_cases_takes_the_lines_away(show, plan):
    accept(show, plan.pk, None, by=IDA, at=T0)
    start(show, Question(usual_first=True), by="Ida", at=timezone.now())
    accept(show, PackPlan.objects.first().pk, None, by=IDA, at=T0)
    assert not PackLine.objects.exists()


def test_a_plan_of_a_book_that_changed_is_refused_with_what_to_do(show, plan):
    reel(trunk("HER-15"), "Other reel")
    with pytest.raises(PlanRefusal, match="The book changed since this plan was made"):
        accept(show, plan.pk, None, by=IDA, at=T0)
    assert not PackLine.objects.exists() and not PlanAcceptance.objects.exists()


def test_a_plan_of_another_show_or_of_a_show_that_is_off_is_refused(show, plan):
    other = make_show("CCA")
    for one, ident in ((other, plan.pk), (show, 0)):
        with pytest.raises(PlanRefusal, match="not one of this show"):
            accept(one, ident, None, by=IDA, at=T0)
    show.cancelled_at = T0
    with pytest.raises(PlanRefusal, match="the show is off"):
        accept(show, plan.pk, None, by=IDA, at=T0)


def test_the_page_accepts_whole_and_then_says_who_did(show, plan, kit_manager, sign_in):
    client = sign_in(kit_manager)
    assert "Accept the whole plan" in text(client.get(url()))
    said = text(client.post(url("packing-accept"), {"plan": plan.pk}, follow=True))
    assert "3 things in other cases than usual. Nothing has moved yet" in said
    assert "AS PLANNED" in said and "accepted by Ida Penrake" in said and "Accept the whole plan" not in said


def test_the_page_accepts_one_case(show, plan, kit_manager, sign_in):
    case = next(iter(set(plan.items.values())))
    said = text(sign_in(kit_manager).post(url("packing-accept"), {"plan": plan.pk, "case": case}, follow=True))
    assert "Accepted for Fjellmark Masters Chess: HER-1" in said
    assert PlanAcceptance.objects.get().cases == [case] and not PlanAcceptance.objects.get().whole


def test_the_case_page_then_expects_what_the_plan_says(show, plan, kit_manager, sign_in):
    client, case = sign_in(kit_manager), Item.objects.get(pk=next(iter(set(plan.items.values()))))
    accept(show, plan.pk, None, by=IDA, at=T0)
    show.back_at = timezone.now() + (show.back_at - show.leaves_at)
    show.save()
    said = text(client.get(reverse("case", args=[case.number])))
    assert said.count('data-label="Expected">yes') == 6


def test_who_does_not_lead_the_show_cannot_accept(show, plan, crew, staff, sign_in):
    for person in (crew, staff):
        assert sign_in(person).post(url("packing-accept"), {"plan": plan.pk}).status_code == 403
    assert not PackLine.objects.exists()


def test_cases_consigned_on_another_vehicle_are_named(tonight, client):
    client.force_login(tonight.witnesses["ida"].user)
    said = text(client.get(url(query="?van=Meadowrue")))
    assert "15 cases are consigned otherwise" in said and "HER-01 is consigned on Teasel" in said
