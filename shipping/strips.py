"""Shows and promises as rows of the dock-to-dock strip."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Protocol

from django.utils.safestring import SafeString

from inventory.drawings.strip import Clash, Span, SpanKind, StripRow, dock_strip
from shipping import availability
from shipping.models import Show

AIR = timedelta(days=1)  # free space left and right of what is drawn


class Planned(Protocol):
    """A leg, as far as a strip shows it."""

    @property
    def departs_at(self) -> datetime | None: ...

    @property
    def arrives_at(self) -> datetime | None: ...


def show_strip(show: Show, names: Sequence[str], legs: Iterable[Planned], at: datetime) -> SafeString:
    """One row for each booked thing, from prep day until it is back and wiped. The page names the show: no row does."""
    spans = tuple(replace(span, words="") for span in spans_of(show, list(legs)))
    rows = [StripRow(name, spans) for name in names or [show.name]]
    return dock_strip(
        rows, start=show.leaves_at - AIR, end=show.back_at + AIR, now=at, title=f"{show.name}, dock to dock"
    )


def spans_of(show: Show, legs: Sequence[Planned]) -> Iterable[Span]:
    """Pack, road, show, road, return: by the legs where they are planned, else by the show's own dates."""
    planned = [leg for leg in legs if leg.departs_at and leg.arrives_at and leg.departs_at < leg.arrives_at]
    out = [leg for leg in planned if leg.departs_at < show.starts_at]
    home = [leg for leg in planned if leg.departs_at >= show.starts_at]
    packed = min((leg.departs_at for leg in out), default=show.starts_at)
    back = max((leg.arrives_at for leg in home), default=show.ends_at)
    yield Span(SpanKind.PACK, show.leaves_at, packed)
    if out:
        yield Span(SpanKind.ROAD, packed, min(max(leg.arrives_at for leg in out), show.starts_at))
    yield Span(SpanKind.SHOW, show.starts_at, show.ends_at, show.name)
    if home:
        yield Span(SpanKind.ROAD, max(min(leg.departs_at for leg in home), show.ends_at), back)
    yield Span(SpanKind.RETURN, max(back, show.ends_at), show.back_at)


def promise_strip(answer: availability.Promise, shows: dict[str, Show]) -> SafeString:
    """What is asked for against what each thing is promised to already; clashes where they overlap."""
    rows, clashes = [], []
    for one in answer.things:
        spans = [span for other in one.spans for span in _other(other, shows)]
        rows.append(StripRow(one.name, tuple(spans)))
        for other in availability.overlapping(one.spans, answer.leaves_at, answer.back_at):
            start, end = max(other.starts_at, answer.leaves_at), min(other.ends_at, answer.back_at)
            clashes.append(Clash(one.name, start, max(start, end), f"{other.show_name} has it"))
    asked = Span(SpanKind.SHOW, answer.leaves_at, answer.back_at, "asked for")
    start, end = answer.leaves_at - 7 * AIR, answer.back_at + 14 * AIR
    rows.insert(0, StripRow("asked for", (asked,)))
    return dock_strip(rows, start=start, end=end, clashes=clashes, now=answer.at, title="Promised, dock to dock")


def _other(span: availability.Span, shows: dict[str, Show]) -> Iterable[Span]:
    show = shows.get(span.show)
    if show is None:
        return [Span(SpanKind.SHOW, span.starts_at, span.ends_at, span.show_name)]
    return spans_of(show, [])
