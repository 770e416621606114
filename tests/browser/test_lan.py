"""A browser that was made to trust the crew's authority may use camera and worker; one that was not sees no page."""

from __future__ import annotations

import shutil
import subprocess

import pytest
from playwright.sync_api import Error, Page

from tests.browser.conftest import AXE, Chromium
from tests.browser.test_pages import axe_findings, wider_than_the_window
from tests.serving import crew_server

KEPT = """async () => {
  await navigator.serviceWorker.ready;
  return [isSecureContext, Boolean(navigator.mediaDevices?.getUserMedia), (await caches.keys()).length];
}"""


def trust(authority, home) -> None:
    """As a person does on a laptop: the authority into the list that Chromium keeps for its user."""
    database = f"sql:{home / '.pki/nssdb'}"
    (home / ".pki/nssdb").mkdir(parents=True)
    subprocess.run(["certutil", "-d", database, "-N", "--empty-password"], check=True)
    subprocess.run(["certutil", "-d", database, "-A", "-t", "C,,", "-n", "crew", "-i", authority], check=True)


def test_a_phone_that_trusts_the_authority_keeps_the_page_and_one_that_does_not_sees_none(tmp_path, monkeypatch):
    if shutil.which("certutil") is None:
        pytest.skip("certutil is missing: apt-get install libnss3-tools")
    with crew_server(tmp_path) as crew:
        monkeypatch.setenv("HOME", str(tmp_path / "stranger"))
        stranger = Chromium()
        with pytest.raises(Error, match="ERR_CERT_AUTHORITY_INVALID"):
            stranger.do(lambda: stranger.browser.new_page().goto(f"{crew.secure}/scan/"))
        stranger.close()
        trust(crew.files.authority, tmp_path / "home")
        monkeypatch.setenv("HOME", str(tmp_path / "home"))
        phone = Chromium()
        page = phone.do(lambda: phone.browser.new_page())
        phone.do(lambda: page.goto(f"{crew.secure}/scan/"))
        assert phone.do(lambda: page.evaluate(KEPT)) == [True, True, 1]
        phone.close()


def test_the_trust_page_reads_well_on_a_phone_and_a_laptop(tmp_path):
    axe = AXE.read_text() + ";0"

    def look(page: Page) -> list[str]:
        page.goto(f"{crew.plain}/trust/")
        found = []
        for width in (320, 390, 1440):
            page.set_viewport_size({"width": width, "height": 844})
            for scheme in ("light", "dark"):
                page.emulate_media(color_scheme=scheme)
                complaints = [*axe_findings(page, axe), *wider_than_the_window(page)]
                found += [f"{width} {scheme}: {one}" for one in complaints]
        return [page.locator("h1").inner_text(), *found]

    with crew_server(tmp_path) as crew:
        phone = Chromium()
        assert phone.do(lambda: look(phone.browser.new_page())) == ["Let this phone trust the book"]
        phone.close()
