"""The label on a case: its number at three metres, where it goes, how heavy, whom to call."""

from __future__ import annotations

import re
from dataclasses import dataclass

from django.conf import settings

from inventory.drawings.marks import Mark
from inventory.labels import address
from inventory.models import Item
from inventory.papers import Draft, Form
from shipping.documents.around import Around
from shipping.documents.stowage import Stowed, mass_words
from shipping.models import ConsignmentCase
from shipping.packing.lifting import CAUTION

FORM = Form("case-label", "case label", "case", ("100x150", "100x150-black", "a4", "letter"), copies=2)
# Tape colours a crew says: the class of the band, and the ink that reads on it.
BANDS = {
    "BLUE": "#fff", "GREEN": "#fff", "RED": "#fff", "BLACK": "#fff", "VIOLET": "#fff", "BROWN": "#fff",
    "YELLOW": "#000", "WHITE": "#000", "GREY": "#000",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class CaseMark:
    kind: str
    limit: str = ""


@dataclass(frozen=True, slots=True)
class CaseLabel:
    letters: str
    digits: str
    code: str
    qr: str
    system: str
    colour: str
    band: str
    ink: str
    kind: str
    n_of_n: str
    trip: str
    room: str
    first_off: bool
    mass: str
    weighed: str
    lift: str
    guide: str
    marks: tuple[CaseMark, ...]
    seal: str
    owner: str


def split_number(number: str) -> tuple[str, str]:
    """HER-07 as its letters and its digits; a number of another shape is all digits-high."""
    found = re.fullmatch(r"([A-Z]{1,4})[- ]?(\d{1,4})", number.upper())
    return (found[1], found[2]) if found else ("", number)


def handling_marks(case: Item, rows: list[Stowed]) -> tuple[CaseMark, ...]:
    """What the hand must know before it tips or stacks the case."""
    types = [case.type, *(row.item.type for row in rows if row.here or row.expected)]
    on_top = case.type.max_on_top_kg
    marks = []
    if any(one.stays_upright for one in types):
        marks.append(CaseMark(Mark.THIS_WAY_UP.value))
    if any(one.shock_critical for one in types):
        marks.append(CaseMark(Mark.FRAGILE.value))
    if on_top is not None:
        limit = f"{on_top.normalize():f}"
        marks.append(CaseMark(Mark.DO_NOT_STACK.value) if on_top == 0 else CaseMark(Mark.STACK_LIMIT.value, limit))
    if any(one.battery_chemistry or one.battery_count for one in types):
        marks.append(CaseMark(Mark.BATTERY.value))
    return tuple(marks)


def is_discreet(case: Item) -> bool:
    """A drive box says nothing of the show on its outside (rule 31)."""
    container = getattr(case.type, "container", None)
    return bool(container and container.for_drives)


def _trip_fields(case: Item, trip: ConsignmentCase | None, around: Around) -> dict[str, object]:
    if trip is None:
        return {"n_of_n": "", "trip": "", "room": "", "first_off": False}
    consignment = trip.consignment
    name = consignment.name if is_discreet(case) or consignment.show.discreet else str(consignment)
    return {
        "n_of_n": f"{trip.position} of {around.size_of(consignment.id)}",
        "trip": name,
        "room": trip.to_room,
        "first_off": trip.first_off,
    }


def build(case: Item, medium: str, around: Around) -> Draft:
    """The label of one case for its next trip."""
    rows, trip = around.rows(case, around.next_show(case)), around.next_trip(case)
    gross = around.gross(case, rows)
    code, system = case.code, case.home_system
    letters, digits = split_number(case.number or code)
    colour = (system.colour if system else "").upper()
    owner = " · ".join(part for part in (settings.OWNER_PHONE, settings.OWNER_NAME or case.owner.name) if part)
    body = CaseLabel(
        letters=letters, digits=digits, code=code, qr=address(code),
        system=system.name if system else "", colour=colour,
        band=colour.lower() if colour in BANDS else "white", ink=BANDS.get(colour, "#000"),
        kind=case.name or "",
        mass=mass_words(gross.kg), weighed=gross.how, lift=around.lift(gross.kg).words, guide=CAUTION,
        marks=handling_marks(case, rows), seal=around.seal(case), owner=f"If found: {owner}",
        **_trip_fields(case, trip, around),
    )  # fmt: skip
    reference = trip.consignment.show.code if trip else ""
    return Draft(FORM, medium, case.number or code, f"Case label {case.number or code}", body, reference, case)
