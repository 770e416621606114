"""What a scan says back: good, already done, wrong or unknown, by looking at a list.

Membership only, no rules. A phone without signal says the same from the list it downloaded; both are held to one
table, tests/inventory/says_table.json.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Says(StrEnum):
    GOOD = "good"
    ALREADY = "already done"
    WRONG = "wrong"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Doing:
    """What the bearer is doing. `place` is a key such as "place:12"; `sets` may stand in the bay being walked."""

    verb: str
    place: str = ""
    place_words: str = ""
    bay: str = ""
    sets: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Line:
    """One thing on the list: where it should go, where it was put last, and which bay of which set it is.

    `to` is "" where the list does not say. `to_words` is ready to follow "goes" ("on Meadowrue", "in HER-03").
    """

    words: str
    to: str = ""
    to_words: str = ""
    drive_set: str = ""
    bay: str = ""
    done_place: str = ""
    done_bay: str = ""
    done_at: str = ""
    done_by: str = ""


@dataclass(frozen=True, slots=True)
class Said:
    word: Says
    sentence: str


ON = {"loaded": "on"}
IN = {"packed", "fitted"}


def says(doing: Doing, line: Line | None, code: str) -> Said:
    """Answer one scan. The order of the questions is part of the answer: unknown, already done, wrong, good."""
    if line is None:
        return Said(Says.UNKNOWN, f"{code} is not in this book yet. It is kept: found here, or adopt it at the desk.")
    if _is_done(doing, line):
        return Said(Says.ALREADY, f"{line.words}: already {where(doing)}{_since(line)}.")
    wrong = _wrong_bay(doing, line) or _wrong_place(doing, line)
    if wrong:
        return Said(Says.WRONG, wrong)
    return Said(Says.GOOD, f"{line.words} {where(doing)}.")


def where(doing: Doing) -> str:
    """The doing as words that follow a name: "on Teasel", "in HER-04, A", "seen"."""
    if not doing.place:
        return doing.verb
    preposition = ON.get(doing.verb, "in" if doing.verb in IN else "at")
    return f"{preposition} {doing.place_words}" + (f", {doing.bay}" if doing.bay else "")


def _is_done(doing: Doing, line: Line) -> bool:
    same_place = bool(doing.place) and line.done_place == doing.place
    return same_place and doing.bay in ("", line.done_bay)


def _since(line: Line) -> str:
    at = f" at {line.done_at}" if line.done_at else ""
    return at + (f" by {line.done_by}" if line.done_by else "")


def _wrong_bay(doing: Doing, line: Line) -> str:
    if not (doing.bay and doing.sets):
        return ""
    wanted = f"{doing.bay} here is for {' or '.join(doing.sets)}"
    if not line.drive_set:
        return f"This is {line.words}, in no set. {wanted}."
    if line.drive_set not in doing.sets:
        return f"This is {line.drive_set}'s {line.bay or 'drive'}. {wanted}."
    if line.bay and line.bay != doing.bay:
        return f"This is {line.drive_set}'s {line.bay}, not {doing.bay}."
    return ""


def _wrong_place(doing: Doing, line: Line) -> str:
    if not doing.place or not line.to or line.to == doing.place:
        return ""
    return f"{line.words} goes {line.to_words}. Recorded {where(doing)} all the same."
