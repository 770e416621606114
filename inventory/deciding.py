"""What every decision about content has in common: it is refused in words, and made one after another.

Decisions take a lock on the rows of the drives they name, in id order, and happen at a moment after every
decision that was committed before: so that of two people at once, the second sees what the first decided.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

from inventory.answers.values import Reason
from inventory.models import Acceptance, Copy, Hold, HoldLift, Item, Kind, Release, Wipe, Withdrawal

DECISIONS = (Release, Withdrawal, Hold, HoldLift, Copy, Wipe, Acceptance)


class Refused(ValueError):
    """A decision that may not be made. Carries a sentence to show, and the reasons with their ways out."""

    def __init__(self, sentence: str, reasons: Sequence[Reason] = ()) -> None:
        super().__init__(sentence)
        self.reasons = tuple(reasons)


def lock(drives: Iterable[Item], at: datetime) -> datetime:
    """Lock these drives until the transaction ends; the moment of the decision, later than any before it."""
    ids = sorted({drive.pk for drive in drives})
    list(Item.objects.select_for_update(of=("self",)).filter(pk__in=ids).order_by("pk").values_list("pk", flat=True))
    newest = [model.objects.order_by("-entered_at").values_list("entered_at", flat=True).first() for model in DECISIONS]
    return max([at, *(one + timedelta(microseconds=1) for one in newest if one is not None)])


def must_be_drives(drives: Sequence[Item]) -> None:
    if not drives:
        raise Refused("Name at least one drive, by its serial.")
    for drive in drives:
        if drive.type.kind != Kind.DRIVE:
            raise Refused(f"{drive} is no drive. Name drives only.")


def said(text: str, what: str) -> str:
    """Words that must be there: `what` says what they tell."""
    if not text.strip():
        raise Refused(f"Say {what}.")
    return text.strip()[:250]
