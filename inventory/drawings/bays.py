"""Bay map: the bays of a frame, or the slots of a drive box, in their real order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from django.utils.safestring import SafeString

from inventory.drawings import svg

CELL_WIDTH, CELL_HEIGHT, GAP, ACROSS = 118.0, 138.0, 8.0, 6


class BayState(StrEnum):
    FITTED = "fitted"
    IN_BOX = "in box"
    ELSEWHERE = "elsewhere"
    EMPTY = "empty"
    WRONG = "wrong"


@dataclass(frozen=True, slots=True)
class BayCell:
    """One bay: its label, the tail of the serial in it, and how it stands. `words` say more, e.g. where it is."""

    label: str
    serial_tail: str = ""
    state: str = BayState.EMPTY
    words: str = ""

    @property
    def sentence(self) -> str:
        tail = f" {self.serial_tail}" if self.serial_tail else ""
        more = f", {self.words}" if self.words else ""
        return f"{self.label}:{tail} {self.state}{more}"


_OUTLINES: dict[str, dict[str, object]] = {
    BayState.FITTED: {"stroke_width": 3},
    BayState.IN_BOX: {"stroke_width": 1.5},
    BayState.ELSEWHERE: {"stroke_width": 1.5, "stroke_dasharray": "8 5"},
    BayState.EMPTY: {"stroke_width": 1.5, "stroke_dasharray": "2 5"},
    BayState.WRONG: {"stroke_width": 3},
}


def _sign(state: str, x: float, y: float) -> str:
    """The shape of a state in the cell's upper right corner: bar, open box, ring, nothing, wedge."""
    shapes = {
        BayState.FITTED: svg.box(x, y + 2, 18, 8, fill="currentColor"),
        BayState.IN_BOX: svg.path(f"M{x} {y}v12h18v-12", stroke_width=2),
        BayState.ELSEWHERE: svg.mark(
            "circle", cx=x + 11, cy=y + 6, r=6, fill="none", stroke="currentColor", stroke_dasharray="2 2"
        ),
        BayState.WRONG: svg.wedge(x + 4, y - 1, 14),
    }
    return shapes.get(BayState(state), "")


def _cell(cell: BayCell, x: float, y: float) -> list[str]:
    inner = CELL_WIDTH - 20
    outline = _OUTLINES.get(cell.state, _OUTLINES[BayState.EMPTY])
    return [
        svg.box(x, y, CELL_WIDTH, CELL_HEIGHT, **outline),
        svg.text(x + 10, y + 44, svg.fit(cell.label, inner - 24, 40), size=40, font_weight=700),
        _sign(cell.state, x + CELL_WIDTH - 30, y + 12),
        svg.text(x + 10, y + 70, svg.fit(cell.serial_tail, inner, 17, mono=True), size=17, mono=True),
        svg.text(x + 10, y + 91, cell.state, size=15, font_weight=700),
        *(
            svg.text(x + 10, y + 109 + 16 * i, part, size=13)
            for i, part in enumerate(svg.wrap(cell.words, inner, 13, lines=2))
        ),
    ]


def bay_map(cells: Sequence[BayCell], *, title: str = "Bay map") -> SafeString:
    """Draw the bays in the order given, six to a row. Raises ValueError on a state that is no BayState."""
    parts: list[str] = []
    for i, cell in enumerate(cells):
        column, row = i % ACROSS, i // ACROSS
        parts += _cell(cell, 2 + column * (CELL_WIDTH + GAP), 2 + row * (CELL_HEIGHT + GAP))
    across, rows = min(len(cells), ACROSS) or 1, -(-len(cells) // ACROSS) or 1
    return svg.drawing(
        parts,
        width=4 + across * (CELL_WIDTH + GAP) - GAP,
        height=4 + rows * (CELL_HEIGHT + GAP) - GAP,
        title=title,
        desc=". ".join(cell.sentence for cell in cells) or "No bays are known.",
        css="bay-map",
    )
