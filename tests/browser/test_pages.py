"""Every page in a real browser: reads well, fits, keeps to its policy, and weighs little."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import ConsoleMessage, Page

from tests.browser.conftest import AXE
from tests.browser.pages import ALIKE, PAGES

RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
CONTRAST = ["color-contrast"]
WIDTHS = {320: 640, 390: 844, 1440: 900}
HEAVIEST = 100_000
DOCK_TARGET = 57  # 15 mm
TALLEST = 12_000  # CSS px at the width of a phone: what is settled, or alike, is folded
PHONE = 390


def address_of(book: Any, name: str) -> str:
    """An address, a page's name, or the name of an act on the thing."""
    if name.startswith("item-act "):
        return reverse("item-act", args=[book.addresses.code, name.split()[1]])
    return name if name.startswith("/") else book.addresses(name)


@pytest.fixture(scope="module", autouse=True)
def as_in_use(nothing_written):
    """These tests only read."""


@pytest.fixture(scope="module")
def axe() -> str:
    return AXE.read_text() + ";0"


def open_page(page: Page, address: str) -> list[str]:
    """Go there, small and light, and return what the browser complained of while it loaded."""
    said: list[str] = []
    page.set_viewport_size({"width": 320, "height": WIDTHS[320]})
    page.emulate_media(color_scheme="light")

    def listen(message: ConsoleMessage) -> None:
        if message.type == "error":
            said.append(message.text)

    page.on("console", listen)
    answer = page.goto(address, wait_until="load")
    page.remove_listener("console", listen)
    said = [one for one in said if f"status of {answer.status if answer else 0}" not in one]
    if answer is None or answer.status >= 500 or ("sign-in" in answer.url) != ("sign-in" in address):
        said.append(f"it answered {answer and answer.status} at {answer and answer.url}")
    return said


def axe_findings(page: Page, axe: str, rules: Sequence[str] = RULES) -> list[str]:
    if not page.evaluate("typeof window.axe === 'object'"):
        page.evaluate(axe)
    found = page.evaluate("rules => axe.run({runOnly: rules, resultTypes: ['violations']})", rules)
    return [
        f"{one['id']}: {node['html'][:140]} {' '.join(str(any_['message']) for any_ in node['any'][:1])[:160]}"
        for one in found["violations"]
        for node in one["nodes"][:3]
    ]


def wider_than_the_window(page: Page) -> list[str]:
    """What makes the page scroll sideways, if it does."""
    return page.evaluate(
        """() => {
          const room = document.documentElement.clientWidth;
          if (document.documentElement.scrollWidth <= room) return [];
          return [...document.querySelectorAll("body *")]
            .filter(e => e.getBoundingClientRect().right > room + 1 && !e.closest(".wide, .drawing, .skip"))
            .slice(0, 3).map(e => e.outerHTML.slice(0, 120));
        }"""
    ) or (["the page itself"] if page.evaluate("document.documentElement.scrollWidth > innerWidth") else [])


def too_tall(page: Page) -> list[str]:
    """The page's height if nobody would scroll so far on a phone."""
    height = page.evaluate("document.documentElement.scrollHeight")
    return [f"{height} px tall, {TALLEST} is the most"] if height > TALLEST else []


def look(page: Page, address: str, axe: str, *, thorough: bool) -> list[str]:
    """Read it small and wide, light and dark; one of many alike pages small and light, wide and dark.

    Going dark changes colours alone, so there only contrast is read again.
    """
    tones = {320: (("light", RULES), ("dark", CONTRAST)), 390: (), 1440: (("light", RULES), ("dark", CONTRAST))}
    if not thorough:
        tones = {320: (("light", RULES),), 390: (), 1440: (("dark", RULES),)}
    found = [f"complaint: {one}" for one in open_page(page, address)]
    for width, height in WIDTHS.items():
        page.set_viewport_size({"width": width, "height": height})
        found += [f"{width}: too wide: {one}" for one in wider_than_the_window(page)]
        found += [f"{width}: {one}" for one in too_tall(page)] if width == PHONE else []
        for tone, rules in tones[width]:
            page.emulate_media(color_scheme=tone)
            found += [f"{width} {tone}: {one}" for one in axe_findings(page, axe, rules)]
    return found


@pytest.mark.parametrize("role,name", PAGES)
def test_a_page_reads_well_and_fits(visitors, book, db, axe, role, name):
    address = address_of(book, name)
    assert visitors.do(role, lambda page: look(page, address, axe, thorough=name not in ALIKE)) == []


SPOILED = """() => document.querySelector("main").insertAdjacentHTML("beforeend",
  "<img src='/static/inventory/icon.svg'><p><a href='/x/' class='faint'>pale</a></p><div class='far'>far</div>")"""
PALE = """() => { document.querySelector(".faint").style.color = "#dddddd";
  document.querySelector(".far").style.width = "2000px"; }"""


