"""What to ask the carrier's dangerous-goods person about batteries. Questions only: no wording to copy onto a paper.

UN entries and packing instructions as seen on secondary pages (2026), sodium-ion and the wet cell from memory; the
carrier's own book is the one that counts, and it changes every year. Pure.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from shipping.packing.facts import Case, Leg, Load, Piece
from shipping.packing.rules.batteries import air_band, is_lead, is_lithium, runs_on_batteries

SOURCE = (
    "UN entries and packing instructions as seen on secondary pages in 2026, some from memory. The carrier's own book "
    "and its dangerous-goods person decide."
)
CAUTION = (
    "Questions for the carrier's dangerous-goods person, before booking. Nothing here is wording for a label, a "
    "waybill or a declaration, and no answer is suggested."
)
WITH_SOC_SINCE = date(2026, 1, 1)


@dataclass(frozen=True, slots=True)
class Entry:
    """An entry of the dangerous-goods list that a battery may fall under, and the instruction for packing it by air."""

    un: str
    what: str
    instruction: str


ALONE, WITH, INSIDE = "alone", "packed with equipment", "contained in equipment"
ENTRIES: dict[tuple[str, str], Entry] = {
    ("lithium-ion", ALONE): Entry("UN 3480", "lithium-ion batteries", "965"),
    ("lithium-ion", WITH): Entry("UN 3481", "lithium-ion batteries packed with equipment", "966"),
    ("lithium-ion", INSIDE): Entry("UN 3481", "lithium-ion batteries contained in equipment", "967"),
    ("lithium-metal", ALONE): Entry("UN 3090", "lithium-metal batteries", "968"),
    ("lithium-metal", WITH): Entry("UN 3091", "lithium-metal batteries packed with equipment", "969"),
    ("lithium-metal", INSIDE): Entry("UN 3091", "lithium-metal batteries contained in equipment", "970"),
    ("sodium-ion", ALONE): Entry("UN 3551", "sodium-ion batteries", "976"),
    ("sodium-ion", WITH): Entry("UN 3552", "sodium-ion batteries packed with equipment", "977"),
    ("sodium-ion", INSIDE): Entry("UN 3552", "sodium-ion batteries contained in equipment", "978"),
    ("lead-acid", ALONE): Entry("UN 2800", "batteries, wet, non-spillable", "872"),
    ("wet", ALONE): Entry("UN 2794", "batteries, wet, filled with acid", "870"),
}


@dataclass(frozen=True, slots=True)
class Asked:
    """What to ask about one kind of battery in one case."""

    case: str
    thing: str
    count: int
    entry: Entry | None
    questions: tuple[str, ...]

    @property
    def heading(self) -> str:
        if self.entry is None:
            return f"{self.thing} in {self.case}: which entry of the list?"
        return f"{self.thing} in {self.case}: {self.entry.un}, packing instruction {self.entry.instruction}?"


def chemistry(piece: Piece) -> str:
    """The family of its battery; nothing where nobody has said."""
    said = piece.battery_chemistry.lower()
    if is_lead(piece):
        return "lead-acid"
    if said.startswith(("sodium", "na-ion")):
        return "sodium-ion"
    if said.startswith(("wet", "flooded")):
        return "wet"
    if is_lithium(piece):
        return "lithium-metal" if "metal" in said else "lithium-ion"
    return ""


def battery_questions(load: Load, limits: Mapping[tuple[str, str], Decimal]) -> list[Asked]:
    """One set of questions for each kind of battery in each case, in the order of the cases."""
    found: dict[tuple[int, str, str, str], list[Piece]] = {}
    for case, piece in load.each():
        if piece.battery_count or piece.battery_chemistry or piece.kind in {"ups", "battery"}:
            key = (case.id, piece.type_name or piece.name, piece.battery_chemistry, piece.kind)
            found.setdefault(key, []).append(piece)
    cases = {case.id: case for case in load.cases}
    return [_asked(cases[key[0]], pieces, load, limits) for key, pieces in found.items()]


def _asked(case: Case, pieces: list[Piece], load: Load, limits: Mapping[tuple[str, str], Decimal]) -> Asked:
    piece, family = pieces[0], chemistry(pieces[0])
    entry = ENTRIES.get((family, _how(piece, case, family)))
    count = sum(one.quantity * max(1, one.battery_count) for one in pieces)
    return Asked(
        case.number, piece.type_name or piece.name, count, entry,
        tuple(_questions(piece, entry, load, limits)),
    )  # fmt: skip


def _how(piece: Piece, case: Case, family: str) -> str:
    if family in {"lead-acid", "wet"}:
        return ALONE
    if piece.kind != "battery":
        return INSIDE
    return WITH if runs_on_batteries(case) else ALONE


def _questions(
    piece: Piece, entry: Entry | None, load: Load, limits: Mapping[tuple[str, str], Decimal]
) -> Iterator[str]:
    if entry is None:
        yield "What battery is in it? Read the plate, enter the chemistry with the type, then ask again."
        return
    yield f"Is it {entry.un}, {entry.what}, by packing instruction {entry.instruction}? Which section of it?"
    if piece.kind == "ups" and is_lithium(piece):
        yield "Do you take a UPS as equipment with a battery in it, or as a battery alone, as power banks are?"
    if entry.un in {"UN 2800", "UN 2794"}:
        yield from _acid(entry)
    else:
        yield from _dry(piece, entry, load, limits)
    yield "What must stand on the case and on the papers, in whose words, and who signs?"
    yield from _aircraft(load.leg, entry)


def _acid(entry: Entry) -> Iterator[str]:
    if entry.un == "UN 2800":
        yield "Is the battery tested and marked as non-spillable, and does special provision A67 apply?"
    yield "Who isolates it after the maker's manual, covers the terminals and keeps it from switching on?"
    yield "May a UPS go at all with this carrier, or is one hired there?"


def _dry(piece: Piece, entry: Entry, load: Load, limits: Mapping[tuple[str, str], Decimal]) -> Iterator[str]:
    soc = limits["lithium-with-equipment-by-air", "soc_pct"]
    if piece.battery_wh is None and "metal" not in entry.what:
        yield "How many watt-hours has each battery? Read it off the plate: the bands end at 100 and at 160 Wh."
    elif piece.battery_wh is not None:
        band = air_band(piece.battery_wh)
        yield f"Each has {piece.battery_wh.normalize():f} Wh, in the band {band} Wh: what follows from it?"
    if "metal" in entry.what:
        yield "How many grams of lithium has each?"
    if entry.what.endswith(("batteries", "with equipment")):
        since = " (asked for packed with equipment since January 2026)" if load.on >= WITH_SOC_SINCE else ""
        yield f"How far may it be charged, and how is that shown? {soc.normalize():f} % is what we have on file{since}."
    if entry.what.endswith("with equipment"):
        yield "How many may go beside what the equipment needs, and how many kg of them in one package?"
    yield "Is the summary of the UN 38.3 tests at hand for this type, and is none damaged or recalled?"


def _aircraft(leg: Leg | None, entry: Entry) -> Iterator[str]:
    if leg is None or leg.mode != "air":
        yield f"By {leg.mode if leg else 'this carrier'}: which rules apply, and is any of it exempt?"
    elif leg.passenger_aircraft:
        yield "The leg is entered as flown on a passenger aircraft: may it go on one at all?"
    else:
        yield "The leg is entered as flown on a cargo aircraft: is that booked, and does it stay so?"
