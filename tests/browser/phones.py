"""Phones for the tests: each a browser with a store of its own, on the scan page."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any, TypeVar

from playwright.sync_api import BrowserContext, Page

from tests.browser.cable import Cable
from tests.browser.conftest import Chromium

T = TypeVar("T")
PHONE = {"viewport": {"width": 390, "height": 844}, "color_scheme": "dark", "has_touch": True}


PATIENCE = 30.0  # seconds; a busy machine is slow, and what is wrong stays wrong


def until(page: Page, expression: str) -> Any:
    """Ask the page until the answer is true; the page's policy forbids the driver's own way of waiting."""
    return wait_until(page, lambda: page.evaluate(expression), expression)


def wait_until(page: Page, ask: Callable[[], Any], words: str = "what was waited for") -> Any:
    """Ask until the answer is true, and let the page live meanwhile."""
    end = time.monotonic() + PATIENCE
    while not (found := ask()):
        if time.monotonic() > end:
            raise AssertionError(f"never true: {words}")
        page.wait_for_timeout(20)
    return found


def home_leg(book: Any) -> Any:
    """Teasel's way home from tonight's show, now being loaded."""
    legs = [leg for leg in book.legs.values() if leg.consignment.show_id == book.shows["FMC"].pk and leg.position == 2]
    return next(leg for leg in legs if str(leg.vehicle) == "Teasel")


class Phone:
    """One phone, on a network of its own. Its methods run where the browser lives; call them from the test."""

    def __init__(self, chromium: Chromium, url: str, cookies: dict[str, str]) -> None:
        self.chromium, self.cable = chromium, Cable(url)
        self.url = self.cable.url
        self.context: BrowserContext = chromium.do(lambda: self._opened(cookies))
        self.page: Page = chromium.do(self.context.new_page)
        self.errors: list[str] = []

    def _opened(self, cookies: dict[str, str]) -> BrowserContext:
        context = self.chromium.browser.new_context(base_url=self.url, service_workers="allow", **PHONE)
        context.add_cookies([{"name": name, "value": value, "url": self.url} for name, value in cookies.items()])
        return context

    def do(self, act: Callable[[Page], T]) -> T:
        return self.chromium.do(lambda: act(self.page))

    def open(self) -> None:
        """The page, until it can be used."""

        def start(page: Page) -> None:
            page.on("pageerror", lambda error: self.errors.append(str(error)))
            page.goto("/scan/")
            until(page, "performance.getEntriesByName('usable').length")

        self.do(start)

    def join(self) -> None:
        """Open it for the first time, known by its cookie, and wait for the list."""
        self.open()
        self.do(lambda page: page.get_by_role("button", name="Start").wait_for())
        self.do(lambda page: until(page, "stowbook.day.known"))
        self.do(lambda page: until(page, "Boolean(navigator.serviceWorker?.controller)"))

    def doing(self, **doing: Any) -> None:
        """Be in the middle of a task, as after its choice on the screen."""
        self.js("async (doing) => { await stowbook.set(null); await stowbook.set(doing); stowbook.go('scan'); }", doing)

    def js(self, source: str, given: Any = None) -> Any:
        return self.do(lambda page: page.evaluate(source, given))

    def handheld(self, *texts: str) -> None:
        """A handheld scanner: keys and Enter, with no field focused; each waits until the one before was said."""

        for text in texts:
            self.hears(lambda page, text=text: (page.keyboard.type(text), page.keyboard.press("Enter")))

    def hears(self, act: Callable[[Page], Any]) -> None:
        """Do what makes the phone say something, until it has said it."""

        def heard(page: Page) -> None:
            page.evaluate("stowbook.said = null")
            act(page)
            until(page, "Boolean(stowbook.said)")

        self.do(heard)

    def said(self) -> tuple[str, str]:
        """The word and the sentence on the screen."""
        return self.do(
            lambda page: (page.locator("#answer .word").inner_text(), page.locator("#answer .why").inner_text())
        )

    def count(self) -> str:
        self.js("() => stowbook.redrawBar()")
        return self.do(lambda page: page.locator("#count").inner_text())

    def sends_all(self) -> None:
        """Press Send now until nothing is left."""
        self.js("() => stowbook.sender.soon()")
        self.do(lambda page: until(page, "stowbook.outbox.counts().then(found => !found.unsent)"))

    def offline(self, off: bool = True) -> None:
        """Cut it off, or not: the browser knows, as a phone does, and nothing gets through whatever it believes."""
        if off:
            self.cable.cut()
        else:
            self.cable.mend()
        self.chromium.do(lambda: self.context.set_offline(off))

    def reopen(self) -> None:
        """Close the window and open another: the browser's store stays, the page begins anew."""
        self.do(lambda page: page.close())
        self.page = self.chromium.do(self.context.new_page)
        self.open()

    def close(self) -> None:
        """Close it once the server has answered: a request cut off here would end inside a test that is over."""
        self.do(lambda page: page.is_closed() or until(page, "!globalThis.stowbook?.sender.running"))
        self.chromium.do(self.context.close)
        self.cable.close()
