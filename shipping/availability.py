"""What can be promised: intervals from dock to dock, clashes with their cause, the first day that is free."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Q

from inventory.answers.blankness import blank_sets as by_the_book
from inventory.answers.values import Reason, Verdict
from inventory.enumerating import all_of
from inventory.models import DriveSet, Item, System
from shipping.models import Booking, Show

Thing = System | DriveSet | Item
NO_BLANK_SET = "no blank drive set"
BlankSets = Callable[[Sequence[DriveSet], datetime], Mapping[int, Verdict]]


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch in which a thing is not free. `open_ended`: it should be back, and is not."""

    starts_at: datetime
    ends_at: datetime
    show: str
    show_name: str
    open_ended: bool = False


@dataclass(frozen=True, slots=True)
class Wanted:
    """One thing asked for, and what stands against it."""

    kind: str
    id: int
    name: str
    spans: tuple[Span, ...]
    clashes: tuple[Reason, ...]
    free_from: datetime | None
    hire: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Promise:
    """`answer` is YES or NO; `earliest` is the first start at which everything asked for is free together."""

    answer: str
    sentence: str
    leaves_at: datetime
    back_at: datetime
    at: datetime
    reasons: tuple[Reason, ...]
    things: tuple[Wanted, ...]
    earliest: datetime | None
    hire: tuple[str, ...]


def promise(
    things: Sequence[Thing], leaves_at: datetime, back_at: datetime, at: datetime, *,
    show: Show | None = None, blank_sets: BlankSets = by_the_book,
) -> Promise:  # fmt: skip
    """Can all of these leave and be back so? `show` is left out of the clashes: it is what they are asked for."""
    spans = spans_of(things, at, leaving_out=show)
    blankness = _blankness(things, at, blank_sets)
    length = back_at - leaves_at
    wanted = tuple(_wanted(thing, spans[key_of(thing)], blankness, leaves_at, back_at) for thing in things)
    earliest = first_free([span for one in wanted for span in one.spans], max(leaves_at, at), length)
    reasons = tuple(reason for one in wanted for reason in one.clashes)
    hire = tuple(dict.fromkeys(line for one in wanted for line in one.hire))
    return Promise(
        answer="NO" if reasons else "YES",
        sentence=_sentence(wanted, reasons, earliest, leaves_at, hire),
        leaves_at=leaves_at,
        back_at=back_at,
        at=at,
        reasons=reasons,
        things=wanted,
        earliest=earliest,
        hire=hire,
    )


def _wanted(
    thing: Thing, spans: Sequence[Span], blankness: Mapping[int, tuple[DriveSet, Verdict]],
    leaves_at: datetime, back_at: datetime,
) -> Wanted:  # fmt: skip
    clashes = [_clash(thing, span) for span in overlapping(spans, leaves_at, back_at)]
    hire = [_hire_line(thing)] if clashes else []
    sets = [pair for pair in blankness.values() if _serves(pair[0], thing)]
    if sets and not any(verdict.answer == "BLANK" for _set, verdict in sets):
        clashes.append(_no_blank_set(thing, sets))
        drives = min(len(drive_set.bay_labels) for drive_set, _verdict in sets)
        hire.append(f"{drives} drives")
    return Wanted(
        kind=key_of(thing)[0],
        id=thing.pk,
        name=str(thing),
        spans=tuple(spans),
        clashes=tuple(clashes),
        free_from=first_free(spans, leaves_at, back_at - leaves_at),
        hire=tuple(hire),
    )


def _clash(thing: Thing, span: Span) -> Reason:
    if span.open_ended:
        return Reason(
            "not back",
            f"{thing} went out with {span.show_name} ({span.show}), was due on {span.ends_at:%-d %B} and the return is "
            "still open.",
            f"Close the return of {span.show}, or name what is missing there.",
        )
    return Reason(
        "double booked",
        f"{thing} is with {span.show_name} ({span.show}) from {span.starts_at:%-d %B} to {span.ends_at:%-d %B}, "
        "counted from prep day until it is back and wiped.",
        f"Leave after {span.ends_at:%-d %B}, give {span.show} another one, or hire.",
    )


def _no_blank_set(thing: Thing, sets: Sequence[tuple[DriveSet, Verdict]]) -> Reason:
    told = "; ".join(f"{drive_set}: {verdict.sentence}" for drive_set, verdict in sets)
    ways = [reason.way_out for _set, verdict in sets for reason in verdict.reasons if reason.way_out]
    entries = tuple(e for _set, verdict in sets for reason in verdict.reasons for e in reason.entries)
    subject = "it" if isinstance(thing, DriveSet) else f"a drive set of {thing}"
    return Reason(
        NO_BLANK_SET,
        f"Nothing says that {subject} may be recorded on. {told}" if told else f"{thing} has no drive set.",
        ways[0] if ways else "Have one set released and wiped, or hire drives.",
        entries,
    )


