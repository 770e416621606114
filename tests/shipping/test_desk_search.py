"""The search for better plans: what is kept, how it ends, and what is said when its worker went away."""

from __future__ import annotations

import json
import uuid
from dataclasses import replace
from datetime import timedelta
from itertools import count

import pytest
from django.core.management import CommandError, call_command
from django.db import IntegrityError, transaction
from django.utils import timezone

from inventory.models import Item, Kind
from inventory.models.appendonly import AppendOnlyError
from shipping import solving
from shipping.desk import desk_of, progress, progress_words
from shipping.models import PackPlan, PlanRun
from shipping.packing.kept import plan_of
from shipping.packing.planner.solver import Planner
from shipping.packing.reading import job_of
from shipping.planning.desk import wanted
from shipping.planning.going import Question
from shipping.solving import Search, SearchRefusal, newest, start
from tests.factories import T0, make_case, make_case_type, make_item, make_system, make_type
from tests.shipping.desked import INSIDE, REEL, reel, small_show, trunk

PLAIN = Question()


@pytest.fixture
def show(db):
    return small_show()


def begin(show, question=PLAIN, at=T0, **more):
    return start(show, question, by="Ida Penrake", at=at, **more)


def searched(show, **more):
    """A search run to its end in this process."""
    run = begin(show, at=timezone.now(), seconds=2, **more)
    Search(run, timezone.now, watched=False).solve()
    run.refresh_from_db()
    return run


def test_a_complete_plan_that_passed_the_check_is_kept_at_once(show):
    begin(show)
    kept = PackPlan.objects.get()
    assert (kept.left, kept.check_passed, kept.seed, kept.made_by) == (0, True, 0, "Ida Penrake")
    assert kept.input_digest == wanted(show, PLAIN, T0).digest
    assert len(kept.items) == 6 and set(kept.items.values()) <= set(wanted(show, PLAIN, T0).cases.values())


def test_a_search_ends_with_a_proven_plan_and_its_record(show):
    run = searched(show)
    assert (run.ending, run.ended_at is not None) == ("finished", True)
    kept = newest(show, run.input_digest)
    plan = plan_of(kept.plan)
    assert kept.proven and plan.proven and plan.breaches == ()
    assert (kept.cases, kept.moves, kept.left) == (1, 3, 0)
    assert job_of(json.dumps(kept.load)) == wanted(show, PLAIN, T0).job


def test_usual_cases_first_leaves_everything_where_it_lives(show):
    run = start(show, Question(usual_first=True), by="Ida", at=timezone.now(), seconds=2)
    Search(run, timezone.now, watched=False).solve()
    kept = newest(show, run.input_digest)
    assert (kept.cases, kept.moves, kept.proven) == (2, 0, True)


def test_asking_twice_gives_the_search_that_runs(show):
    assert begin(show) == begin(show)
    assert PlanRun.objects.count() == 1


def test_two_presses_at_the_same_moment_make_one_search(show):
    begin(show)
    row = PlanRun.objects.values().get()
    with pytest.raises(IntegrityError), transaction.atomic():
        PlanRun.objects.create(**{**row, "id": uuid.uuid4()})


def test_not_more_searches_than_the_machine_has_room_for(show):
    for at in range(solving.MOST):
        begin(show, Question(usual_first=bool(at)))
    with pytest.raises(SearchRefusal, match="running already"):
        begin(show, Question(without=(Item.objects.get(number="HER-14").pk,)))


def test_nothing_booked_is_refused_with_what_to_do(show):
    show.bookings.all().delete()
    show.consignments.all().delete()
    with pytest.raises(SearchRefusal, match="Book a system first"):
        begin(show)


def test_a_worker_that_went_away_is_said_and_gives_way_to_a_new_one(show):
    run = begin(show)
    Search(run, lambda: T0 + timedelta(seconds=1), watched=False).look()
    run.refresh_from_db()
    later = T0 + solving.STALE + timedelta(seconds=2)
    assert "worker went away" in progress_words(run, later)
    assert progress(run, newest(show, run.input_digest), later)["running"] is False
    again = begin(show, at=later)
    run.refresh_from_db()
    assert again.pk != run.pk and run.ending == "lost"
    assert "worker went away" in progress_words(run, later)


def test_a_worker_that_never_began_is_waited_for_longer(show):
    run = begin(show)
    assert not solving.is_lost(run, T0 + solving.STALE + timedelta(seconds=1))
    assert begin(show, at=T0 + solving.LONG) == run
    later = T0 + solving.LONG + timedelta(seconds=1)
    assert solving.is_lost(run, later) and begin(show, at=later) != run


def test_a_search_stops_when_asked_and_keeps_what_it_found(show):
    run = begin(show, at=timezone.now())
    solving.ask_to_stop(run, by="Ana Rell")
    search = Search(run, timezone.now, watched=False)
    search.look()
    search.solve()
    run.refresh_from_db()
    assert run.ending == "stopped" and PackPlan.objects.count() == 1
    assert "was stopped by Ana Rell" in progress_words(run, timezone.now())


