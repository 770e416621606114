"""The packing desk and the floor plan in a real browser: a search begins by itself, its plan is taken in in place."""

from __future__ import annotations

import pytest
from django.utils import timezone
from playwright.sync_api import Page

from shipping.deck_solving import DeckSearch
from shipping.models import DeckAcceptance, PlanRun, Show
from shipping.solving import Search
from tests.browser.phones import home_leg

pytestmark = pytest.mark.django_db
ADDRESS = "/show/FMC/packing/?van=Meadowrue"


def opened(page: Page) -> None:
    page.goto(ADDRESS)
    page.wait_for_selector("#desk[data-running]")
    page.evaluate("window.untouched = true")
    page.locator("#desk details[id^=case-]:not([open]) > summary").first.click()


def test_a_better_plan_comes_in_without_loading_the_page_anew(visitors):
    visitors.do("ida", opened)
    run = PlanRun.objects.get(ended_at=None)
    said = visitors.do("ida", lambda page: page.inner_text("#desk-progress"))
    assert "Searching for a better plan" in said
    run.seconds = 3
    run.save()
    opened_before = visitors.do("ida", lambda page: page.locator("#desk details[id^=case-][open]").count())
    Search(run, timezone.now, watched=False).solve()
    visitors.do("ida", lambda page: page.wait_for_selector("#desk:not([data-running])", timeout=20_000))
    told = visitors.do("ida", lambda page: page.inner_text("main"))
    assert "Fewest found possible under the limits entered." in told and "The search has ended" in told
    assert visitors.do("ida", lambda page: page.evaluate("window.untouched")) is True
    assert visitors.do("ida", lambda page: page.locator("#desk details[id^=case-][open]").count()) == opened_before


def test_without_scripts_the_page_says_how_to_look_again(visitors, chromium):
    def plain() -> str:
        page = visitors.window("ida", java_script_enabled=False)
        page.goto("/show/FMC/packing/?van=Teasel")
        page.click("text=Search for a better plan")
        said = page.inner_text("main")
        page.click("text=Stop the search")
        stopped = page.inner_text("main")
        page.context.close()
        return said + stopped

    said = chromium.do(plain)
    assert "Look again" in said and "The search stops; what it has found stays." in said


def test_where_two_searches_run_already_the_page_says_so_where_it_stands(visitors, book):
    now, show = timezone.now(), Show.objects.get(code="FMC")
    for digest in ("a", "b"):
        PlanRun.objects.create(
            show=show, question={}, input_digest=digest * 64, seconds=30, seed=0, started_at=now, started_by="Ana Rell",
            beat_at=now,
        )  # fmt: skip

    def look(page: Page) -> str:
        page.goto(ADDRESS)
        page.wait_for_selector("#desk-progress:not(:empty)")
        return page.inner_text("#desk-progress")

    assert "2 searches are running already" in visitors.do("ida", look)
    assert "searches are running" not in visitors.do("ida", lambda page: (page.goto("/"), page.inner_text("main"))[1])


def searched(visitors, leg, role: str) -> str:
    """Open the page in this role's window, let its search run to its end, and return what the page says then."""

    def opened(page: Page) -> None:
        page.goto(f"/leg/{leg.pk}/floor/")
        page.wait_for_selector("#desk[data-running]")
        page.evaluate("window.untouched = true")

    visitors.do(role, opened)
    run = PlanRun.objects.get(ended_at=None)
    DeckSearch(run, timezone.now, watched=False).solve()
    visitors.do(role, lambda page: page.wait_for_selector("#desk:not([data-running])", timeout=30_000))
    assert visitors.do(role, lambda page: page.evaluate("window.untouched")) is True
    return visitors.do(role, lambda page: page.inner_text("main"))


def test_a_shorter_plan_comes_in_where_the_page_stands_and_is_accepted(visitors, book):
    leg = home_leg(book)
    told = searched(visitors, leg, "ida")
    assert "The search has ended" in told and "Not yet shown to be the fewest" not in told
    drawn = visitors.do("ida", lambda page: page.locator("#desk .drawing svg").count())
    assert drawn == 1
    visitors.do("ida", lambda page: (page.click("#accept-all"), page.wait_for_load_state()))
    assert "Accepted: load by this plan" in visitors.do("ida", lambda page: page.inner_text("body"))
    (taken,) = DeckAcceptance.objects.filter(plan__leg=leg)
    assert taken.plan.proven


def test_crew_see_the_plan_and_begin_nothing(visitors, book):
    leg = home_leg(book)

    def look(page: Page) -> str:
        page.goto(f"/leg/{leg.pk}/floor/")
        return page.inner_text("main")

    told = visitors.do("wes", look)
    assert "Rows from the headboard" in told and "Search for a better plan" not in told
    assert not PlanRun.objects.filter(leg=leg).exists()
