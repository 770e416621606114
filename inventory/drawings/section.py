"""Case section: a rack case from the side, or the slots of a hand case from above."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.utils.safestring import SafeString

from inventory.drawings import svg

UNIT = 34.0  # height of one rack unit
LEFT, TOP, DEPTH, LID = 64.0, 30.0, 430.0, 56.0


@dataclass(frozen=True, slots=True)
class RackPiece:
    """One unit in the rack. `bottom` is its lowest rack unit, counted from 1 at the floor; None: nobody has said."""

    name: str
    units: int
    bottom: int | None = None
    mass_kg: Decimal | None = None
    depth_mm: int | None = None
    on_rails: bool = False
    rear_support: bool | None = None


@dataclass(frozen=True, slots=True)
class CaseSection:
    """A rack case from the side. `balance` and `balance_limit` are shares of the inner height, 0 at the floor.

    `centre` is the centre of mass of the whole case, as shares of its outer depth from the front and of its height;
    `tips` says in words at what lean it tips.
    """

    number: str
    rack_units: int
    usable_depth_mm: int | None = None
    pieces: tuple[RackPiece, ...] = ()
    front_gap_mm: int | None = None
    rear_gap_mm: int | None = None
    balance: float | None = None
    balance_limit: float | None = None
    centre: tuple[float, float] | None = None
    tips: str = ""


@dataclass(frozen=True, slots=True)
class SlotPiece:
    """One slot, bay or pocket of a case and what lies in it, with its mass in words. `state` as the bay map says it."""

    label: str
    words: str = ""
    mass: str = ""
    state: str = ""


def kilograms(mass: Decimal | None) -> str:
    return "mass not known" if mass is None else f"{mass.normalize():f} kg"


def settled(section: CaseSection) -> list[RackPiece]:
    """The pieces with a rack unit each: those nobody placed go, heaviest lowest, into the free units from the floor."""
    placed = [piece for piece in section.pieces if piece.bottom is not None]
    taken = {unit for piece in placed for unit in range(piece.bottom or 1, (piece.bottom or 1) + piece.units)}
    for piece in sorted((p for p in section.pieces if p.bottom is None), key=lambda p: -(p.mass_kg or 0)):
        bottom = 1
        while taken & set(range(bottom, bottom + piece.units)):
            bottom += 1
        taken |= set(range(bottom, bottom + piece.units))
        placed.append(RackPiece(piece.name, piece.units, bottom, piece.mass_kg, piece.depth_mm, piece.on_rails,
                                piece.rear_support))  # fmt: skip
    return sorted(placed, key=lambda p: p.bottom or 1)


def _piece(piece: RackPiece, section: CaseSection, floor: float) -> list[str]:
    share = min(1.0, piece.depth_mm / section.usable_depth_mm) if piece.depth_mm and section.usable_depth_mm else 0.85
    height, width = piece.units * UNIT, DEPTH * share
    y = floor - ((piece.bottom or 1) - 1) * UNIT - height
    parts = [
        svg.box(LEFT, y + 1.5, width, height - 3, stroke_width=2),
        svg.box(LEFT - 7, y + 1.5, 7, height - 3, fill="currentColor"),
        svg.text(LEFT + 12, y + UNIT * 0.62, svg.fit(piece.name, width - 130, 15), size=15, font_weight=700),
        svg.text(LEFT + width - 10, y + UNIT * 0.62, kilograms(piece.mass_kg), size=14, text_anchor="end"),
    ]
    if piece.on_rails:
        parts.append(svg.line(LEFT, y + height - 6, LEFT + DEPTH, y + height - 6, stroke_width=3))
    if piece.rear_support:
        parts.append(svg.path(f"M{LEFT + DEPTH - 16} {y + height - 2}h16v-{height * 0.55:.1f}", stroke_width=3))
    return parts


def _lid(end: str, gap_mm: int | None) -> str:
    return f"{end} lid, gap " + (f"{gap_mm} mm" if gap_mm is not None else "not measured")


def _shell(section: CaseSection, height: float) -> list[str]:
    """The inner box, a lid at each end with its gap, and the rack units counted from the floor."""
    floor, right = TOP + height, LEFT + DEPTH
    parts = [
        svg.line(LEFT, TOP, LEFT, floor, stroke_dasharray="2 4"),
        svg.line(right, TOP, right, floor, stroke_dasharray="2 4"),
        svg.box(LEFT - LID, TOP - 6, DEPTH + 2 * LID, height + 12, stroke_width=3),
        svg.text(LEFT - LID, TOP - 13, _lid("front", section.front_gap_mm), size=13),
        svg.text(right + LID, TOP - 13, _lid("rear", section.rear_gap_mm), size=13, text_anchor="end"),
    ]
    for unit in range(1, section.rack_units + 1):
        y = floor - (unit - 0.35) * UNIT
        parts.append(svg.text(LEFT - 12, y + 4, unit, size=10, text_anchor="end"))
    return parts


def _balance(section: CaseSection, height: float) -> list[str]:
    """The height the load balances at, as a crossed ring at the edge, and the height it should stay below."""
    floor, right = TOP + height, LEFT + DEPTH + LID
    parts = []
    if section.balance_limit is not None:
        y = floor - height * section.balance_limit
        too_high = section.balance is not None and section.balance > section.balance_limit
        parts += [
            svg.line(LEFT - LID, y, right + 12, y, stroke_dasharray="9 4", stroke_width=1),
            svg.text(right + 16, y + (16 if too_high else -8), f"keep below {section.balance_limit:.0%}", size=13),
        ]
    if section.balance is not None:
        y = floor - height * section.balance
        parts += [
            svg.mark("circle", cx=right + 22, cy=y, r=8, fill="none", stroke="currentColor", stroke_width=2),
            svg.path(f"M{right + 10} {y:.1f}h24M{right + 22} {y - 12:.1f}v24", stroke_width=1.2),
            svg.text(right + 40, y + 5, f"balance {section.balance:.0%}", size=14, font_weight=700),
        ]
    return parts


def _centre(section: CaseSection, height: float) -> list[str]:
    """The centre of mass of the whole case: a quartered ring with a plumb line, and in words when it tips."""
    floor = TOP + height + 6
    parts = []
    if section.centre is not None:
        x = LEFT - LID + section.centre[0] * (DEPTH + 2 * LID)
        y = floor - section.centre[1] * (height + 12)
        quarter = f"M{x:.1f} {y:.1f}v-10a10 10 0 0 1 10 10zM{x:.1f} {y:.1f}v10a10 10 0 0 1 -10 -10z"
        parts += [
            svg.line(x, y, x, floor, stroke_dasharray="6 3 1 3", stroke_width=1),
            svg.mark("circle", cx=x, cy=y, r=10, fill="none", stroke="currentColor", stroke_width=2),
            svg.path(quarter, fill="currentColor", stroke="none"),
        ]
    if section.tips:
        parts.append(svg.text(LEFT - LID, floor + 22, f"centre of mass; tips {section.tips}", size=14))
    return parts


def _words(section: CaseSection, pieces: Sequence[RackPiece]) -> str:
    said = [f"Rack case of {section.rack_units} units, counted from the floor."]
    for piece in pieces:
        top = (piece.bottom or 1) + piece.units - 1
        rails = ", rails" if piece.on_rails else ""
        rear = ", rear support" if piece.rear_support else ""
        said.append(f"Units {piece.bottom} to {top}: {piece.name}, {kilograms(piece.mass_kg)}{rails}{rear}.")
    if section.balance is not None:
        said.append(f"The load balances at {section.balance:.0%} of the height.")
    if section.centre is not None:
        said.append(f"The whole case balances at {section.centre[1]:.0%} of its outer height.")
    if section.tips:
        said.append(f"It tips {section.tips}.")
    return " ".join(said)


def case_section(section: CaseSection) -> SafeString:
    """Draw a rack case from the side, front at the left. Thick lines under a piece are its rails."""
    pieces = settled(section)
    needed = max([section.rack_units, *((p.bottom or 1) + p.units - 1 for p in pieces)], default=1)
    height = max(1, needed) * UNIT
    parts = _shell(section, height)
    for piece in pieces:
        parts += _piece(piece, section, TOP + height)
    parts += _balance(section, height) + _centre(section, height)
    return svg.drawing(
        parts,
        width=LEFT + DEPTH + LID + 150,
        height=TOP + height + (40 if section.tips else 12),
        title=f"Section of {section.number}",
        desc=_words(section, pieces),
        css="case-section",
    )


def slot_view(number: str, slots: Sequence[SlotPiece]) -> SafeString:
    """Draw the slots of a hand case in order, seen from above: label, what lies there, its mass."""
    width, height, across = 150.0, 84.0, 4
    parts: list[str] = []
    for i, slot in enumerate(slots):
        x, y = 8 + (i % across) * width, 8 + (i // across) * height
        dash = "2 5" if slot.state in {"", "empty"} and not slot.words else None
        parts += [
            svg.box(x, y, width - 8, height - 8, stroke_width=2, stroke_dasharray=dash),
            svg.text(x + 10, y + 26, svg.fit(slot.label, 110, 20), size=20, font_weight=700),
            svg.text(x + 10, y + 46, svg.fit(slot.words or slot.state or "empty", width - 26, 13), size=13),
            svg.text(x + 10, y + 64, slot.mass, size=13),
        ]
        if slot.state == "wrong":
            parts.append(svg.wedge(x + width - 32, y + 10, 14))
    rows = -(-len(slots) // across) or 1
    parts.insert(0, svg.box(2, 2, across * width + 4, rows * height + 4, stroke_width=3))
    desc = ". ".join(f"{slot.label}: {slot.words or slot.state or 'empty'}" for slot in slots)
    return svg.drawing(
        parts,
        width=across * width + 8,
        height=rows * height + 8,
        title=f"Slots of {number}",
        desc=desc or "No slots are known.",
        css="slot-view",
    )
