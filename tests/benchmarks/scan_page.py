"""The scan page on a mid-range phone: how soon it opens without a network, what it weighs, how fast it takes scans.

    .venv/bin/python -m tests.benchmarks.scan_page [--times 7] [--throttle 4]

The demo's book behind the real server, in a folder of its own; real Chromium, headless, at 390 px, its page's processor
slowed by the factor. What runs on threads of their own is not slowed: the worker that keeps the page, the code reader.
Tones are timed from the text to the tone's start; of several labels in one view a tone waits for the one before to end.
"""

from __future__ import annotations

import argparse
import gzip
import os
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from statistics import median, quantiles
from typing import Any

from playwright.sync_api import BrowserContext, Page, Playwright, sync_playwright

from tests.filming import Scene, film, with_codes

ROOT = Path(__file__).resolve().parent.parent.parent
COOKIE, PASS = "device", "pim-osgood-demo-phone"
ARGS = ["--no-sandbox", "--disable-gpu", "--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream"]
USABLE = "performance.getEntriesByName('usable')[0]?.startTime"
LISTED = "[...stowbook.day.list.cases, ...stowbook.day.list.drives, ...stowbook.day.list.items]"
CODES = f"{LISTED}.slice(0, 60).map(one => one.code)"
KEPT = "caches.keys().then(all => caches.open(all[0])).then(one => one.keys()).then(all => all.map(one => one.url))"
LOADING = "stowbook.set({task: 'load', leg: stowbook.day.list.legs[0].pk}).then(() => stowbook.go('scan'))"
TO_GO = """stowbook.day.list.cases.filter(one => one.legs.includes(stowbook.day.list.legs[0].pk)
  && one.done_place !== one.load_place).slice(0, 5).map(one => one.code)"""
SCAN = """async (codes) => {
  performance.clearMeasures('to the tone');
  const began = performance.now();
  for (const code of codes) await stowbook.take(code, 'handheld');
  const took = performance.now() - began;
  return {took, tones: performance.getEntriesByName('to the tone').map(one => one.duration)};
}"""
SEND = """async () => {
  const count = (await stowbook.outbox.counts()).unsent;
  const began = performance.now();
  stowbook.sender.soon();
  while ((await stowbook.outbox.counts()).unsent) await new Promise(ok => setTimeout(ok, 10));
  return {count, took: performance.now() - began};
}"""


@contextmanager
def served(folder: Path) -> Iterator[tuple[str, Path]]:
    """The demo's book behind gunicorn with hashed and compressed static files, as in real use; its address and log."""
    port, log = _free_port(), folder / "access.log"
    env = os.environ | {
        "DEBUG": "False", "BEHIND_TLS": "False", "SECRET_KEY": "only-for-this-measurement" * 3, "VAR_DIR": str(folder),
        "ALLOWED_HOSTS": "localhost", "PUBLIC_URL": f"http://localhost:{port}", "DEMO": "True",
    }  # fmt: skip
    for command in (["migrate", "-v", "0"], ["load_demo"], ["collectstatic", "--noinput", "-v", "0"]):
        run = [sys.executable, "manage.py", *command]
        subprocess.run(run, cwd=ROOT, env=env, check=True, stdout=subprocess.DEVNULL)
    server = subprocess.Popen(
        [sys.executable, "-m", "gunicorn", "config.wsgi:application", "--bind", f"127.0.0.1:{port}", "--threads", "8",
         "--access-logfile", str(log), "--log-level", "warning"], cwd=ROOT, env=env,
    )  # fmt: skip
    try:
        _wait(f"http://localhost:{port}/scan/")
        yield f"http://localhost:{port}", log
    finally:
        server.terminate()
        server.wait(timeout=20)


def _free_port() -> int:
    import socket

    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


def _wait(address: str) -> None:
    for _ in range(300):
        try:
            urllib.request.urlopen(address, timeout=5)  # noqa: S310
            return
        except OSError:
            time.sleep(0.2)
    raise SystemExit(f"{address} did not answer")


def until(page: Page, expression: str, seconds: float = 60) -> Any:
    end = time.monotonic() + seconds
    while not (found := page.evaluate(expression)):
        if time.monotonic() > end:
            raise SystemExit(f"never true: {expression}")
        page.wait_for_timeout(20)
    return found


def opened(context: BrowserContext, throttle: float) -> Page:
    page = context.new_page()
    context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": throttle})
    page.goto("/scan/")
    until(page, USABLE)
    return page


def joined(context: BrowserContext, throttle: float) -> Page:
    page = opened(context, throttle)
    until(page, "stowbook.day.known")
    until(page, "Boolean(navigator.serviceWorker?.controller)")
    return page


