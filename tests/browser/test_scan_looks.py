"""The scan page's screens: read well, fit, large enough for gloves, light enough for a bad network."""

from __future__ import annotations

import gzip
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders
from django.utils import timezone

from inventory import passes
from inventory.access import COOKIE
from shipping.views.scan import DECODER, FONTS, kept_files
from tests.browser.conftest import AXE
from tests.browser.phones import Phone, home_leg
from tests.browser.test_pages import DOCK_TARGET, WIDTHS, axe_findings, wider_than_the_window

SCREENS = {
    "join": "stowbook.go('join', {again: true})",
    "check": "stowbook.go('check')",
    "choose": "stowbook.go('choose')",
    "vehicles": "stowbook.go('choose', {task: 'load'})",
    "good": "say('good', 'HER-05 on Teasel.')",
    "already": "say('already done', 'HER-05: already on Teasel at 23:52 by Ana Rell.')",
    "wrong": "say('wrong', 'GEN-03 goes on Meadowrue. Recorded on Teasel all the same.')",
    "unknown": "say('unknown', 'W3KYAAA is not in this book yet.')",
    "bays": "stowbook.set({task: 'fit', frame: stowbook.day.frames()[0].place, bay: 'C'}), stowbook.go('scan')",
    "look": "stowbook.set({task: 'look'}), stowbook.go('scan')",
    "broken": "stowbook.set({out: 'K7MFXW3', words: 'HER-05'}), stowbook.go('ask', {form: 'broken'})",
    "seal": "stowbook.set({sealing: 'K7MFXW3', words: 'HER-05'}), stowbook.go('ask', {form: 'seal'})",
    "unread": "stowbook.go('ask', {form: 'unread'})",
    "list": "stowbook.go('list')",
    "give": "stowbook.go('give')",
    "receive": "stowbook.go('receive')",
}
START = """async ([leg, show]) => {
    await stowbook.set(null); await stowbook.set({task: 'load', leg});
    const say = (word, sentence) => { stowbook.go('scan'); stowbook.say({word, sentence}); };
    await eval(show); }"""
SMALL = """least => [...document.querySelectorAll("#main button, #main .button, #main input, #next button")]
    .filter(e => e.offsetParent && !e.matches("[type=radio], [type=file]"))
    .filter(e => e.getBoundingClientRect().height < least - .5).map(e => e.outerHTML.slice(0, 80))"""


@pytest.fixture(scope="module")
def phone(chromium, book):
    now = timezone.now()
    wide = passes.make("FMC", verbs=passes.PASS_VERBS, start=now, hours=24, by="Ida Penrake", at=now)
    _, token = passes.join(wide, "Pim looking", at=now)
    one = Phone(chromium, book.url, {COOKIE: token})
    one.join()
    yield one
    one.close()


@pytest.mark.parametrize("name", SCREENS)
def test_a_screen_reads_well_fits_and_takes_gloves(phone, book, db, name):
    source = START.replace("await eval(show);", f"{SCREENS[name]};")
    axe = AXE.read_text() + ";0"

    def look(page):
        found = []
        page.evaluate(source, [home_leg(book).pk, ""])
        page.wait_for_timeout(60)
        for width in (320, 390, 1440):
            page.set_viewport_size({"width": width, "height": WIDTHS[width]})
            found += [f"{width}: too wide: {one}" for one in wider_than_the_window(page)]
            found += [f"{width}: too small: {one}" for one in page.evaluate(SMALL, DOCK_TARGET)]
            if width == 390:
                continue
            for theme in ("dark", "light"):
                page.evaluate("theme => { document.documentElement.dataset.theme = theme; }", theme)
                found += [f"{width} {theme}: {one}" for one in axe_findings(page, axe)]
        return found

    assert phone.do(look) == []


def test_the_page_weighs_under_100_kb_without_the_decoder(db):
    own = [name for name in kept_files() if name not in DECODER and not any(font in name for font in FONTS)]
    weight = sum(len(gzip.compress(Path(finders.find(name)).read_bytes())) for name in own)
    assert len(own) > 20
    assert weight < 100_000


def test_the_worker_would_miss_no_module(phone, db):
    """Every script and style that the page asked for is among those kept."""
    asked = phone.js("() => performance.getEntriesByType('resource').map(one => new URL(one.name).pathname)")
    kept = {f"/static/{name}" for name in kept_files()}
    assert {name for name in asked if name.endswith((".js", ".css", ".wasm"))} - kept - {"/scan/sw.js"} == set()