def _serves(drive_set: DriveSet, thing: Thing) -> bool:
    return drive_set == thing or (isinstance(thing, System) and drive_set.host_id == thing.pk)


def _blankness(things: Sequence[Thing], at: datetime, blank_sets: BlankSets) -> dict[int, tuple[DriveSet, Verdict]]:
    named = [thing.pk for thing in things if isinstance(thing, DriveSet)]
    hosts = [thing.pk for thing in things if isinstance(thing, System)]
    sets = list(DriveSet.objects.filter(Q(pk__in=named) | Q(host__in=hosts)).order_by("name"))
    verdicts = blank_sets(sets, at) if sets else {}
    return {drive_set.pk: (drive_set, verdicts[drive_set.pk]) for drive_set in sets}


def _hire_line(thing: Thing) -> str:
    if isinstance(thing, DriveSet):
        return f"{len(thing.bay_labels)} drives"
    return f"a system that does what {thing} does" if isinstance(thing, System) else f"one {thing.type}"


def _sentence(
    wanted: Sequence[Wanted], reasons: Sequence[Reason], earliest: datetime | None, leaves_at: datetime,
    hire: Sequence[str],
) -> str:  # fmt: skip
    names = all_of([one.name for one in wanted])
    if not wanted:
        return "Choose what to promise."
    if not reasons:
        return f"{names}: free from {leaves_at:%-d %B} for as long as asked."
    first = "nobody knows from when" if earliest is None else f"free together from {earliest:%-d %B}"
    if not any(reason.word != NO_BLANK_SET for reason in reasons):
        first = "the dates are free, once a drive set is released and wiped"
    return f"{names}: not as asked; {first}{f', or hire {all_of(hire)}' if hire else ''}."


def key_of(thing: Thing) -> tuple[str, int]:
    kind = {System: "system", DriveSet: "drive set", Item: "item"}[type(thing)]
    return kind, thing.pk


def first_free(spans: Iterable[Span], leaves_at: datetime, length: timedelta) -> datetime | None:
    """The first moment not before `leaves_at` from which `length` fits between the spans; None if one never ends.

    Spans end open: a thing that is back at noon may leave at noon.
    """
    start = leaves_at
    for span in sorted(spans, key=lambda span: span.starts_at):
        if span.starts_at >= start + length:
            break
        if span.open_ended and span.starts_at < start + length:
            return None
        start = max(start, span.ends_at)
    return start


def overlapping(spans: Iterable[Span], leaves_at: datetime, back_at: datetime) -> list[Span]:
    return [span for span in spans if span.starts_at < back_at and (span.open_ended or span.ends_at > leaves_at)]


def spans_of(things: Sequence[Thing], at: datetime, *, leaving_out: Show | None = None) -> dict[tuple, list[Span]]:
    """When each thing is promised elsewhere, in one query. A set goes with its host system, a thing with its home."""
    wanted = {key_of(thing): _claims(thing) for thing in things}
    still_to_come = Q(show__back_at__gt=at) | Q(show__coming_back__isnull=False, show__coming_back__closed_at=None)
    bookings = Booking.objects.filter(still_to_come, show__cancelled_at=None).select_related("show__coming_back")
    if leaving_out is not None and leaving_out.pk:
        bookings = bookings.exclude(show=leaving_out)
    found: dict[tuple, list[Span]] = {key: [] for key in wanted}
    for booking in bookings.order_by("show__leaves_at", "id"):
        span = span_of(booking.show, at)
        for key, claims in wanted.items():
            if claims & _claims_of(booking) and span not in found[key]:
                found[key].append(span)
    return found


def span_of(show: Show, at: datetime) -> Span:
    """From prep day until back and wiped; if the return is still open past its day, until nobody knows when."""
    coming_back = getattr(show, "coming_back", None)
    closed_at = coming_back.closed_at if coming_back else None
    late = closed_at is None and show.back_at < at and coming_back is not None
    ends_at = min(show.back_at, closed_at) if closed_at else show.back_at
    return Span(show.leaves_at, ends_at, show.code, show.name, open_ended=late)


def _claims(thing: Thing) -> set[tuple[str, int]]:
    """The bookings that take this thing away: its own, and those of what it belongs to."""
    claims = {key_of(thing)}
    if isinstance(thing, DriveSet) and thing.host_id:
        claims.add(("system", thing.host_id))
    if isinstance(thing, Item):
        claims |= {("system", thing.home_system_id)} if thing.home_system_id else set()
        claims |= {("drive set", thing.home_set_id)} if thing.home_set_id else set()
    return claims


def _claims_of(booking: Booking) -> set[tuple[str, int]]:
    pairs = (("system", booking.system_id), ("drive set", booking.drive_set_id), ("item", booking.item_id))
    return {(kind, pk) for kind, pk in pairs if pk}
