"""Floor files and the command: the sample is planned and checked, and every slip is named with its place."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from shipping.packing.floor.reading import freight_of
from shipping.packing.reading import Unreadable

SAMPLE = Path(__file__).parents[3] / "fixtures" / "samples" / "floor.json"


def told(*args: str) -> str:
    out = io.StringIO()
    call_command("floorplan", *args, stdout=out)
    return out.getvalue()


def test_the_sample_is_planned_whole_proven_and_checked():
    told_all = json.loads(told(str(SAMPLE), "--json", "--seconds", "20"))
    freight = freight_of(SAMPLE.read_text())
    assert len(told_all["places"]) == freight.cases and told_all["left"] == []
    assert told_all["record"]["check"] == "passed" and told_all["record"]["proven"]
    assert told_all["floor_bound_mm"] <= told_all["used_mm"] <= 3400
    assert [one["when"] for one in told_all["stages"]] == ["at departure", "after Fjellmark Hall"]
    assert all(axle["total_kg"] <= axle["limit_kg"] for one in told_all["stages"] for axle in one["axles"])


def test_the_lines_name_rows_stops_axles_and_that_it_is_no_approval(capfd):
    text = told(str(SAMPLE), "--seconds", "5")
    for part in ("Row 1 (off at Quay Unit)", "After Fjellmark Hall", "loading metres", "not a load-safety approval",
                 "a weighbridge decide", "Checked apart from the planner: passed."):  # fmt: skip
        assert part in text
    assert capfd.readouterr().out == ""


def test_what_stays_behind_is_a_line_with_its_reason(tmp_path):
    whole = json.loads(SAMPLE.read_text())
    whole["vehicle"]["payload_kg"] = 800
    (tmp_path / "x.json").write_text(json.dumps(whole))
    assert "Stays behind: 1 x" in told(str(tmp_path / "x.json"), "--seconds", "3")


@pytest.mark.parametrize(
    "change,says",
    [
        ({"cases": []}, "at least one of “cases”"),
        ({"colour": 1}, "“colour” is not known"),
        ({"stops": [""]}, "“stops” must list"),
        ({"vehicle": None}, "“vehicle” must be an object"),
        ({"vehicle": {"inside_mm": [6100, 2400]}}, "[length, width, height]"),
        ({"vehicle": {"inside_mm": [6100, 2400, 2300], "door_mm": [1]}}, "“door_mm” must be [width, height]"),
        ({"vehicle": {"inside_mm": [6100, 2400, 2300], "tiers": 9}}, "“tiers” is at most"),
        ({"vehicle": {"inside_mm": [6100, 10, 2300]}}, "leaves nothing of the width"),
        ({"vehicle": {"inside_mm": [6100, 2400, 2300], "axles": [{"name": "a"}]}}, "axle 1: “at_mm” is missing"),
        ({"cases": [{"id": "a", "mass_kg": 1, "stop": 3}]}, "case 1: “stop” is 3, and the file names 2"),
        ({"cases": [{"id": "a", "mass_kg": -1}]}, "kilograms from 0 up"),
        ({"cases": [{"id": "a"}, {"id": "a"}]}, "a is the id of two rows"),
        ({"cases": [{"id": "a", "count": 500}]}, "500 cases are more than"),
    ],
)
def test_a_slip_is_named_with_its_place(change, says):
    whole = json.loads(SAMPLE.read_text()) | change
    with pytest.raises(Unreadable) as wrong:
        freight_of(json.dumps(whole))
    assert says in str(wrong.value)


def test_a_time_that_is_none_is_refused():
    with pytest.raises(CommandError, match="above 0"):
        told(str(SAMPLE), "--seconds", "0")
