"""What is on the drives of a sheet. Asked, never assumed: silence stays NOT KNOWN."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from inventory.exchange.lines import Line
from inventory.exchange.matching import Matches, type_key
from inventory.exchange.notices import Notices
from inventory.exchange.raw import words_of
from inventory.exchange.types import TypePlan
from inventory.models import Kind

BLANK_WORDS = {"blank", "empty", "wiped", "clear", "nothing", "erased", "formatted", "nothing on it"}


@dataclass(frozen=True, slots=True)
class Blank:
    """A named person's word that a drive is blank, and how they know."""

    who: str
    how: str


def content_of(
    lines: list[Line], types: Mapping[str, TypePlan], matches: Matches, notices: Notices
) -> dict[str, Blank]:  # fmt: skip
    """Row name to the blank declaration it makes. Only a drive new to the book can be declared blank by a sheet."""
    found: dict[str, Blank] = {}
    asked: dict[str, list[Line]] = {}
    for line in lines:
        if types[type_key(line)].kind != Kind.DRIVE:
            continue
        says_blank = words_of(line.text("content")) in BLANK_WORDS
        if matches.items.get(line.ref):
            if says_blank or line.text("content"):
                notices.remark(
                    line.spot("content"), "The book keeps what it knows of this drive; a sheet does not change it."
                )
        elif says_blank and line.text("blank_by") and line.text("blank_how"):
            found[line.ref] = Blank(line.text("blank_by"), line.text("blank_how"))
        elif says_blank or not line.text("content"):
            asked.setdefault(line.text("home_set"), []).append(line)
    for drive_set, group in asked.items():
        found.update(_asked(drive_set, group, notices))
    return found


def _asked(drive_set: str, group: list[Line], notices: Notices) -> dict[str, Blank]:
    """One question for the drives of one set about which the sheet says too little."""
    which = f"of {drive_set}" if drive_set else "without a set"
    said = (
        " The sheet says blank, but not who says so and how they know." if any(x.text("content") for x in group) else ""
    )
    answer = notices.ask(
        f"content:{words_of(drive_set)}", f"What is on the {_drives(len(group))} {which}?{said}",
        [line.spot("content") for line in group],
        choices=[("unknown", "not known; the work list will ask")], free="who and how", holds_up=False,
    )  # fmt: skip
    who, _, how = answer.partition("|")
    return {line.ref: Blank(who.strip(), how.strip()) for line in group} if how else {}


def _drives(many: int) -> str:
    return "drive" if many == 1 else f"{many} drives"
