"""What every drawing is made of: escaped text and presentation attributes only, so a strict page may hold it.

Drawings use currentColor, so that one SVG serves light pages, dark pages and paper. Lengths are user units;
the viewBox scales them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

SANS = "Atkinson Hyperlegible Next, sans-serif"
MONO = "Atkinson Hyperlegible Mono, monospace"
# Average advance of one character as a share of the type size, measured roughly on the two families.
SANS_ADVANCE = 0.56
MONO_ADVANCE = 0.62

# Anything XML 1.0 forbids, and the marks that reorder the text around them.
_FORBIDDEN = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\u200e\u200f\u202a-\u202e\u2066-\u2069\ud800-\udfff\ufffe\uffff]"
)


def clean(text: object) -> str:
    """One line of text: control characters and direction overrides gone, white space single."""
    return " ".join(_FORBIDDEN.sub("", str(text)).split())


def _number(value: object) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".") if isinstance(value, float) else str(value)


def _attributes(attributes: dict[str, object]) -> str:
    return "".join(
        f' {name.rstrip("_").replace("_", "-")}="{escape(_number(value))}"'
        for name, value in attributes.items()
        if value is not None
    )


def mark(name: str, **attributes: object) -> str:
    """One empty SVG element; underscores in names stand for dashes."""
    return f"<{name}{_attributes(attributes)}/>"


def line(x1: float, y1: float, x2: float, y2: float, **attributes: object) -> str:
    return mark("line", x1=x1, y1=y1, x2=x2, y2=y2, **{"stroke": "currentColor", "stroke_width": 1.5, **attributes})


def box(x: float, y: float, width: float, height: float, **attributes: object) -> str:
    """An outlined rectangle; give fill="currentColor" for a solid one."""
    plain = {"fill": "none", "stroke": "currentColor", "stroke_width": 1.5}
    return mark("rect", x=x, y=y, width=width, height=height, **{**plain, **attributes})


def path(d: str, **attributes: object) -> str:
    return mark("path", d=d, **{"fill": "none", "stroke": "currentColor", "stroke_width": 1.5, **attributes})


def text(x: float, y: float, words: object, *, size: float = 14, mono: bool = False, **attributes: object) -> str:
    """One line of words at its baseline, escaped."""
    plain = {"font_size": size, "fill": "currentColor", "font_family": MONO if mono else None}
    return f"<text{_attributes({'x': x, 'y': y, **plain, **attributes})}>{escape(clean(words))}</text>"


def fit(words: object, width: float, size: float, *, mono: bool = False) -> str:
    """As much of the words as stands in `width`, cut at the end with an ellipsis."""
    room = max(1, int(width / (size * (MONO_ADVANCE if mono else SANS_ADVANCE))))
    plain = clean(words)
    return plain if len(plain) <= room else plain[: room - 1].rstrip() + "…"


def wrap(words: object, width: float, size: float, *, lines: int = 2) -> list[str]:
    """The words in at most `lines` lines of `width`; the last is cut with an ellipsis if they do not fit."""
    room = max(1, int(width / (size * SANS_ADVANCE)))
    found: list[str] = []
    for word in clean(words).split():
        if found and len(found[-1]) + 1 + len(word) <= room:
            found[-1] += " " + word
        else:
            found.append(word)
    kept = found[:lines]
    if len(found) > lines:
        kept[-1] += " " + " ".join(found[lines:])
    return [fit(part, width, size) for part in kept]


def wedge(x: float, y: float, size: float = 10) -> str:
    """The open wedge that means wrong."""
    return path(f"M{x + size} {y}L{x} {y + size / 2}L{x + size} {y + size}", stroke_width=2.5)


def hatch(x: float, y: float, width: float, height: float, *, gap: float = 7, rising: bool = True) -> str:
    """Slanted lines across a rectangle, cut at its edges, without a pattern or a clip (so without an id)."""
    parts = []
    offset = gap / 2
    while offset < width + height:
        ax, ay = (offset, 0.0) if offset <= width else (width, offset - width)
        bx, by = (0.0, offset) if offset <= height else (offset - height, height)
        if rising:
            parts.append(f"M{x + bx:.1f} {y + by:.1f}L{x + ax:.1f} {y + ay:.1f}")
        else:
            parts.append(f"M{x + bx:.1f} {y + height - by:.1f}L{x + ax:.1f} {y + height - ay:.1f}")
        offset += gap
    return path("".join(parts), stroke_width=0.8)


def drawing(parts: Iterable[str], *, width: float, height: float, title: str, desc: str, css: str) -> SafeString:
    """A whole SVG with its name and its words for who cannot see it. `css` is a class name."""
    head = _attributes({"viewBox": f"0 0 {_number(float(width))} {_number(float(height))}", "class_": f"drawing {css}"})
    body = "".join(parts)
    return mark_safe(  # noqa: S308 - every text and attribute above is escaped
        f'<svg xmlns="http://www.w3.org/2000/svg"{head} role="img" width="{_number(float(width))}" '
        f'height="{_number(float(height))}" font-family="{SANS}">'
        f"<title>{escape(clean(title))}</title><desc>{escape(clean(desc))}</desc>{body}</svg>"
    )


def millimetres(parts: Iterable[str], *, width: float, height: float, css: str, ink: str) -> SafeString:
    """An SVG of a stated size in millimetres whose words speak for themselves: it needs no name."""
    wide, high = _number(float(width)), _number(float(height))
    head = _attributes(
        {"width": f"{wide}mm", "height": f"{high}mm", "viewBox": f"0 0 {wide} {high}", "class_": css, "color": ink}
    )
    return mark_safe(  # noqa: S308 - every text and attribute above is escaped
        f'<svg xmlns="http://www.w3.org/2000/svg"{head} font-family="{SANS}">{"".join(parts)}</svg>'
    )
