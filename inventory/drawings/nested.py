"""Whereabouts as nested boxes: the outermost place outside, the thing itself inside."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from django.utils import timezone
from django.utils.safestring import SafeString

from inventory.answers.values import Link, Strength, Whereabouts
from inventory.drawings import svg

WIDTH, HEAD, INSET, FOOT = 640.0, 50.0, 14.0, 12.0

# How sure we are that the box's content is in the box: the firmer the line, the surer.
_EDGES: dict[Strength, dict[str, object]] = {
    Strength.SEEN: {"stroke_width": 3},
    Strength.SEALED_IN: {"stroke_width": 3},
    Strength.CARRIED: {"stroke_width": 1.5},
    Strength.WAS_IN_HERE: {"stroke_width": 1.5, "stroke_dasharray": "10 5"},
    Strength.SAID: {"stroke_width": 1.5, "stroke_dasharray": "3 4"},
    Strength.PLANNED_ONLY: {"stroke_width": 1.5, "stroke_dasharray": "1 5"},
}
_DOUBTFUL = {"stroke_width": 1.5, "stroke_dasharray": "10 4 2 4"}


def moment(at: datetime) -> str:
    """A time as drawings write it, in the current time zone."""
    return f"{timezone.localtime(at):%a %d %b, %H:%M}"


def _witness(link: Link) -> str:
    """The evidence of a link in one line: strength, seal, who, when."""
    evidence = link.evidence or link.placing
    parts = [link.strength.value]
    if link.seal:
        parts.append(f"seal {link.seal}")
    if evidence is not None:
        parts += [evidence.by, moment(evidence.at) + (" (stated)" if evidence.stated else "")]
    if evidence is not None and evidence.clock_doubtful:
        parts.append("clock doubtful")
    return " · ".join(parts)


def _place_words(link: Link) -> str:
    name = link.place.name if link.place else "place unknown"
    return f"{name} · {link.bay}" if link.bay else name


def _frame(link: Link, depth: int, total: int) -> list[str]:
    """The box of one place; boxes further in are inset on every side."""
    x, y = 2 + depth * INSET, 2 + depth * HEAD
    width = WIDTH - 4 - 2 * depth * INSET
    height = HEAD * (total - depth) + 62 + FOOT * (total - depth)
    parts = [
        svg.box(x, y, width, height, **_EDGES.get(link.strength, _DOUBTFUL)),
        svg.text(x + 12, y + 21, svg.fit(_place_words(link), width - 40, 18), size=18, font_weight=700),
        svg.text(x + 12, y + 40, svg.fit(_witness(link), width - 24, 14), size=14),
    ]
    if link.strength is Strength.SEALED_IN:
        parts.append(svg.box(x + 4, y + 4, width - 8, height - 8, stroke_width=0.8))
    if link.strength not in _EDGES:
        parts.append(svg.wedge(x + width - 24, y + 8, 14))
    return parts


def _thing(words: str, detail: str, total: int) -> list[str]:
    """The thing itself, with the filled bar, in the innermost box."""
    x, y = 2 + total * INSET, 2 + total * HEAD
    width = WIDTH - 4 - 2 * total * INSET
    return [
        svg.box(x, y + 6, 10, 46, fill="currentColor"),
        svg.text(x + 20, y + 26, svg.fit(words, width - 24, 20), size=20, font_weight=700),
        svg.text(x + 20, y + 47, svg.fit(detail, width - 24, 15, mono=True), size=15, mono=True),
    ]


def boxes_together(answers: Sequence[Whereabouts]) -> list[SafeString]:
    """Things that are alike in the same places, and known alike, drawn once, on the oldest evidence among them."""
    groups: dict[tuple[tuple[object, ...], ...], list[Whereabouts]] = {}
    for answer in answers:
        if answer.links:
            chain = tuple((link.place.id if link.place else 0, link.strength, link.seal) for link in answer.links)
            groups.setdefault(chain, []).append(answer)
    return [_drawn_together(found) for found in sorted(groups.values(), key=len, reverse=True)]


def _drawn_together(answers: Sequence[Whereabouts]) -> SafeString:
    if len(answers) == 1:
        return nested_boxes(answers[0])
    oldest = min(answers, key=lambda one: (one.since is not None, one.since))
    links = (replace(oldest.links[0], bay=""), *oldest.links[1:])
    serials = ", ".join(one.item.serial or one.item.words for one in answers)
    return nested_boxes(replace(oldest, links=links), f"{len(answers)} drives", serials)


def nested_boxes(whereabouts: Whereabouts, words: str = "", detail: str = "") -> SafeString:
    """Draw where a thing is. Each box says how sure, on whose word and since when. `words`: what to call it instead."""
    item = whereabouts.item
    words, detail = words or item.words, detail or f"{item.code}  {item.serial}"
    outward = list(reversed(whereabouts.links))
    parts: list[str] = []
    for depth, link in enumerate(outward):
        parts += _frame(link, depth, len(outward))
    parts += _thing(words, detail, len(outward))
    steps = [
        f"{words if n == 0 else link.item.words} in {_place_words(link)}: {_witness(link)}"
        for n, link in enumerate(whereabouts.links)
    ]
    return svg.drawing(
        parts,
        width=WIDTH,
        height=HEAD * len(outward) + 66 + FOOT * len(outward),
        title=f"Where {words} {'are' if words != item.words else 'is'}",
        desc=". ".join([svg.clean(whereabouts.sentence if words == item.words else detail), *steps]),
        css="nested-boxes",
    )
