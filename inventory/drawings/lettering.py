"""Big letters that fill a given height: a case number is read from three metres, in poor light."""

from __future__ import annotations

from django.utils.safestring import SafeString

from inventory.drawings import svg

CAP_HEIGHT = 0.668  # of the type size: capitals and digits of the bold face, as the font file says
# Advances of the extra bold face, in thousandths of the type size, as the font file says.
_ADVANCES = {
    **dict(zip("0123456789", (664, 456, 593, 611, 628, 617, 638, 549, 627, 560), strict=True)),
    **{"A": 702, "I": 434, "J": 560, "M": 878, "W": 901, "-": 377, " ": 260, ".": 290, "/": 450},
}
_NARROW = 620  # small letters and the like
_CAPITAL = 709  # a wide capital: no plain capital is missing from the table and wider
_OTHER = 1050  # scripts we have no measure of
LEAST_SQUEEZE = 0.62


def advance(words: str) -> float:
    """An upper bound of the width of the words at type size 1, set in the extra bold face."""
    return sum(_advance(letter) for letter in words) / 1000


def _advance(letter: str) -> int:
    known = _ADVANCES.get(letter)
    if known is not None:
        return known
    if not letter.isascii():
        return _OTHER
    return _CAPITAL if letter.isupper() else _NARROW


def lettering(words: object, *, width: float, height: float, align: str = "start", ink: str = "#000") -> SafeString:
    """The words with capitals `height` mm high in at most `width` mm: squeezed first, then smaller, never cut.

    `align` is start, middle or end. Capitals rest on the lower edge; descenders get a fifth of the height below.
    """
    text = svg.clean(words)
    natural = advance(text) * height / CAP_HEIGHT
    squeeze = min(1.0, max(LEAST_SQUEEZE, width / natural)) if natural else 1.0
    tall = height * min(1.0, width / (natural * squeeze)) if natural else height
    x = {"start": 0.0, "middle": width / 2, "end": width}[align]
    line = svg.text(
        0, 0, text, size=tall / CAP_HEIGHT, font_weight=800, text_anchor=align,
        transform=f"translate({x:.3f} {(height + tall) / 2:.3f}) scale({squeeze:.4f} 1)",
    )  # fmt: skip
    return svg.millimetres([line], width=width, height=height, css="lettering", ink=ink)
