"""What was recorded on the drives of a load, as the rules read it."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from inventory.answers.keeping import Kept, KeptCopy
from shipping.packing import facts


def kept_in(cases: Collection[facts.Case], kept: Iterable[Kept]) -> tuple[facts.Kept, ...]:
    """Piece by piece what the drives in these cases hold, with the copies counted by where they are."""
    case_of = {piece.id: case.id for case in cases for piece in case.pieces}
    aboard = {*case_of, *(case.id for case in cases)}
    return tuple(
        facts.Kept(one.drive.id, case_of[one.drive.id], one.reference, one.released, *_counts(one.copies, aboard))
        for one in kept
        if one.drive.id in case_of
    )


def _counts(copies: Iterable[KeptCopy], aboard: Collection[int]) -> tuple[int, int, int]:
    """Aboard, elsewhere, nobody said where."""
    placed = [one for one in copies if one.is_placed]
    here = sum(one.on_drive in aboard or one.in_item in aboard for one in placed)
    return here, len(placed) - here, len(list(copies)) - len(placed)
