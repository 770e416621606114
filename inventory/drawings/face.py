"""The face of a case as somebody on a dock looks for it: its front at one scale for all, with its tape and number."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.safestring import SafeString

from inventory.drawings import svg

SCALE = 0.12  # user units a millimetre: a metre is 120 wide
WIDEST, TALLEST = 156.0, 120.0  # beyond 1.3 m by 1 m the picture is cut and says so
UNKNOWN = (800, 600)
LATCH = 9.0


@dataclass(frozen=True, slots=True)
class CaseFace:
    """Outer length and height in mm; None where nobody has measured. `tape` is the colour's name in words."""

    number: str
    length_mm: int | None
    height_mm: int | None
    tape: str = ""


def case_face(face: CaseFace) -> SafeString:
    """The front: lid line, latches, a band of tape with its colour's name, the number. Dashed where not measured."""
    known = bool(face.length_mm and face.height_mm)
    length, height = (face.length_mm or 0, face.height_mm or 0) if known else UNKNOWN
    width, tall = min(WIDEST, max(44.0, length * SCALE)), min(TALLEST, max(26.0, height * SCALE))
    cut = known and (length * SCALE > WIDEST or height * SCALE > TALLEST)
    parts = [
        svg.box(1, 1, width, tall, stroke_width=2.5, stroke_dasharray=None if known else "5 4"),
        svg.line(1, 1 + tall * 0.28, 1 + width, 1 + tall * 0.28),
        *(svg.box(1 + width * at - LATCH / 2, tall * 0.28 - 2, LATCH, 6) for at in (0.22, 0.78)),
        *_number(face, width, tall),
    ]
    size = f"{length} mm long, {height} mm high" if known else "size not known"
    words = f"{size}{', drawn smaller' if cut else ''}{f', {face.tape} tape' if face.tape else ''}"
    return svg.drawing(parts, width=width + 2, height=tall + 2, title=face.number, desc=words, css="face")


def _number(face: CaseFace, width: float, tall: float) -> list[str]:
    size = max(10.0, min(22.0, tall * 0.3, width / (len(face.number) * svg.MONO_ADVANCE + 0.5)))
    middle, low = 1 + width / 2, 1 + tall * 0.64 + size * 0.35
    found = [svg.text(middle, low, face.number, size=size, mono=True, text_anchor="middle", font_weight="bold")]
    if face.tape and tall > 70:
        words = svg.fit(face.tape, width - 8, 11)
        found.append(svg.text(middle, tall - 5, words, size=11, text_anchor="middle"))
    return found
