"""A row of a page is written once for all that it can say, and anew for anything else."""

from __future__ import annotations

from dataclasses import replace

import pytest
from django.template import engines

from inventory.answers.values import ItemRef, Strength
from inventory.templatetags import written
from shipping.outcomes import Line, Outcome
from shipping.whole import Fill, Says

LINE = Line(
    ItemRef(7, "7F3K-9Q2M", "HER-02", "Hand case", "77001"), Outcome.BACK, "It is back.", None, False, Strength.SEEN, ""
)
PART = Says(
    3,
    "Frame",
    "",
    True,
    False,
    1,
    1,
    (Fill("7F3K-9Q2M", "HER-02", "77001", "", "settled", Strength.SEEN, "It is here."),),
)


@pytest.fixture(autouse=True)
def nothing_written():
    written.forget()
    yield
    written.forget()


def row(name: str, **says: object) -> str:
    return written.written(f"shipping/parts/{name}.html", **says)


def included(name: str, **says: object) -> str:
    """The same row by Django's own include, which keeps nothing."""
    return engines["django"].get_template(f"shipping/parts/{name}.html").render(says)


CHANGES = (
    {"item": ItemRef(7, "7F3K-9Q2M", "", "Hand <case>", "77001")}, {"outcome": Outcome.MISSED}, {"condition": "wet"},
    {"sentence": "It is here again."}, {"remarks": ("Its count is short.",)}, {"hired_from": "Fettlewick"},
    {"other": ItemRef(8, "", "", "Another", "77002")},
)  # fmt: skip


@pytest.mark.parametrize("change", CHANGES, ids=lambda change: "".join(change))
def test_a_line_that_says_something_else_is_written_anew(change):
    told = {"acts": True, "case": "7", "show": "FMC"}
    for line in (LINE, replace(LINE, **change), LINE):
        assert row("return_row", line=line, **told) == included("return_row", line=line, **told)
    assert row("return_row", line=LINE, **told) != row("return_row", line=replace(LINE, **change), **told)


@pytest.mark.parametrize(
    "change", [{"acts": False}, {"case": "8"}, {"show": "ORB"}], ids=lambda change: "".join(change)
)
def test_a_row_of_another_page_or_reader_is_written_anew(change):
    told = {"line": replace(LINE, outcome=Outcome.MISSED), "acts": True, "case": "7", "show": "FMC"}
    for one in (told, told | change, told):
        assert row("return_row", **one) == included("return_row", **one)


def test_a_part_that_says_something_else_is_written_anew():
    moved = PART._replace(at_hand=0, fills=(PART.fills[0]._replace(meaning="stop", sentence="It is away."),))
    for part in (PART, moved, PART):
        for system in ("heron", "curlew", ""):
            assert row("part_row", part=part, system=system) == included("part_row", part=part, system=system)


def test_equal_rows_are_written_once():
    first = row("part_row", part=PART, system="heron")
    assert row("part_row", part=PART._replace(), system="heron") is first
