"""Dock-to-dock strip: when a thing is packed, on the road, at the show, coming back, being wiped."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from django.utils import timezone
from django.utils.safestring import SafeString

from inventory.drawings import svg

NAMES, LENGTH, ROW, BAR, TOP = 150.0, 800.0, 62.0, 24.0, 40.0
DATE = 68.0  # what a date takes


class SpanKind(StrEnum):
    PACK = "pack"
    ROAD = "road"
    SHOW = "show"
    RETURN = "return"
    WIPE = "wipe"


@dataclass(frozen=True, slots=True)
class Span:
    """One stretch of a row; `words` stand under it, e.g. the show's name."""

    kind: str
    start: datetime
    end: datetime
    words: str = ""


@dataclass(frozen=True, slots=True)
class StripRow:
    label: str
    spans: tuple[Span, ...] = ()


@dataclass(frozen=True, slots=True)
class Clash:
    """Two promises that want one row at one time. `row` is the row's label."""

    row: str
    start: datetime
    end: datetime
    words: str


@dataclass(frozen=True, slots=True)
class _Scale:
    start: datetime
    end: datetime

    def at(self, moment: datetime) -> float:
        share = (moment - self.start) / (self.end - self.start)
        return NAMES + LENGTH * min(1.0, max(0.0, share))


def _filling(kind: str, x: float, y: float, width: float) -> str:
    """Each kind has a hatch of its own, so that none needs a colour."""
    if kind == SpanKind.PACK:
        return svg.hatch(x, y, width, BAR, gap=9)
    if kind == SpanKind.ROAD:
        return svg.line(x, y + BAR / 2, x + width, y + BAR / 2, stroke_width=2, stroke_dasharray="10 6")
    if kind == SpanKind.SHOW:
        return svg.box(x, y, width, BAR, fill="currentColor")
    if kind == SpanKind.RETURN:
        return svg.hatch(x, y, width, BAR, gap=9, rising=False)
    return svg.hatch(x, y, width, BAR, gap=9) + svg.hatch(x, y, width, BAR, gap=9, rising=False)


def _span(span: Span, scale: _Scale, y: float) -> list[str]:
    x, right = scale.at(span.start), scale.at(span.end)
    if right <= x:
        return []
    width = max(2.0, right - x)
    parts = [_filling(SpanKind(span.kind), x, y, width), svg.box(x, y, width, BAR)]
    if span.words:
        parts.append(svg.text(x, y + BAR + 15, svg.fit(span.words, max(width, 130), 13), size=13))
    return parts


def _clash(clash: Clash, scale: _Scale, y: float) -> list[str]:
    x, right = scale.at(clash.start), scale.at(clash.end)
    return [
        svg.path(f"M{x:.1f} {y - 3:.1f}v-6H{right:.1f}v6", stroke_width=3),
        svg.wedge(x - 14, y - 16, 10),
        svg.text(x + 2, y - 11, "clash", size=12, font_weight=700),
    ]


def _calendar(scale: _Scale, bottom: float) -> list[str]:
    """A rule at each midnight of the current time zone, with as many dates written as there is room for."""
    first = timezone.localtime(scale.start).replace(hour=0, minute=0, second=0, microsecond=0)
    days = max(1, (scale.end - scale.start).days)
    every = -(-days // 12)
    parts = []
    for i in range(days + 2):
        day = timezone.localtime(first + timedelta(days=i, hours=2)).replace(hour=0)
        if not scale.start <= day <= scale.end:
            continue
        x = scale.at(day)
        written = i % every == 0 and x + DATE <= scale.at(scale.end)
        parts.append(svg.line(x, TOP - (6 if written else 0), x, bottom, stroke_width=0.6, stroke_opacity=0.5))
        if written:
            parts.append(svg.text(x + 3, TOP - 10, f"{day:%a} {day.day} {day:%b}", size=12))
    return parts


def _legend(y: float) -> list[str]:
    parts = []
    for i, kind in enumerate(SpanKind):
        x = NAMES + i * 120
        parts += [
            _filling(kind, x, y, 36),
            svg.box(x, y, 36, BAR),
            svg.text(x + 44, y + 17, kind.value, size=14),
        ]
    return parts


def _sentence(row: StripRow) -> str:
    spans = [
        f"{span.kind} {timezone.localtime(span.start):%d %b} to {timezone.localtime(span.end):%d %b}"
        + (f" ({span.words})" if span.words else "")
        for span in row.spans
    ]
    return f"{row.label}: " + (", ".join(spans) or "free")


def dock_strip(
    rows: Sequence[StripRow],
    *,
    start: datetime,
    end: datetime,
    clashes: Sequence[Clash] = (),
    now: datetime | None = None,
    title: str = "Dock to dock",
) -> SafeString:
    """Draw one ruled row per thing from `start` to `end`. Raises ValueError on an empty stretch or unknown kind."""
    if end <= start:
        raise ValueError("a strip ends after it starts")
    scale, bottom = _Scale(start, end), TOP + ROW * max(1, len(rows))
    parts = _calendar(scale, bottom)
    for i, row in enumerate(rows):
        y = TOP + i * ROW
        parts += [svg.line(0, y, NAMES + LENGTH, y, stroke_width=0.8)]
        parts.append(svg.text(2, y + 36, svg.fit(row.label, NAMES - 10, 16), size=16, font_weight=700))
        for span in row.spans:
            parts += _span(span, scale, y + 19)
        for clash in (clash for clash in clashes if clash.row == row.label):
            parts += _clash(clash, scale, y + 19)
    if now is not None and start <= now <= end:
        x = scale.at(now)
        parts += [svg.line(x, TOP - 4, x, bottom, stroke_width=2.5), svg.text(x + 4, bottom - 4, "now", size=12)]
    parts += [svg.line(0, bottom, NAMES + LENGTH, bottom, stroke_width=0.8), *_legend(bottom + 14)]
    words = [_sentence(row) for row in rows] + [f"Clash on {clash.row}: {clash.words}" for clash in clashes]
    return svg.drawing(
        parts, width=NAMES + LENGTH + 4, height=bottom + 46, title=title, desc=". ".join(words), css="dock-strip"
    )
