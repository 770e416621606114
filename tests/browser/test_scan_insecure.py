"""The scan page over plain http in a crew's network: no camera, no worker, and still a scanner."""

from __future__ import annotations

import pytest
from django.utils import timezone

from inventory import passes
from inventory.access import COOKIE
from inventory.models import Entry
from tests.browser.conftest import Chromium
from tests.browser.phones import Phone, home_leg, until


@pytest.fixture
def plain(book, db, settings):
    """A phone for which the server is no longer localhost, so that the browser trusts it with nothing."""
    settings.LAN = True
    chromium = Chromium("--host-resolver-rules=MAP gear.test 127.0.0.1")
    _, token = passes.join(book.passes["tonight"], "Pim plain", at=timezone.now())
    phone = Phone(chromium, book.url.replace("localhost", "gear.test"), {COOKIE: token})
    yield phone
    assert phone.errors == []
    phone.close()
    chromium.close()


def test_typed_codes_and_handhelds_work_and_the_page_says_why_the_camera_does_not(plain, book):
    plain.open()
    assert plain.js("() => [isSecureContext, typeof navigator.serviceWorker, typeof navigator.locks]") == [
        False, "undefined", "undefined",
    ]  # fmt: skip
    plain.do(lambda page: page.get_by_role("button", name="Start").click())
    plain.do(lambda page: until(page, "stowbook.day.known"))
    plain.doing(task="load", leg=home_leg(book).pk)
    plain.do(lambda page: page.get_by_text("The camera works only over https.").wait_for())
    asked = plain.do(lambda page: page.get_by_text("How to get the camera").get_attribute("href"))
    assert asked == "/trust/"
    plain.handheld("HER-05")
    assert plain.said() == ("GOOD", "HER-05 on Teasel.")

    def type_it(page):
        page.fill("[name=code]", "her-06")
        page.keyboard.press("Enter")
        page.get_by_text("HER-06 on Teasel.").first.wait_for()

    plain.do(type_it)
    plain.sends_all()
    sent = Entry.objects.filter(device__name="Pim plain").order_by("device_seq")
    assert [(entry.verb, str(entry.label.item)) for entry in sent] == [("loaded", "HER-05"), ("loaded", "HER-06")]
