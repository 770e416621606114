"""The packing desk in a real browser: the search begins by itself, its plan is taken in where the page stands."""

from __future__ import annotations

import pytest
from django.utils import timezone
from playwright.sync_api import Page

from shipping.models import PlanRun
from shipping.solving import Search

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
