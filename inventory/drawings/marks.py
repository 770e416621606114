"""Handling marks with the meanings of ISO 780:2015, drawn by ourselves.

Meanings and ISO 7000 numbers after ISO 780:2015 (from memory and secondary pages; the standard was not at hand).
The battery mark is ours and no dangerous-goods mark: what a carrier asks for is the carrier's to say.
"""

from __future__ import annotations

from decimal import Decimal
from enum import StrEnum

from django.utils.safestring import SafeString

from inventory.drawings import svg

SIDE = 100.0


class Mark(StrEnum):
    """Value: the words that always stand with the mark. ISO 7000 number in the comment."""

    THIS_WAY_UP = "this way up"  # 0623
    FRAGILE = "fragile"  # 0621
    KEEP_DRY = "keep dry"  # 0626
    DO_NOT_STACK = "do not stack"  # 2402
    STACK_LIMIT = "stack limit"  # 0630
    STACK_COUNT = "stack count"  # 2403
    BALANCE = "centre of gravity"  # 0627
    DO_NOT_ROLL = "do not roll"  # 2405
    BATTERY = "battery inside"  # ours


def _rule(d: str, width: float = 6) -> str:
    return svg.path(d, stroke_width=width, stroke_linecap="butt", stroke_linejoin="miter")


def _solid(d: str) -> str:
    return svg.path(d, fill="currentColor", stroke="none", stroke_width=None)


def _this_way_up() -> list[str]:
    arrows = [_solid(f"M{x} 14L{x - 15} 38H{x - 6}V74H{x + 6}V38H{x + 15}Z") for x in (28, 72)]
    return [*arrows, _rule("M8 85H92", 7)]


def _fragile() -> list[str]:
    crack = "H52L44 24L54 31L46 45L62 29L52 23L60 12"
    return [_solid(f"M30 12{crack}H70C70 36 66 50 53 54V80H68V88H32V80H47V54C34 50 30 36 30 12Z")]


def _keep_dry() -> list[str]:
    canopy = _solid("M14 58C14 36 30 26 50 26S86 36 86 58L74 52L62 58L50 52L38 58L26 52Z")
    handle = _rule("M50 52V82C50 90 38 90 38 82", 5)
    drops = [svg.line(x, 8, x - 4, 20, stroke_width=4) for x in (26, 46, 66, 84)]
    return [canopy, handle, *drops]


def _boxes(top_y: float) -> list[str]:
    return [svg.box(26, top_y, 48, 30, stroke_width=5), svg.box(26, top_y + 36, 48, 30, fill="currentColor")]


def _do_not_stack() -> list[str]:
    return [*_boxes(16), _rule("M14 10L86 90", 7), _rule("M86 10L14 90", 7)]


def _stack_limit() -> list[str]:
    return [_solid("M50 52L36 34H45V8H55V34H64Z"), svg.box(22, 58, 56, 32, fill="currentColor")]


def _stack_count() -> list[str]:
    return [*_boxes(24), svg.line(18, 12, 82, 12, stroke_width=5, stroke_dasharray="8 5")]


def _balance() -> list[str]:
    ring = svg.mark("circle", cx=50, cy=50, r=24, fill="none", stroke="currentColor", stroke_width=5)
    return [ring, _rule("M50 10V90M10 50H90", 4), _solid("M50 50V26A24 24 0 0 1 74 50ZM50 50V74A24 24 0 0 1 26 50Z")]


def _do_not_roll() -> list[str]:
    barrel = svg.mark("ellipse", cx=50, cy=52, rx=22, ry=26, fill="none", stroke="currentColor", stroke_width=5)
    return [barrel, _rule("M20 34C28 14 62 10 76 26", 5), _solid("M84 34L64 30L78 16Z"), _rule("M14 10L86 90", 7)]


def _battery() -> list[str]:
    return [svg.box(12, 30, 70, 44, stroke_width=6), svg.box(84, 42, 8, 20, fill="currentColor"),
            _rule("M26 52H44M35 43V61M56 52H72", 5)]  # fmt: skip


_DRAWN = {
    Mark.THIS_WAY_UP: _this_way_up,
    Mark.FRAGILE: _fragile,
    Mark.KEEP_DRY: _keep_dry,
    Mark.DO_NOT_STACK: _do_not_stack,
    Mark.STACK_LIMIT: _stack_limit,
    Mark.STACK_COUNT: _stack_count,
    Mark.BALANCE: _balance,
    Mark.DO_NOT_ROLL: _do_not_roll,
    Mark.BATTERY: _battery,
}


def words_of(kind: str, limit: Decimal | int | None = None) -> str:
    """What the mark says, with its limit: kilograms for a stack limit, pieces on top for a stack count."""
    if kind == Mark.STACK_LIMIT:
        return f"at most {limit} kg on top" if limit is not None else "limit on top: ask"
    if kind == Mark.STACK_COUNT:
        return f"at most {limit} on top" if limit is not None else "count on top: ask"
    return Mark(kind).value


def handling_mark(kind: str, limit: Decimal | int | None = None) -> SafeString:
    """Draw one mark, 100 units square, its words in the title. Raises ValueError on an unknown mark."""
    known = Mark(kind)
    words = words_of(known, limit)
    return svg.drawing(_DRAWN[known](), width=SIDE, height=SIDE, title=words, desc=words, css="handling-mark")
