"""Names one after another, as a sentence says them."""

from __future__ import annotations

import pytest

from inventory.enumerating import all_of, some_of


@pytest.mark.parametrize(
    ("names", "words"),
    [("", ""), ("A", "A"), ("AB", "A and B"), ("ABC", "A, B and C"), ("ABCDEF", "A, B, C, D, E and F")],
)
def test_a_few_names_are_all_said(names, words):
    assert all_of(names) == some_of(names) == words


def test_of_many_the_first_are_said_and_how_many_more():
    assert some_of("ABCDEFG") == "A, B, C, D, E and 2 more"
    assert some_of(iter("ABCD"), most=2) == "A, B and 2 more"
