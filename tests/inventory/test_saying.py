"""The server says what the shared table says; the phone is held to the same file."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from inventory.saying import Doing, Line, Says, says

TABLE = json.loads((Path(__file__).parent / "says_table.json").read_text())["rows"]


@pytest.mark.parametrize("row", TABLE, ids=[row["name"] for row in TABLE])
def test_a_scan_says_what_the_table_says(row):
    doing = Doing(**{**row["doing"], "sets": tuple(row["doing"].get("sets", ()))})
    line = Line(**row["line"]) if row["line"] else None
    said = says(doing, line, row["code"])
    assert (said.word.value, said.sentence) == (row["says"], row["sentence"])


def test_the_table_shows_every_word():
    assert {row["says"] for row in TABLE} == {word.value for word in Says}