def weight(page: Page) -> dict[str, int]:
    """Bytes over the wire of all that the phone keeps, each file gzipped unless it is compressed already."""
    names = page.evaluate(KEPT)
    found = {"page, styles and scripts": 0, "fonts": 0, "decoder": 0}
    for name in names:
        with urllib.request.urlopen(name, timeout=20) as answer:  # noqa: S310
            body = answer.read()
        kind = "fonts" if "fonts" in name else "decoder" if "zxing" in name else "page, styles and scripts"
        found[kind] += len(body) if name.endswith(".woff2") else len(gzip.compress(body, 9))
    return found


def cold_starts(context: BrowserContext, times: int, throttle: float) -> list[float]:
    """Milliseconds from opening the page without a network until it can be used, each in a window of its own."""
    context.set_offline(True)
    found = []
    for _ in range(times):
        page = opened(context, throttle)
        found.append(float(page.evaluate(USABLE)))
        page.close()
    context.set_offline(False)
    return found


def with_camera(context: BrowserContext, throttle: float) -> None:
    """Open it twice more and let the decoder start each time."""
    for _ in range(2):
        page = opened(context, throttle)
        page.evaluate(LOADING)
        until(page, "Boolean(stowbook.decoder)")
        page.close()


def taking(context: BrowserContext, throttle: float) -> dict[str, Any]:
    """Scan everything on the list without a network, then send it all."""
    page = opened(context, throttle)
    context.set_offline(True)
    page.evaluate(LOADING)
    codes = page.evaluate(CODES)
    found = page.evaluate(SCAN, codes)
    context.set_offline(False)
    return {**found, "scans": len(codes), "sent": page.evaluate(SEND)}


def film_of(codes: list[str], folder: Path) -> Path:
    """Five of the cases side by side before the camera."""
    return film([with_codes(Scene("five", ("case",) * len(codes), side=190), codes)], folder / "five.mjpeg", frames=20)


def from_camera(context: BrowserContext, throttle: float, count: int) -> dict[str, float]:
    """Several labels in one view: ms from the first to the last tone, and from starting the camera to the first."""
    page = opened(context, throttle)
    context.set_offline(True)
    page.evaluate("performance.clearMeasures('to the tone')")
    began = page.evaluate(f"{LOADING}.then(() => performance.now())")
    until(page, f"performance.getEntriesByName('to the tone').length >= {count}")
    tones = page.evaluate("performance.getEntriesByName('to the tone').map(one => one.startTime + one.duration)")
    return {"first": tones[0] - began, "rate": (len(tones) - 1) / (tones[-1] - tones[0]) * 1000}


def p95(values: list[float]) -> float:
    return quantiles(values, n=20)[-1]


def browsing(driver: Playwright, address: str, *more: str) -> BrowserContext:
    path = os.environ.get("CHROMIUM", "/usr/bin/chromium")
    browser = driver.chromium.launch(executable_path=path, args=[*ARGS, *more])
    screen = {"width": 390, "height": 844}
    context = browser.new_context(base_url=address, viewport=screen, permissions=["camera"])
    context.add_cookies([{"name": COOKIE, "value": PASS, "url": address}])
    return context


def report(throttle: float, times: int) -> Iterator[str]:
    with tempfile.TemporaryDirectory() as folder, served(Path(folder)) as (address, log), sync_playwright() as driver:
        context = browsing(driver, address)
        page = joined(context, throttle)
        bytes_of = weight(page)
        before = log.read_text().count("zxing")
        with_camera(context, throttle)
        starts = cold_starts(context, times, throttle)
        took = taking(context, throttle)
        codes = page.evaluate(TO_GO)
        context.browser.close()
        later = log.read_text().count("zxing") - before
        context = browsing(driver, address, f"--use-file-for-fake-video-capture={film_of(codes, Path(folder))}")
        joined(context, throttle).close()
        filmed = from_camera(context, throttle, len(codes))
        context.browser.close()
    yield f"processor slowed {throttle:g} times; {times} cold starts, {took['scans']} scans"
    yield f"{'usable without a network':<38} {median(starts):7.0f} ms median, {max(starts):.0f} ms slowest"
    yield from (f"{f'weight, compressed: {kind}':<38} {size / 1000:7.1f} kB" for kind, size in bytes_of.items())
    yield f"{'decoder asked for after it was kept':<38} {later:7d} times (camera started twice)"
    yield f"{'from the text to the tone':<38} {median(took['tones']):7.1f} ms median, {p95(took['tones']):.1f} ms p95"
    yield f"{'scans taken and kept on the disk':<38} {took['scans'] / took['took'] * 1000:7.1f} a second"
    yield f"{'of five labels in one view':<38} {filmed['rate']:7.1f} a second, first after {filmed['first']:.0f} ms"
    yield f"{'sent, of one phone':<38} {took['sent']['count'] / took['sent']['took'] * 1000:7.1f} scans a second"


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--times", type=int, default=7)
    asked.add_argument("--throttle", type=float, default=4)
    wanted = asked.parse_args()
    for line in report(wanted.throttle, wanted.times):
        print(line, flush=True)


if __name__ == "__main__":
    main()
