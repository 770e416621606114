"""Load files: the sample is planned, a slip is named with its place, and the command prints only what passed."""

from __future__ import annotations

import json
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from shipping.packing.reading import Unreadable, job_of

SAMPLE = Path(__file__).parents[3] / "fixtures/samples/load.json"


def told(*words: str) -> str:
    out = StringIO()
    call_command("plan", *words, stdout=out)
    return out.getvalue()


def test_the_sample_is_planned_with_its_record():
    plan = json.loads(told(str(SAMPLE), "--json", "--seconds", "10"))
    assert plan["record"]["proven"] and plan["record"]["check"] == "passed" and not plan["left"]
    assert set(plan["cases"]["HER-03"]) == {"ingot-her-1"}
    job = job_of(SAMPLE.read_text())
    packed = {gear.id: sum(content.get(gear.id, 0) for content in plan["cases"].values()) for gear in job.gear}
    assert packed == {gear.id: gear.count for gear in job.gear}


def test_the_lines_say_what_is_elsewhere_and_that_it_is_no_approval(capfd):
    text = told(str(SAMPLE), "--seconds", "5")
    assert "Not in their usual case:" in text and "not a load-safety approval" in text
    assert capfd.readouterr().out == ""


@pytest.mark.parametrize(
    "change,says",
    [
        ({"gear": []}, "at least one “gear”"),
        ({"colour": 1}, "“colour” is not known"),
        ({"gear": [{"id": "a", "family": "x", "mass_kg": 1}]}, "gear 1: say what it takes"),
        ({"gear": [{"id": "a", "family": "x", "mass_kg": -1, "units": 1}]}, "kilograms from 0 up"),
        ({"gear": [{"id": "a", "family": "x", "mass_kg": 0.0001, "units": 1}]}, "to the gram"),
        ({"gear": [{"id": "a", "family": "x", "mass_kg": 1, "units": True}]}, "“units” must be a whole number"),
        ({"gear": [{"id": "a", "family": "x", "mass_kg": 1, "units": 1, "homes": {"Z": 1}}]}, "lives in Z"),
        ({"air": {"aircraft": 1}}, "“aircraft” is not known"),
        ({"air": {"most_wh": 0.0001}}, "watt-hours from 0 up"),
        ({"gear": [{"id": "a", "family": "x", "mass_kg": 1, "units": 1, "chemistry": "wet"}]}, "“lithium”, “lead”"),
        ({"gear": [{"id": "a", "family": "x", "mass_kg": 1, "units": 1, "count": 2, "spare": "s"}]}, "need a row each"),
        ({"gear": [{"id": "a", "family": "x", "mass_kg": 1, "size_mm": [1, 2]}]}, "[length, width, height]"),
        ({"gear": [{"id": "a", "family": "x", "mass_kg": 1, "units": 1, "rails": "R"}]}, "not among the gear"),
        (
            {"cases": [{"id": "C", "families": ["x"], "tare_kg": 1, "max_gross_kg": 9, "compartments": [6]}]},
            "which family",
        ),
        (
            {"cases": [{"id": "C", "families": ["x"], "tare_kg": 1, "max_gross_kg": 9, "made_for": [6]}]},
            "list of texts",
        ),
    ],
)
def test_a_slip_is_named_with_its_place(change, says):
    whole = json.loads(SAMPLE.read_text()) | change
    with pytest.raises(Unreadable, match=says.replace("[", r"\[").replace("]", r"\]")):
        job_of(json.dumps(whole))


def test_a_file_that_is_no_json_is_told_so(tmp_path):
    (tmp_path / "x.json").write_text("{")
    with pytest.raises(CommandError, match="not JSON"):
        told(str(tmp_path / "x.json"))
    with pytest.raises(CommandError, match="cannot be read"):
        told(str(tmp_path / "none.json"))
