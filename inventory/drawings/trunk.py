"""A trunk from above, tier by tier: what stands at the same height is drawn in one frame."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.safestring import SafeString

from inventory.drawings import svg

FRAME, GAP, ACROSS = 300.0, 26.0, 3


@dataclass(frozen=True, slots=True)
class TrunkPiece:
    """A thing at a place: near corner and turned size, mm, from the left front floor corner."""

    name: str
    at_mm: tuple[int, int, int]
    size_mm: tuple[int, int, int]


def _tiers(pieces: Sequence[TrunkPiece]) -> list[tuple[int, list[TrunkPiece]]]:
    found: dict[int, list[TrunkPiece]] = defaultdict(list)
    for piece in pieces:
        found[piece.at_mm[2]].append(piece)
    return sorted(found.items())


def _piece(piece: TrunkPiece, x: float, y: float, scale: float) -> list[str]:
    left, top = x + piece.at_mm[0] * scale, y + piece.at_mm[1] * scale
    width, depth = piece.size_mm[0] * scale, piece.size_mm[1] * scale
    parts = [svg.box(left, top, width, depth)]
    if width >= 34 and depth >= 13:
        lines = svg.wrap(piece.name, width - 8, 11, lines=max(1, int((depth - 4) // 13)))
        parts += [svg.text(left + 4, top + 12 + 13 * at, words, size=11) for at, words in enumerate(lines)]
    return parts


def _words(tiers: list[tuple[int, list[TrunkPiece]]]) -> str:
    said = []
    for height, pieces in tiers:
        names = ", ".join(piece.name for piece in pieces)
        said.append(f"{'On the floor' if height == 0 else f'At {height} mm'}: {names}.")
    return " ".join(said) or "Nothing is laid out."


def trunk_view(number: str, inside_mm: tuple[int, int, int], pieces: Sequence[TrunkPiece]) -> SafeString:
    """Draw each tier from above, front at the lower edge; heights are those of the tier's underside."""
    tiers = _tiers(pieces)
    scale = FRAME / max(inside_mm[0], inside_mm[1], 1)
    wide, deep = inside_mm[0] * scale, inside_mm[1] * scale
    parts: list[str] = []
    for at, (height, stands) in enumerate(tiers):
        x, y = 2 + (at % ACROSS) * (FRAME + GAP), 20 + (at // ACROSS) * (deep + 2 * GAP)
        parts.append(svg.text(x, y - 6, "on the floor" if height == 0 else f"at {height} mm", size=12, font_weight=700))
        parts.append(svg.box(x, y, wide, deep, stroke_width=3))
        for piece in stands:
            parts += _piece(piece, x, y, scale)
    across, rows = min(max(1, len(tiers)), ACROSS), max(1, -(-len(tiers) // ACROSS))
    return svg.drawing(
        parts,
        width=4 + across * (FRAME + GAP) - GAP,
        height=22 + rows * (deep + 2 * GAP) - 2 * GAP,
        title=f"Layout of {number} from above",
        desc=_words(tiers),
        css="trunk-view",
    )
