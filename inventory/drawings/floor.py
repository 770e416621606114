"""Vehicle floor plan: the deck from above and from the side, rows from the headboard, what each axle carries."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from django.utils.safestring import SafeString

from inventory.drawings import svg

WIDE, EDGE, HEAD, BETWEEN, LINE = 1000.0, 44.0, 64.0, 66.0, 24.0
LARGEST, LEAST = 22.0, 7.0
KEY = "Bold: on the deck. Thin, dashed: on that case. Filled edge: first off."
Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class FloorCase:
    """One case: near left lower corner and size in mm, x from the headboard, y from the left side, z from the deck."""

    label: str
    at_mm: tuple[int, int, int]
    size_mm: tuple[int, int, int]
    row: int
    place: int
    tier: int
    stop: int = 1
    first_off: bool = False
    key: str = ""


@dataclass(frozen=True, slots=True)
class FloorAxle:
    """`words` say what it carries, stage by stage."""

    name: str
    at_mm: int
    words: str = ""


@dataclass(frozen=True, slots=True)
class Floor:
    """A deck with what stands on it. Stops are named where there are several; `lines` are written below."""

    vehicle: str
    size_mm: tuple[int, int, int]
    cases: tuple[FloorCase, ...]
    axles: tuple[FloorAxle, ...] = ()
    stops: tuple[str, ...] = ()
    lines: tuple[str, ...] = ()


class _Sheet:
    """Where millimetres of the deck lie on the drawing."""

    def __init__(self, floor: Floor) -> None:
        self.floor = floor
        far = [axle.at_mm for axle in floor.axles]
        self.first = min([0, *far]) - (150 if far else 0)
        last = max([floor.size_mm[0], *far])
        self.scale = (WIDE - 2 * EDGE) / max(1, last - self.first)
        self.top = HEAD
        self.bottom = self.top + floor.size_mm[1] * self.scale
        self.roof = self.bottom + BETWEEN
        self.deck = self.roof + floor.size_mm[2] * self.scale

    def x(self, millimetres: float) -> float:
        return EDGE + (millimetres - self.first) * self.scale

    def from_above(self, case: FloorCase) -> Box:
        (x, y, _), (length, width, _) = case.at_mm, case.size_mm
        return self.x(x), self.bottom - (y + width) * self.scale, length * self.scale, width * self.scale

    def from_the_side(self, case: FloorCase) -> Box:
        (x, _, z), (length, _, height) = case.at_mm, case.size_mm
        return self.x(x), self.deck - (z + height) * self.scale, length * self.scale, height * self.scale


def stacks_of(cases: Sequence[FloorCase]) -> list[list[FloorCase]]:
    """The cases of each stack from the deck up, row by row."""
    ordered = sorted(cases, key=lambda one: (one.row, one.place, one.tier))
    return [list(stack) for _, stack in groupby(ordered, key=lambda one: (one.row, one.place))]


def floor_plan(floor: Floor) -> SafeString:
    """Draw the deck; one SVG for page and paper. Its description says all of it in words, row by row."""
    sheet = _Sheet(floor)
    parts = [*_walls(sheet), *_rows(sheet)]
    for stack in stacks_of(floor.cases):
        parts += _stack(sheet, stack)
    for case in floor.cases:
        if not any(_hides(near, case) for near in floor.cases):
            parts.append(svg.box(*sheet.from_the_side(case), stroke_width=2 if case.at_mm[2] == 0 else 1.2))
    parts += _axles(sheet)
    below = sheet.deck + (58 if floor.axles else 34)
    lines = [f"{axle.name}: {axle.words}" for axle in floor.axles if axle.words] + [*floor.lines, KEY]
    lines = [part for line in lines for part in svg.wrap(line, WIDE - EDGE, 17)]
    parts += [svg.text(EDGE, below + at * LINE, line, size=17) for at, line in enumerate(lines)]
    return svg.drawing(
        parts, width=WIDE, height=below + max(0, len(lines) - 1) * LINE + 10, css="floor-plan",
        title=f"Floor plan of {floor.vehicle}", desc=" ".join(_words(floor)),
    )  # fmt: skip


def _walls(sheet: _Sheet) -> list[str]:
    """The deck from above and from the side: the headboard thick, the door open."""
    length, width, height = (side * sheet.scale for side in sheet.floor.size_mm)
    near = sheet.x(0)
    parts = []
    for top, high, words in ((sheet.top, width, ("right side", "left side")), (sheet.roof, height, ("roof", "deck"))):
        parts += [
            svg.box(near, top, length, high, stroke_width=1.2),
            svg.line(near - 3, top, near - 3, top + high, stroke_width=8),
            svg.line(near + length, top, near + length, top + high, stroke_width=3, stroke_dasharray="10 8"),
            svg.text(near + length, top - 6, words[0], size=13, text_anchor="end"),
            _upright(near - 14, top + high / 2, "headboard", 15),
            _upright(near + length + 20, top + high / 2, "door", 15),
        ]
    parts.append(svg.text(near + length, sheet.bottom + 15, "left side", size=13, text_anchor="end"))
    parts.append(svg.text(near, sheet.top - 42, "from above", size=15, font_weight=700))
    parts.append(svg.text(near, sheet.roof - 10, "from the side", size=15, font_weight=700))
    return parts


def _hides(near: FloorCase, case: FloorCase) -> bool:
    """From the left side: does one stand wholly before the other?"""
    return near.at_mm[1] < case.at_mm[1] and all(
        near.at_mm[axis] <= case.at_mm[axis]
        and case.at_mm[axis] + case.size_mm[axis] <= near.at_mm[axis] + near.size_mm[axis]
        for axis in (0, 2)
    )


def _upright(x: float, y: float, words: str, size: float) -> str:
    return svg.text(x, y, words, size=size, text_anchor="middle", transform=f"rotate(-90 {x:.1f} {y:.1f})")


def _rows(sheet: _Sheet) -> list[str]:
    """Row numbers over the deck, each with the span that it covers."""
    parts = []
    for row in sorted({case.row for case in sheet.floor.cases}):
        mine = [case for case in sheet.floor.cases if case.row == row]
        start = sheet.x(min(case.at_mm[0] for case in mine))
        end = sheet.x(max(case.at_mm[0] + case.size_mm[0] for case in mine))
        word = f"row {row}" if end - start > 60 else str(row)
        parts += [
            svg.path(f"M{start + 2:.1f} {sheet.top - 4}v-8H{end - 2:.1f}v8", stroke_width=1.2),
            svg.text((start + end) / 2, sheet.top - 18, word, size=19, font_weight=700, text_anchor="middle"),
        ]
    return parts


def _stack(sheet: _Sheet, stack: Sequence[FloorCase]) -> list[str]:
    """One stack from above: its numbers as they stand, the lowest bold at the bottom; first off with a filled edge."""
    x, y, width, height = sheet.from_above(stack[0])
    parts = [svg.box(x, y, width, height, stroke_width=2.2)]
    parts += [svg.box(*sheet.from_above(case), stroke_width=0.9, stroke_dasharray="5 4") for case in stack[1:]]
    right = 0.0
    if any(case.first_off for case in stack):
        right = min(9.0, width / 6)
        parts.append(svg.box(x + width - right, y, right, height, fill="currentColor"))
    words = [case.label for case in reversed(stack)]
    if len(sheet.floor.stops) > 1:
        words.append("/".join(f"stop {stop}" for stop in sorted({case.stop for case in stack})))
    return parts + _words_in((x + 3, y + 2, width - right - 6, height - 4), words, len(stack) - 1)


def _words_in(box: Box, words: Sequence[str], bold: int) -> list[str]:
    """As large as they go, along the deck or across it."""
    x, y, width, height = box
    longest = max(len(word) for word in words) * svg.SANS_ADVANCE * 1.25
    along = min(width / longest, height / (len(words) * 1.15))
    across = min(height / longest, width / (len(words) * 1.15))
    size = max(LEAST, min(LARGEST, max(along, across)))
    turn = across > along * 1.15 and along < LARGEST
    cx, cy = x + width / 2, y + height / 2
    transform = f"rotate(-90 {cx:.1f} {cy:.1f})" if turn else None
    start = cy - (len(words) - 1) * size * 1.1 / 2 + size * 0.35
    room = height if turn else width
    return [
        svg.text(
            cx, start + at * size * 1.1, svg.fit(word, max(room, 20), size * 0.94), size=size, text_anchor="middle",
            transform=transform, font_weight=700 if at == bold else None,
        )
        for at, word in enumerate(words)
    ]  # fmt: skip


def _axles(sheet: _Sheet) -> list[str]:
    """A wheel under the deck at each axle, and its name."""
    parts = []
    for axle in sheet.floor.axles:
        x = sheet.x(axle.at_mm)
        parts += [
            svg.mark("circle", cx=x, cy=sheet.deck + 15, r=13, fill="none", stroke="currentColor", stroke_width=4),
            svg.line(x, sheet.deck, x, sheet.top, stroke_width=0.7, stroke_dasharray="2 6"),
            svg.text(min(max(x, 70), WIDE - 70) + 18, sheet.deck + 32, axle.name, size=14),
        ]
    return parts


def _words(floor: Floor) -> list[str]:
    """All of the drawing in sentences."""
    said = []
    for row, cases in groupby(sorted(floor.cases, key=lambda one: (one.row, one.place, one.tier)), lambda one: one.row):
        stacks = stacks_of(list(cases))
        said.append(f"Row {row} from the headboard: {'; '.join(_stack_words(floor, stack) for stack in stacks)}.")
    said += [
        f"{axle.name}, {axle.at_mm} mm behind the headboard: {axle.words or 'not reckoned'}." for axle in floor.axles
    ]
    return said or ["Nothing stands on the deck."]


def _stack_words(floor: Floor, stack: Sequence[FloorCase]) -> str:
    base = stack[0].label + "".join(f", on it {case.label}" for case in stack[1:])
    stop = f", off at {floor.stops[stack[0].stop - 1]}" if len(floor.stops) > 1 else ""
    return base + stop + (", first off" if any(case.first_off for case in stack) else "")
