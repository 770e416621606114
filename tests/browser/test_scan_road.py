"""A short night on the road; `python -m tests.road` plays long ones."""

from __future__ import annotations

import os

import pytest

from tests.road import ELSEWHERE, night

SCANS = int(os.environ.get("ROAD_SCANS", "40"))


@pytest.mark.slow
def test_a_night_of_mishaps_loses_and_doubles_nothing(tmp_path):
    (tmp_path / "book").mkdir()
    verdict, happened, audit = night(tmp_path, scans=SCANS, phones=2, seed=5)
    assert verdict["acknowledged"] >= SCANS
    assert verdict["in the ledger"] >= verdict["acknowledged"]
    harm = ("lost", "doubled", "in the ledger and on no phone", "still unsent", ELSEWHERE)
    assert {name: verdict[name] for name in harm} == dict.fromkeys(harm, 0)
    assert len(happened) > 3, happened
    assert "Every stored place follows from the" in audit
