"""What papers draw: symbols, big letters, handling marks."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import template
from django.utils.safestring import SafeString

from inventory import labels
from inventory.drawings import bays as bay_drawing
from inventory.drawings import floor as floors
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
def bays(title: str, frozen: list[dict[str, str]]) -> SafeString:
    """The bays of a drive set from a paper's frozen rows, drawn as on its page."""
    cells = [bay_drawing.BayCell(one["label"], one["serial_tail"], one["state"], one["words"]) for one in frozen]
    return bay_drawing.bay_map(cells, title=f"Bays of {title}")


@register.simple_tag
def slots(number: str, frozen: list[dict[str, str]]) -> SafeString:
    """The slots of a case from a paper's frozen rows."""
    return section.slot_view(number, [section.SlotPiece(s["label"], s["words"], s["mass"], s["state"]) for s in frozen])


@register.simple_tag
def rack(number: str, frozen: dict[str, Any]) -> SafeString:
    """A rack case from the side from a paper's frozen rows. Papers of before the limit was frozen say 45 %."""
    pieces = tuple(
        section.RackPiece(
            one["words"], one["units"], one["bottom"], Decimal(one["mass_kg"]) if one["mass_kg"] else None,
            one["depth_mm"], one["on_rails"],
        )
        for one in frozen["units"]
    )  # fmt: skip
    share = None if frozen["balance_pct"] is None else frozen["balance_pct"] / 100
    drawn = section.CaseSection(
        number, frozen["rack_units"], frozen["usable_depth_mm"], pieces, balance=share,
        balance_limit=frozen.get("limit_pct", 45) / 100, tips=frozen.get("tips", ""),
        centre=tuple(one / 100 for one in frozen["centre_pct"]) if frozen.get("centre_pct") else None,
    )  # fmt: skip
    return section.case_section(drawn)


@register.simple_tag
def floor(frozen: dict[str, Any]) -> SafeString:
    """A vehicle's floor plan from a paper's frozen rows, drawn as on its page."""
    return floors.floor_plan(_floor(frozen))


@register.filter
def floor_lines(frozen: dict[str, Any]) -> list[str]:
    """What is written below it."""
    return floors.floor_lines(_floor(frozen))


def _floor(frozen: dict[str, Any]) -> floors.Floor:
    cases = tuple(floors.FloorCase(**one) for one in frozen["cases"])
    axles = tuple(floors.FloorAxle(**one) for one in frozen["axles"])
    return floors.Floor(**{**frozen, "cases": cases, "axles": axles})


@register.filter
def mark_words(mark: dict[str, str]) -> str:
    """The words of a frozen mark: {"kind": …, "limit": …}."""
    return marks.words_of(mark["kind"], mark.get("limit") or None)  # type: ignore[arg-type]
