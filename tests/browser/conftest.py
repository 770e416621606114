"""One headless Chromium, one server, and the demo world once for all pages."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, TypeVar

import pytest
from django.conf import settings
from django.db import connection, transaction
from django.test import Client
from django.utils import timezone
from playwright.sync_api import Browser, Page, sync_playwright
from pytest_django.live_server_helper import LiveServer

from inventory.access import COOKIE
from shipping.demo.loading import PIM_TOKEN, load
from tests.addresses import Addresses
from tests.keeping import Shelf

T = TypeVar("T")
ROOT = Path(__file__).resolve().parent.parent.parent
ROLES = ("ida", "ana", "wes", "tomas", "jo", "pass", "stranger")
AXE = ROOT / "node_modules" / "axe-core" / "axe.min.js"
ARGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker(pytest.mark.browser)


class Chromium:
    """A browser on a thread of its own: its event loop would hide the database connection from this one."""

    def __init__(self, *more: str) -> None:
        self.thread = ThreadPoolExecutor(max_workers=1)
        self.driver = self.do(lambda: sync_playwright().start())
        path = os.environ.get("CHROMIUM", "/usr/bin/chromium")
        self.browser: Browser = self.do(lambda: self.driver.chromium.launch(executable_path=path, args=[*ARGS, *more]))

    def do(self, act: Callable[[], T]) -> T:
        """Run `act` where the browser lives, and return what it returned or raise what it raised."""
        return self.thread.submit(act).result(timeout=120)

    def close(self) -> None:
        self.do(self.browser.close)
        self.do(self.driver.stop)
        self.thread.shutdown()


@pytest.fixture(scope="session")
def chromium() -> Iterator[Chromium]:
    found = Chromium()
    yield found
    found.close()


def cookies_of(world: Any, role: str) -> dict[str, str]:
    if role in {"pass", "stranger"}:
        return {COOKIE: PIM_TOKEN} if role == "pass" else {}
    client = Client()
    client.force_login(world.witnesses[role].user)
    return {settings.SESSION_COOKIE_NAME: client.cookies[settings.SESSION_COOKIE_NAME].value}


@pytest.fixture(scope="module")
def book(
    django_db_setup: None, django_db_blocker: Any, tmp_path_factory: pytest.TempPathFactory, shelf: Shelf
) -> Iterator[Any]:
    """The demo world as of now behind a server of its own, in one transaction that is rolled back after the module.

    The server shares the connection, which only SQLite in memory allows.
    """
    if connection.vendor != "sqlite":
        pytest.skip("the pages are looked at on SQLite")
    settings.MEDIA_ROOT = tmp_path_factory.mktemp("media")
    with django_db_blocker.unblock(), transaction.atomic():
        world = shelf.world("now", lambda: load(timezone.now()))
        world.addresses = Addresses(world)
        world.cookies = {role: cookies_of(world, role) for role in ROLES}
        connection.inc_thread_sharing()  # for good: a browser's idle connections end after the server does
        server = LiveServer("localhost:0")
        world.url = server.url
        yield world
        server.stop()
        transaction.set_rollback(True)


class Visitors:
    """visitors.do(role, act): act(page) in that role's own browser window; windows are kept and used again."""

    def __init__(self, chromium: Chromium, world: Any) -> None:
        self.chromium, self.world = chromium, world
        self.pages: dict[str, Page] = {}

    def do(self, role: str, act: Callable[[Page], T]) -> T:
        if role not in self.pages:
            self.pages[role] = self.chromium.do(lambda: self.window(role))
        return self.chromium.do(lambda: act(self.pages[role]))

    def window(self, role: str, **options: Any) -> Page:
        """A new window of this role; call it where the browser lives."""
        context = self.chromium.browser.new_context(base_url=self.world.url, **options)
        known = self.world.cookies[role].items()
        context.add_cookies([{"name": name, "value": value, "url": self.world.url} for name, value in known])
        return context.new_page()

    def close(self) -> None:
        for page in self.pages.values():
            self.chromium.do(page.context.close)


@pytest.fixture(scope="module")
def visitors(chromium: Chromium, book: Any) -> Iterator[Visitors]:
    found = Visitors(chromium, book)
    yield found
    found.close()
