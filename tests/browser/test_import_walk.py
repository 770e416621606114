"""A stranger to the book brings the sample sheet in, packs a case of it and seals it: in a browser, page by page."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from django.utils import timezone
from playwright.sync_api import Page

from inventory.exchange import writing
from inventory.models import Entry, Item, System, Verb
from tests.browser.conftest import AXE
from tests.browser.test_pages import look
from tests.inventory.sheets import CASE, HEAD, make_sheet

pytestmark = pytest.mark.django_db
SAMPLE = Path(__file__).parent.parent.parent / "fixtures" / "samples" / "gear.xlsx"


def read(page: Page) -> str:
    return page.locator("main").inner_text()


def bring_in(page: Page) -> str:
    page.goto("/import/")
    page.set_input_files("input[type=file]", str(SAMPLE))
    page.click("main form button")
    before = read(page)
    page.check("fieldset:has-text('which unit are plain numbers in') label:has-text('kg') input")
    page.click("text=Keep these answers")
    page.click("button:has-text('into the book')")
    return before


def seal(page: Page, case: str, number: str) -> str:
    page.goto(f"/case/{case}/")
    asked = page.locator("form:has(button:has-text('Confirm what is answered'))")
    if asked.count():
        for choice in asked.locator("input[type=radio][value=yes], input[type=checkbox]").all():
            choice.check()
        asked.locator("button").last.click()
    form = page.locator("form[action$='/seal/']")
    form.locator("[name=number]").fill(number)
    form.locator("button").click()
    return read(page)


def test_the_sample_sheet_goes_into_the_book_and_a_case_of_it_is_sealed(visitors, book):
    before = visitors.do("ida", bring_in)
    assert "CAN GO IN" in before and "78 things would be added" in before
    dunlin = System.objects.get(name="Dunlin")
    assert Item.objects.filter(home_system=dunlin, type__kind="case").count() == 11
    said = visitors.do("ida", lambda page: seal(page, "DUN-10", "009917"))
    assert "SEALED" in said and "009917" in said
    assert Entry.objects.get(verb=Verb.SEALED, seal="009917").label.item.number == "DUN-10"


def test_a_sheet_that_is_being_written_says_how_far_it_is_and_reads_well(visitors, book):
    sheet = make_sheet([HEAD, CASE])
    lock = writing._lock(sheet.pk)  # as the process that writes it holds it
    try:
        began = timezone.now()
        writing._say(sheet.pk, writing.Writing("Ida Penrake", "kit manager", None, began, "things", 4200, 9990))
        axe = AXE.read_text() + ";0"
        assert visitors.do("ida", lambda page: look(page, f"/import/{sheet.pk}/", axe, thorough=True)) == []
        assert "Things and their codes: 4,200 of 9,990. Step 1 of 3." in visitors.do("ida", read)
    finally:
        os.close(lock)
