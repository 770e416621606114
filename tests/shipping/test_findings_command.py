"""manage.py findings: the same judgement as the pages, in words or as stable JSON."""

from __future__ import annotations

import io
import json
from datetime import timedelta

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from shipping.planning import findings_for_case
from shipping.waiving import waive
from tests.factories import IDA, T0
from tests.shipping.packed import make_heron, make_leg, make_show, stand

FIELDS = {
    "rule", "number", "subject", "severity", "state", "blocks", "sentence", "way_out", "digest", "waived_by",
    "waived_why",
}  # fmt: skip


def run(*args: str) -> str:
    out = io.StringIO()
    call_command("findings", *args, stdout=out)
    return out.getvalue()


def test_a_case_is_judged_in_words_worst_first_with_a_caution(db):
    heron = make_heron()
    stand(heron.drives[0], at=T0 + timedelta(hours=1))
    said = run("HER-03").splitlines()
    assert said[0].startswith("One thing stands in the way of closing HER-03. Besides: ")
    assert "block" in said[1] and "HERON-1 A is missing" in said[1]
    assert "not an approval" in said[-1] and "local rules" in said[-1]


def test_json_gives_the_answer_the_reasons_and_flat_findings(db):
    heron = make_heron()
    stand(heron.drives[0], at=T0 + timedelta(hours=1))
    found = json.loads(run(heron.box.labels.get().code, "--json"))
    assert found["answer"] == "blocked" and found["reasons"][0]["word"] == "block"
    assert set(found["findings"][0]) == FIELDS
    block = next(one for one in findings_for_case(heron.box, timezone.now()) if one.blocks)
    assert found["findings"][0]["digest"] == block.digest
    waive(block, reason="A is at the maker", by=IDA, at=T0)
    found = json.loads(run("HER-03", "--json"))
    assert found["answer"] == "warns" and found["findings"][0]["waived_by"] == "Ida Penrake"


def test_a_show_is_judged_by_its_code(db):
    heron = make_heron()
    make_leg(make_show(at=timezone.now()), [heron.box])
    stand(heron.drives[0], at=T0 + timedelta(hours=1))
    said = run("fmc")
    assert "in the way of FMC leaving" in said and "HERON-1 A is missing" in said


def test_at_reads_the_evidence_of_that_time(db):
    make_heron()
    with pytest.raises(CommandError, match="is no time"):
        run("HER-03", "--at", "yesterday")
    assert run("HER-03", "--at", (T0 + timedelta(hours=1)).isoformat())


def test_an_unknown_code_says_so(db):
    with pytest.raises(CommandError, match="No case or show “XYZ-99” is known"):
        run("XYZ-99")