def test_the_look_sees_a_page_that_is_wrong(visitors, book, db, axe):
    def spoil(page: Page) -> tuple[list[str], list[str]]:
        open_page(page, "/things/")
        page.evaluate(SPOILED)
        page.evaluate(PALE)
        return axe_findings(page, axe), wider_than_the_window(page)

    read, wide = visitors.do("ida", spoil)
    assert {one.split(":")[0] for one in read} >= {"image-alt", "color-contrast"}
    assert wide and "far" in wide[0]


def test_the_look_sees_a_page_that_is_too_tall(visitors, book, db):
    def stretch(page: Page) -> tuple[list[str], list[str]]:
        open_page(page, "/things/")
        page.set_viewport_size({"width": PHONE, "height": WIDTHS[PHONE]})
        before = too_tall(page)
        page.evaluate("document.querySelector('main').style.paddingBottom = '13000px'")
        return before, too_tall(page)

    before, after = visitors.do("ida", stretch)
    assert before == [] and len(after) == 1


def test_the_look_sees_what_the_policy_refuses(visitors, book, db):
    def spoil(page: Page) -> list[str]:
        said: list[str] = []
        open_page(page, "/things/")
        page.on("console", lambda message: said.append(message.text))
        page.evaluate("document.body.insertAdjacentHTML('beforeend', '<p style=\"color:red\">red</p>')")
        return said

    assert any("Content Security Policy" in one for one in visitors.do("ida", spoil))


@pytest.mark.parametrize("name", ["today", "things", "where", "case", "dock", "load"])
def test_a_page_weighs_under_100_kb_of_its_own(visitors, book, db, name):
    """Styles and scripts, as they lie on the disk; fonts are fetched once and kept."""

    def weigh(page: Page) -> int:
        open_page(page, address_of(book, name))
        own = "[...document.querySelectorAll('link[rel=stylesheet], script[src]')].map(e => e.href || e.src)"
        return sum(len(page.request.get(address).body()) for address in page.evaluate(own))

    weight = visitors.do("ida", weigh)
    assert 1000 < weight < HEAVIEST


@pytest.mark.parametrize("name", ["load", "dock"])
def test_what_a_glove_presses_on_the_dock_is_15_mm(visitors, book, db, name):
    small = """least => [...document.querySelectorAll("button, .button, input, select, summary")]
      .filter(e => e.closest("main"))
      .filter(e => e.offsetParent && e.type !== 'hidden' && !e.closest('label'))
      .filter(e => e.getBoundingClientRect().height < least - 0.5)
      .map(e => e.outerHTML.slice(0, 100))"""

    def measure(page: Page) -> list[str]:
        open_page(page, address_of(book, name))
        return page.evaluate(small, DOCK_TARGET)

    assert visitors.do("pass", measure) == []


@pytest.mark.parametrize("name", ["dock", "things"])
def test_more_stands_in_line_with_the_pages_beside_it(visitors, book, db, name):
    middles = """() => {
      const words = document.createRange();
      return [...document.querySelectorAll(".top nav > ul > li > a, .top nav > ul > li > details > summary")].map(e => {
        words.selectNodeContents(e);
        return (words.getBoundingClientRect().top + words.getBoundingClientRect().bottom) / 2;
      });
    }"""

    def measure(page: Page) -> list[float]:
        open_page(page, address_of(book, name))
        page.set_viewport_size({"width": 1440, "height": WIDTHS[1440]})
        return page.evaluate(middles)

    found = visitors.do("ida", measure)
    assert len(found) == 7 and max(found) - min(found) <= 1


def test_a_slash_goes_to_the_search_box_and_enter_to_the_answer(visitors, book, db):
    def find(page: Page) -> str:
        open_page(page, "/things/")
        page.keyboard.press("/")
        page.keyboard.type("HER-04")
        page.keyboard.press("Enter")
        page.wait_for_url("**/where/**")
        return page.inner_text("main .sentence")

    assert "HER-04" in visitors.do("ida", find)


def test_a_slash_in_a_field_is_a_slash(visitors, book, db):
    def write(page: Page) -> str:
        open_page(page, "/desk/")
        page.click("textarea")
        page.keyboard.type("a/b")
        return page.input_value("textarea")

    assert visitors.do("ida", write) == "a/b"


def test_the_switch_makes_the_page_dark_and_back(visitors, book, db):
    def switch(page: Page) -> list[str]:
        open_page(page, "/things/")
        colours = []
        for words in ("Dark", "Light", "As the device"):
            page.click(f".foot button:text-is('{words}')")
            page.wait_for_load_state()
            colours.append(page.evaluate("getComputedStyle(document.body).backgroundColor"))
        return colours

    dark, light, device = visitors.do("ida", switch)
    assert dark != light == device


def test_pages_work_without_scripts(chromium, visitors, book, db):
    """Sign in, find, report a fault: all by plain forms."""

    def act() -> str:
        page = visitors.window("ida", java_script_enabled=False)
        page.goto(book.addresses("item"))
        page.click("text=Report a fault")
        page.fill("textarea[name=what]", "clicks when it spins up")
        page.click("main form button")
        words = page.inner_text("main")
        page.context.close()
        return words

    assert "clicks when it spins up" in chromium.do(act)