def test_a_book_that_changed_meanwhile_ends_the_search_in_words(show):
    run = begin(show, at=timezone.now())
    reel(trunk("HER-15"), "Other reel")
    Search(run, timezone.now, watched=False).solve()
    run.refresh_from_db()
    assert run.ending == "failed" and "The book changed" in progress_words(run, timezone.now())


def test_a_search_that_fails_says_so_and_does_not_hide_it(show, monkeypatch):
    run = begin(show, at=timezone.now())
    monkeypatch.setattr(Planner, "run", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        Search(run, timezone.now, watched=False).solve()
    run.refresh_from_db()
    assert run.ending == "failed" and "ZeroDivisionError" in run.words


def test_a_plan_that_failed_the_check_is_neither_kept_nor_shown(show):
    found = desk_of(show, PLAIN, T0)
    broken = replace(found.plan, breaches=("HER-13 would weigh too much.",))
    with pytest.raises(IntegrityError), transaction.atomic():
        solving.keep(show, PLAIN, found.load, broken, by="Ida", at=T0)
    assert not replace(found, plan=broken).shown


def test_a_plan_kept_is_never_changed(show):
    begin(show)
    with pytest.raises(AppendOnlyError):
        PackPlan.objects.update(cases=1)


def test_progress_is_left_on_the_record(show):
    run = begin(show)
    search = Search(run, lambda: T0 + timedelta(seconds=3), watched=False)
    search.heard("cases", 2, 1)
    run.refresh_from_db()
    assert (run.goal, run.value, run.bound, run.beat_at) == ("cases", 2, 1, T0 + timedelta(seconds=3))
    assert "cases 2, none below 1" in progress_words(run, T0 + timedelta(seconds=4))


def test_a_question_is_answered_from_the_last_plan(show):
    searched(show)
    spare = trunk("HER-15")
    kept = PackPlan.objects.first()
    gone = next(iter(set(kept.items.values())))
    found = desk_of(show, Question(without=(gone,)), T0)
    assert found.shown and gone not in {found.load.cases[case] for case in found.plan.contents}
    assert len(found.items) == 6 and spare.pk not in set(kept.items.values())


def test_times_are_shared_out_short_first():
    assert list(solving.slices(30)) == [2, 8, 20]
    assert list(solving.slices(2)) == [2]
    assert all(sum(solving.slices(n)) == n for n in range(1, 40))


def test_the_worker_refuses_an_id_that_waits_for_nobody(show):
    run = searched(show)
    for ident in (str(run.pk), "nonsense"):
        with pytest.raises(CommandError, match="No search with that id"):
            call_command("solve_plan", ident)


def test_the_clock_is_the_callers(show):
    """Two seconds of the clock given are enough, however long that takes."""
    run = begin(show, seconds=2)
    steps = count()
    Search(run, lambda: T0 + timedelta(seconds=next(steps)), watched=False).solve()
    run.refresh_from_db()
    assert run.ended_at is not None and run.ended_at > T0


def test_a_plan_that_the_rules_would_block_is_neither_kept_nor_shown(show):
    """A frame whose rails stay behind, or go on another vehicle, would be blocked at departure."""
    frame = make_item(
        make_type("Ebbmark 6", "Orrinvale", kind=Kind.FRAME, mass_kg=31, rack_units=5, rack_depth_mm=580,
                  needs_rails=True), home_system=make_system("Heron"),
        home_case=make_case("HER-01", make_case_type("Rack", rack_units=6, usable_depth_mm=700, tare_kg=30,
                                                     max_gross_kg=90), home_system=make_system("Heron")),
    )  # fmt: skip
    rail = make_item(make_type("Rail", "Orrinvale", kind=Kind.RAILS, **REEL), home_system=make_system("Heron"),
                     home_case=Item.objects.get(number="HER-13"))  # fmt: skip
    assert desk_of(show, PLAIN, T0).plan.breaches == ()
    found = desk_of(show, Question(at_home=(rail.pk,)), T0)
    assert found.plan.breaches == (f"{frame} travels without its {rail}.",) and not found.shown
    run = begin(show, Question(at_home=(rail.pk,)), at=timezone.now(), seconds=2)
    Search(run, timezone.now, watched=False).solve()
    assert newest(show, run.input_digest) is None


def test_what_lives_outside_its_original_packaging_finds_no_case(show):
    lamp = make_type("Lamp", "Drumfell", needs_original_packaging=True, **REEL)
    make_case_type("Lamp box", **INSIDE).container.original_packaging_for.add(lamp)
    make_item(lamp, home_system=make_system("Heron"), home_case=Item.objects.get(number="HER-13"))
    left = desk_of(show, PLAIN, T0).plan.left
    assert [one.count for one in left] == [1] and "original packaging" in left[0].reason
