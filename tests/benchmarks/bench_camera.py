"""How soon and how surely each decoder reads our labels through a camera, condition by condition.

    .venv/bin/python -m tests.benchmarks.bench_camera [--seconds 3] [--only WORD]

First is from asking for the camera to the first code. Real Chromium, headless, whose fake camera plays a film of the
label; the page's own camera and decoder modules read it. Where the browser has no reader of its own, a line says so.
"""

from __future__ import annotations

import argparse
import os
import tempfile
from pathlib import Path
from typing import Any

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

import django  # noqa: E402

django.setup()

from django.contrib.staticfiles.testing import StaticLiveServerTestCase  # noqa: E402
from django.test.utils import setup_test_environment  # noqa: E402
from playwright.sync_api import sync_playwright  # noqa: E402

from inventory.codes import with_check  # noqa: E402
from tests.filming import CONDITIONS, Scene, film, with_codes  # noqa: E402

CODES = [with_check("K7MFXW"), with_check("A3CEFH")]
ARGS = ["--no-sandbox", "--disable-gpu", "--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream"]
MEASURE = """async ({native, seconds}) => {
  const { Camera } = await import('/static/shipping/scan/camera.js');
  const { decoder } = await import('/static/shipping/scan/decoder.js');
  if (native && !globalThis.BarcodeDetector) return null;
  const reader = await decoder(document.body.dataset, {native});
  const seen = new Set(); const times = []; let hits = 0; let first = null; let from = 0;
  const video = document.createElement('video'); video.muted = true; document.body.append(video);
  const camera = new Camera(video, {name: reader.name, read: async (image) => {
    const began = performance.now(); const found = await reader.read(image); times.push(performance.now() - began);
    if (found.length) { hits += 1; first ??= performance.now() - from; found.forEach(one => seen.add(one)); }
    return found; }}, () => {});
  from = performance.now(); await camera.start();
  await new Promise(ok => setTimeout(ok, seconds * 1000));
  camera.stop(); times.sort((a, b) => a - b);
  return {name: reader.name, frames: times.length, hits, first, median: times[times.length >> 1], seen: [...seen]};
}"""


def measure(url: str, scene: Scene, folder: Path, *, native: bool, seconds: float) -> Any:
    path = film([scene], folder / "film.mjpeg", frames=24)
    with sync_playwright() as driver:
        chromium = os.environ.get("CHROMIUM", "/usr/bin/chromium")
        args = [*ARGS, f"--use-file-for-fake-video-capture={path}", "--enable-experimental-web-platform-features"]
        browser = driver.chromium.launch(executable_path=chromium, args=args)
        page = browser.new_context(base_url=url, permissions=["camera"]).new_page()
        page.goto("/scan/")
        found = page.evaluate(MEASURE, {"native": native, "seconds": seconds})
        browser.close()
    return found


def line(scene: Scene, found: Any) -> str:
    if found is None:
        return f"| {scene.name} | the browser's own | not in this browser |"
    right = len(set(scene.texts) & set(found["seen"]))
    strangers = len(set(found["seen"]) - set(scene.texts))
    first = f"{found['first']:.0f} ms" if found["first"] is not None else "never"
    return (
        f"| {scene.name} | {found['name']} | {found['hits']} of {found['frames']} frames "
        f"({100 * found['hits'] / max(1, found['frames']):.0f} %) | first {first} | {found['median']:.0f} ms a frame "
        f"| {right} of {len(scene.texts)} labels, {strangers} misread |"
    )


class Server(StaticLiveServerTestCase):
    """The page's static files and its shell; it needs no database."""

    databases = frozenset()


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seconds", type=float, default=3)
    asked.add_argument("--only", default="")
    wanted = asked.parse_args()
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    setup_test_environment()
    Server.setUpClass()
    try:
        with tempfile.TemporaryDirectory() as folder:
            for scene in CONDITIONS:
                if wanted.only not in scene.name:
                    continue
                for native in (True, False):
                    real = with_codes(scene, CODES)
                    found = measure(Server.live_server_url, real, Path(folder), native=native, seconds=wanted.seconds)
                    print(line(real, found), flush=True)
    finally:
        Server.tearDownClass()


if __name__ == "__main__":
    main()
