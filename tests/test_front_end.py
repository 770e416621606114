"""What comes from npm: locked, served by us, and the decoder's two files of one release."""

from __future__ import annotations

import json
from pathlib import Path

from django.contrib.staticfiles import finders
from django.test import Client

ROOT = Path(__file__).resolve().parent.parent
PACKAGES = json.loads((ROOT / "package.json").read_text())
LOCK = json.loads((ROOT / "package-lock.json").read_text())["packages"]


def test_what_is_asked_is_what_is_locked_and_installed():
    for name, version in {**PACKAGES["dependencies"], **PACKAGES["devDependencies"]}.items():
        locked = LOCK[f"node_modules/{name}"]
        installed = json.loads((ROOT / "node_modules" / name / "package.json").read_text())
        assert (locked["version"], installed["version"]) == (version, version)
        assert locked["integrity"].startswith("sha512-")


def test_the_decoder_is_served_from_one_release():
    glue, wasm = finders.find("zxing/glue/index.js"), finders.find("zxing/reader/zxing_reader.wasm")
    assert {str(Path(found).resolve().parent).split("/dist/")[0] for found in (glue, wasm)} == {
        str((ROOT / "node_modules/zxing-wasm").resolve())
    }


def test_the_icon_is_found_where_a_browser_looks_that_was_told_nowhere():
    answer = Client().get("/favicon.ico")
    assert answer.status_code == 302
    assert finders.find(answer["Location"].removeprefix("/static/")) == finders.find("inventory/icon.svg")
