"""The last steps of the demo's walk-through, in real browsers: ask, release, bench, record."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def serials(book) -> list[str]:
    return [book.drive("CURLEW-1", bay).serial for bay in "ABCDEF"]


def read(page: Page) -> str:
    return page.locator("main").inner_text()


def scan(page: Page, serials: list[str]) -> str:
    page.goto("/bench/")
    page.fill("[name=drives]", "\n".join(serials))
    page.select_option("[name=drive_set]", label="CURLEW-1")
    page.click("text=Look at them")
    return read(page)


def act(page: Page, key: str, *ticks: str, **fields: str) -> str:
    """One act on CURLEW-1: tick what is named, fill the rest, press its button."""
    page.goto(f"/set/curlew-1/{key}/")
    for words in ticks:
        page.check(f"label:has-text('{words}')")
    for name, value in fields.items():
        field = page.locator(f"main [name={name}]")
        if field.evaluate("one => one.tagName") == "SELECT":
            option = field.locator("option", has_text=value).first
            field.select_option(value=option.get_attribute("value"))
        else:
            field.fill(value)
    page.click("main form.act button.main")
    return read(page)


def test_ask_release_bench_and_record(visitors, serials):
    # Is it free? No, and every reason is told.
    said = visitors.do("tomas", lambda page: (page.goto("/set/curlew-1/"), read(page))[1])
    assert "CURLEW-1 may not be wiped: 6 of 6 drives stand in the way" in said and "nobody has released" in said
    # Jo releases her own show, serial by serial.
    said = visitors.do("jo", lambda page: act(page, "release-own", *serials, "may be erased for ever"))
    assert "All of it is released" in said
    # Ida has the second copy compared, and the two shocked drives looked at.
    visitors.do("ida", lambda page: act(page, "copy-verified", copy="office server", words="checksums compared"))
    for serial in serials[4:]:
        visitors.do("ida", lambda page, one=serial: act(page, "health", drive=one, result="good", note="long test"))
    # The bench takes five scans and refuses the set: D is on Teasel.
    said = visitors.do("ana", lambda page: scan(page, serials[:3] + serials[4:]))
    assert "1 that should be here was not scanned" in said and f"{serials[3]} was not scanned" in said
    assert visitors.do("ana", lambda page: page.locator("text=Begin with these").count()) == 0
    # D arrives; the sixth scan, and it begins.
    visitors.do("ana", lambda page: act(page, "receive", serials[3], place="Mill Yard"))
    said = visitors.do("ana", lambda page: scan(page, serials))
    assert "All 6 may be wiped" in said, said
    said = visitors.do("ana", begin)
    assert "6 under way" in said
    # A second person verifies, and the record has a line a drive.
    address = visitors.do("ana", lambda page: page.url)
    said = visitors.do("ida", lambda page: verify(page, address, serials))
    assert "6 wiped and verified" in said and "not a guarantee against recovery" in said
    assert all(serial in said for serial in serials) and "Ana Rell" in said and "Ida Penrake" in said
    said = visitors.do("tomas", lambda page: (page.goto("/set/curlew-1/"), read(page))[1])
    assert "All 6 drives of CURLEW-1 may be wiped" in said and "Nothing on it since" in said


def begin(page: Page) -> str:
    page.fill("[name=technique]", "sanitize, block erase")
    page.fill("[name=tool]", "bench 4.2")
    page.click("text=Begin with these 6")
    return read(page)


def verify(page: Page, address: str, serials: list[str]) -> str:
    page.goto(address)
    form = page.locator("form[action$='/verify/']")
    for serial in serials:
        form.locator(f"label:has-text('{serial}')").click()
    form.locator("button").click()
    return read(page)
