"""Vehicle floor plan: the deck from above and from the side, rows from the headboard, what each axle carries.

To scale where something stands. What is free behind the last row or above the highest case is drawn shorter than it is
where it is much, with a broken edge and its length in words, so that the load itself stays readable on any paper.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from django.utils.safestring import SafeString

from inventory.drawings import svg

WIDE, EDGE, HEAD, BETWEEN = 1000.0, 44.0, 64.0, 66.0
LARGEST, LEAST, NAMES = 30.0, 7.0, 19.0
UPRIGHT = 0.8  # of its width: a drawing as high as this leaves room for its lines beside it on a sheet
MUCH_MM, SPARE_MM = 1500, 200  # free room above this is broken off; so much of it is still drawn to scale
BEFORE, BROKEN, MOST = 56.0, 96.0, 0.26  # units for an axle before the headboard, for what is broken off, and a mm
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
    """A deck with what stands on it. Stops are named where there are several; `lines` belong below the drawing."""

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
        (self.length, width, height), far = floor.size_mm, [axle.at_mm for axle in floor.axles]
        self.first, self.last = min([0, *far]), max([self.length, *far])
        self.long = _shown(self.length, [case.at_mm[0] + case.size_mm[0] for case in floor.cases])
        self.high = _shown(height, [case.at_mm[2] + case.size_mm[2] for case in floor.cases])
        self.before, self.after = (BEFORE if self.first < 0 else 0.0), (BEFORE if self.last > self.length else 0.0)
        self.broken = BROKEN if self.long < self.length else 0.0
        room = WIDE - 2 * EDGE - self.before - self.broken - self.after
        self.scale = min(MOST, room / max(1, self.long))
        self.near = EDGE + self.before
        self.door = self.near + self.long * self.scale + self.broken
        self.wide = self.door + self.after + EDGE
        self.top = HEAD
        self.bottom = self.top + width * self.scale
        self.roof = self.bottom + BETWEEN
        self.air = BROKEN / 2 if self.high < height else 0.0
        self.deck = self.roof + self.air + self.high * self.scale

    def x(self, millimetres: float) -> float:
        """Before the headboard, in what is broken off and beyond the door only in the right order."""
        if millimetres < 0:
            return self.near - self.before * millimetres / self.first
        if millimetres <= self.long:
            return self.near + millimetres * self.scale
        if millimetres <= self.length:
            return self.door - self.broken * (self.length - millimetres) / (self.length - self.long)
        return self.door + self.after * (millimetres - self.length) / (self.last - self.length)

    def from_above(self, case: FloorCase) -> Box:
        (x, y, _), (length, width, _) = case.at_mm, case.size_mm
        return self.x(x), self.bottom - (y + width) * self.scale, length * self.scale, width * self.scale

    def from_the_side(self, case: FloorCase) -> Box:
        (x, _, z), (length, _, height) = case.at_mm, case.size_mm
        return self.x(x), self.deck - (z + height) * self.scale, length * self.scale, height * self.scale


def _shown(whole: int, ends: Sequence[int]) -> int:
    """How much of a side is drawn to scale; nothing is broken off an empty deck."""
    used = max(ends, default=whole)
    return used + SPARE_MM if whole - used > MUCH_MM else whole


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
    height = sheet.deck + (44 if floor.axles else 14)
    return svg.drawing(
        parts, width=sheet.wide, height=height, css="floor-plan" + " upright" * (height > UPRIGHT * sheet.wide),
        title=f"Floor plan of {floor.vehicle}", desc=" ".join(_words(floor)),
    )  # fmt: skip


def floor_lines(floor: Floor) -> list[str]:
    """What is written below the drawing, in the size of what is around it: axles, the whole, and how to read it."""
    return [*(f"{axle.name}: {axle.words}." for axle in floor.axles if axle.words), *floor.lines, KEY]


def _walls(sheet: _Sheet) -> list[str]:
    """The deck from above and from the side: the headboard thick, the door open."""
    near, door = sheet.near, sheet.door
    parts = []
    for top, end, words in ((sheet.top, sheet.bottom, "right side"), (sheet.roof, sheet.deck, "roof")):
        parts += [
            svg.box(near, top, door - near, end - top, stroke_width=1.2),
            svg.line(near - 3, top, near - 3, end, stroke_width=8),
            svg.line(door, top, door, end, stroke_width=3, stroke_dasharray="10 8"),
            svg.text(door, top - 6, words, size=NAMES, text_anchor="end"),
            _upright(near - 14, (top + end) / 2, "headboard", NAMES),
            _upright(door + 24, (top + end) / 2, "door", NAMES),
        ]
    parts.append(svg.text(door, sheet.bottom + 19, "left side", size=NAMES, text_anchor="end"))
    parts.append(svg.text(near, sheet.top - 42, "from above", size=NAMES, font_weight=700))
    parts.append(svg.text(near, sheet.roof - 10, "from the side", size=NAMES, font_weight=700))
    return parts + _breaks(sheet)


def _breaks(sheet: _Sheet) -> list[str]:
    """Where the drawing is shorter than the deck: a jagged line, and how much is free there."""
    parts, (length, _, height) = [], sheet.floor.size_mm
    if sheet.broken:
        used = max(case.at_mm[0] + case.size_mm[0] for case in sheet.floor.cases)
        x = sheet.door - sheet.broken * 0.75
        for top, end in ((sheet.top, sheet.bottom), (sheet.roof, sheet.deck)):
            parts += [_jagged(x, top, end), _upright(x + 40, (top + end) / 2, f"{length - used:,} mm free", NAMES)]
    if sheet.air:
        used = max(case.at_mm[2] + case.size_mm[2] for case in sheet.floor.cases)
        parts.append(svg.text(sheet.near + 12, sheet.roof + 24, f"{height - used:,} mm free above", size=NAMES))
    return parts


def _jagged(x: float, top: float, end: float) -> str:
    """Up and down a sheet, as drawings show what is left out."""
    teeth = max(2, round((end - top) / 26))
    step = (end - top) / teeth
    points = "".join(f"L{x + (6 if at % 2 else -6):.1f} {top + step * (at + 0.5):.1f}" for at in range(teeth))
    return svg.path(f"M{x:.1f} {top:.1f}{points}L{x:.1f} {end:.1f}", stroke_width=1.2)


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
            svg.text((start + end) / 2, sheet.top - 18, word, size=22, font_weight=700, text_anchor="middle"),
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
        before = x + 18 + len(axle.name) * NAMES * svg.SANS_ADVANCE > sheet.wide  # no room for its name behind it
        parts += [
            svg.mark("circle", cx=x, cy=sheet.deck + 15, r=13, fill="none", stroke="currentColor", stroke_width=4),
            svg.line(x, sheet.deck, x, sheet.top, stroke_width=0.7, stroke_dasharray="2 6"),
            svg.text(
                x - 18 if before else x + 18,
                sheet.deck + 35,
                axle.name,
                size=NAMES,
                text_anchor="end" if before else None,
            ),
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
