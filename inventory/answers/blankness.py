"""Which drive sets may be recorded on: complete, and blank by somebody's word or a counted wipe."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

from inventory.answers.starts import YES
from inventory.answers.values import Reason, Verdict
from inventory.answers.wiping import WipeAnswer, wipe_answers_of_sets
from inventory.models import DriveSet
from inventory.unchanged import kept

BLANK, NOT_BLANK = "BLANK", "NOT BLANK"


def blank_sets(sets: Iterable[DriveSet], at: datetime) -> dict[int, Verdict]:
    """BLANK or NOT BLANK of each set, by id. Silence is never blank: what nobody declared or wiped is not."""
    asked = sorted(drive_set.pk for drive_set in sets)
    return kept(("blank sets", *asked), at, lambda: _blank_sets(asked, at)) if asked else {}


def _blank_sets(asked: Sequence[int], at: datetime) -> dict[int, Verdict]:
    sets = list(DriveSet.objects.filter(pk__in=asked))
    answers = wipe_answers_of_sets(sets, at)
    return {drive_set.pk: verdict_on(drive_set, answers[drive_set.pk]) for drive_set in sets}


def verdict_on(drive_set: DriveSet, told: WipeAnswer) -> Verdict:
    """A set is blank if each of its bays has a drive and nothing is on any of them, for sure."""
    short = len(drive_set.bay_labels) - len(told.members)
    if short > 0:
        have = f"{len(told.members)} of {len(drive_set.bay_labels)} drives"
        reason = Reason("incomplete", f"{drive_set} has {have}.", f"Join {short} more to {drive_set}.")
        return Verdict(NOT_BLANK, f"it has {have}", (reason, *told.reasons))
    if told.answer != YES:
        return Verdict(NOT_BLANK, told.sentence.rstrip("."), told.reasons)
    if any(member.content for member in told.members) or told.content:
        reason = Reason("released, not wiped", f"{drive_set} still holds released content.", f"Wipe {drive_set}.")
        return Verdict(NOT_BLANK, "it holds released content and is not wiped", (reason,))
    return Verdict(BLANK, f"{drive_set} is blank and confirmed.", told.reasons)
