"""QR symbols for labels, drawn on the printer's dot grid. The only importer of qrcode."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import qrcode
from django.conf import settings
from django.utils.html import format_html
from django.utils.safestring import SafeString
from qrcode.constants import ERROR_CORRECT_H, ERROR_CORRECT_L, ERROR_CORRECT_M, ERROR_CORRECT_Q
from qrcode.exceptions import DataOverflowError

DOT = 25.4 / 203  # millimetres per dot of a common label printer
QUIET = 4  # modules of empty margin that ISO/IEC 18004 asks for on every side
MASK = 4  # any of the eight is legal; choosing the best one is nine tenths of the work
INSET = 0.1  # printer dots taken off each run's ends and edges, so that a bilevel renderer adds no dot
_LEVELS = {"L": ERROR_CORRECT_L, "M": ERROR_CORRECT_M, "Q": ERROR_CORRECT_Q, "H": ERROR_CORRECT_H}
Matrix = tuple[tuple[bool, ...], ...]


class DoesNotFit(ValueError):
    """The text is too long for the symbol asked for. Carries a sentence to show."""


@dataclass(frozen=True, slots=True)
class Size:
    """How one medium wears its symbol: error correction, the room in mm with quiet zone, and the version wished."""

    level: str
    room: float
    version: int | None = None


# Drive labels: the bare code, version 1 at H, three dots a module. Larger things: the whole address at M.
SIZES = {
    "case": Size("M", 42),
    "paper": Size("M", 24),
    "pass": Size("M", 52),
    "item": Size("M", 22),
    "drive": Size("H", 11, 1),
}


def address(code: str) -> str:
    """What a phone's own camera opens: upper case, so that the symbol stays in the alphanumeric set."""
    return f"{settings.PUBLIC_URL}/T/{code}".upper()


@lru_cache(maxsize=4096)
def matrix(text: str, level: str, version: int | None = None, mask: int = MASK) -> Matrix:
    """The modules of a symbol, without quiet zone. Raises DoesNotFit."""
    symbol = qrcode.QRCode(version=version, error_correction=_LEVELS[level], border=0, mask_pattern=mask)
    symbol.add_data(text, optimize=0)
    try:
        symbol.make(fit=version is None)
    except (DataOverflowError, ValueError) as problem:
        raise DoesNotFit(f"{len(text)} characters do not fit version {version or 40} at level {level}.") from problem
    return tuple(tuple(bool(module) for module in row) for row in symbol.modules)


def strokes(modules: Matrix, dots: int) -> str:
    """The dark runs of each row as one SVG path, in modules; to be stroked `1 - 2 * INSET / dots` wide."""
    inset, parts = INSET / dots, []
    for y, row in enumerate(modules):
        x = 0
        while x < len(row):
            start = x
            while x < len(row) and row[x]:
                x += 1
            if x > start:
                parts.append(f"M{start + inset:.5g} {y}.5h{x - start - 2 * inset:.5g}")
            x += 1
    return "".join(parts)


def side_mm(modules: int, dots: int) -> float:
    """Printed side of a symbol with its quiet zone."""
    return (modules + 2 * QUIET) * dots * DOT


def fitted(text: str, size: Size) -> tuple[Matrix, int]:
    """The modules and the whole printer dots a module that fill the room. Raises DoesNotFit below two dots."""
    try:
        modules = matrix(text, size.level, size.version)
    except DoesNotFit:
        modules = matrix(text, size.level)
    dots = int(size.room / DOT / (len(modules) + 2 * QUIET))
    if dots < 2:
        raise DoesNotFit(f"{len(text)} characters need more than {size.room:g} mm to be read. Use a larger label.")
    return modules, dots


def qr_svg(text: str, size: Size) -> SafeString:
    """One symbol with its quiet zone, sized in millimetres of whole printer dots. Raises DoesNotFit."""
    modules, dots = fitted(text, size)
    side, window = f"{side_mm(len(modules), dots):.4f}mm", len(modules) + 2 * QUIET
    return format_html(
        '<svg class="qr" xmlns="http://www.w3.org/2000/svg" width="{}" height="{}" viewBox="-{} -{} {} {}">'
        '<path d="{}" stroke="#000" stroke-width="{}" fill="none"/></svg>',
        side, side, QUIET, QUIET, window, window, strokes(modules, dots), f"{1 - 2 * INSET / dots:.5g}",
    )  # fmt: skip
