"""What papers draw: symbols, big letters, handling marks."""

from __future__ import annotations

from django import template
from django.utils.safestring import SafeString

from inventory import labels
from inventory.drawings import lettering as letters
from inventory.drawings import marks, section

register = template.Library()


@register.simple_tag
def qr(text: str, size: str) -> SafeString:
    """A QR symbol of one of the sizes in labels.SIZES, with its quiet zone."""
    return labels.qr_svg(text, labels.SIZES[size])


@register.simple_tag
def lettering(words: object, width: float, height: float, align: str = "start", ink: str = "#000") -> SafeString:
    """Words whose capitals are `height` mm high, in at most `width` mm."""
    return letters.lettering(words, width=width, height=height, align=align, ink=ink)


@register.simple_tag
def handling_mark(kind: str, limit: str = "") -> SafeString:
    return marks.handling_mark(kind, limit or None)  # type: ignore[arg-type]


@register.simple_tag
def slots(number: str, frozen: list[dict[str, str]]) -> SafeString:
    """The slots of a case from a paper's frozen rows."""
    return section.slot_view(number, [section.SlotPiece(s["label"], s["words"], s["mass"], s["state"]) for s in frozen])


@register.filter
def mark_words(mark: dict[str, str]) -> str:
    """The words of a frozen mark: {"kind": …, "limit": …}."""
    return marks.words_of(mark["kind"], mark.get("limit") or None)  # type: ignore[arg-type]
