"""How the sentence of a wipe answer names drives."""

from __future__ import annotations

from inventory.answers.values import ItemRef
from inventory.answers.wiping import in_words


def drive(serial: str) -> ItemRef:
    return ItemRef(1, "", "", "drive", serial)


def test_bays_with_numbers_are_named_in_the_order_people_count():
    bays = [(bay, drive(f"S{bay}")) for bay in ("10", "2", "1", "A")]
    assert in_words([*bays, ("", drive("S10")), ("", drive("S9"))]) == "bays 1, 2, 10, A and drives S9, S10"
