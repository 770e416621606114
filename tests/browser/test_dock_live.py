"""The dock view in one browser while a phone scans in another: what is scanned is seen, and nothing jumps underhand."""

from __future__ import annotations

import pytest
from django.utils import timezone
from playwright.sync_api import Page

from inventory import passes
from inventory.access import COOKIE
from tests.browser.conftest import AXE
from tests.browser.phones import Phone, home_leg, until, wait_until
from tests.browser.test_pages import axe_findings, wider_than_the_window


@pytest.fixture
def leg(book, db):
    return home_leg(book)


@pytest.fixture
def pim(chromium, book, leg):
    _, token = passes.join(book.passes["tonight"], "Pim at the dock", at=timezone.now())
    phone = Phone(chromium, book.url, {COOKIE: token})
    phone.join()
    phone.doing(task="load", leg=leg.pk)
    yield phone
    assert phone.errors == []
    phone.close()


@pytest.fixture
def dock(chromium, visitors, leg):
    page: Page = chromium.do(lambda: visitors.window("ana", viewport={"width": 390, "height": 844}))

    def opened() -> Page:
        page.goto(f"/dock/{leg.pk}/")
        until(page, "globalThis.dock?.mark")
        return page

    chromium.do(opened)
    yield lambda act: chromium.do(lambda: act(page))
    chromium.do(lambda: until(page, "!dock.looking"))
    chromium.do(page.context.close)


def to_go(page: Page) -> int:
    return int(page.locator("#live .big").inner_text())


def test_a_scan_on_one_phone_is_seen_on_the_dock_of_another_that_nobody_touches(dock, pim):
    before = dock(to_go)
    pim.handheld("HER-05")
    dock(lambda page: until(page, "document.querySelector('#newest').textContent.includes('HER-05')"))
    assert dock(to_go) == before - 1
    assert "Pim at the dock: loaded on Teasel" in dock(lambda page: page.locator("#newest").inner_text())
    assert "HER-05" in dock(lambda page: page.locator("#told").inner_text())


def test_a_part_that_holds_the_focus_waits_until_it_is_left(dock, pim):
    fold = "document.querySelector('#live [data-key=held] summary, #live [data-key=phones]')"
    dock(lambda page: page.evaluate(f"() => {{ const part = {fold}.closest('[data-key]'); part.tabIndex = -1; "
                                    "part.focus(); window.held = part; }"))  # fmt: skip
    pim.handheld("HER-06")
    dock(lambda page: until(page, "document.querySelector('#newest').textContent.includes('HER-06')"))
    assert dock(lambda page: page.evaluate("() => window.held.isConnected && document.activeElement === window.held"))
    dock(lambda page: page.evaluate("() => document.activeElement.blur()"))
    dock(lambda page: until(page, "!window.held.isConnected"))


def test_it_says_when_the_book_cannot_be_reached_and_when_it_can_again(dock):
    dock(lambda page: page.context.set_offline(True))
    dock(lambda page: page.get_by_text("No contact with the book since").wait_for())
    dock(lambda page: page.context.set_offline(False))
    dock(lambda page: page.get_by_text("In touch again.").wait_for())


def test_an_unchanged_dock_is_asked_for_and_not_sent_again(dock):
    heard: list[int] = []
    dock(lambda page: page.on("response", lambda answer: heard.append(answer.status)))
    dock(lambda page: wait_until(page, lambda: heard.count(304) >= 2))
    assert set(heard) <= {200, 304}


def test_the_dock_reads_well_while_scans_come_in(dock, pim):
    axe = AXE.read_text() + ";0"
    pim.handheld("HER-06")

    def look(page: Page) -> list[str]:
        until(page, "document.querySelector('#newest').textContent.includes('HER-06')")
        found = []
        for theme in ("dark", "light"):
            page.evaluate("theme => { document.documentElement.dataset.theme = theme; }", theme)
            found += [f"{theme}: {one}" for one in [*axe_findings(page, axe), *wider_than_the_window(page)]]
        return found

    assert dock(look) == []


def test_the_number_to_go_is_in_sight_on_a_phone(dock):
    """The way to other pages takes one row, and each of its links can be reached."""

    def look(page: Page) -> tuple[float, float, bool]:
        big, nav = page.locator("#live .big").bounding_box(), page.locator(".top nav").bounding_box()
        last = page.locator(".top nav summary")
        last.focus()
        return big["y"] + big["height"], nav["height"], last.is_visible()

    bottom, nav, reached = dock(look)
    assert bottom < 500 and nav < 80 and reached
