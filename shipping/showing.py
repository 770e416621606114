"""What the pages of a show say: dock to dock, what is booked, how it travels, what tends to stay behind."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q
from django.utils.safestring import SafeString

from inventory.answers.loading import live
from inventory.models import Holding, Item, Place, SystemPart, Verb
from inventory.unchanged import kept
from shipping import booking, planning, waiving
from shipping.models import Booking, Show
from shipping.planning.cases import seals_of
from shipping.reconcile import Reconciliation, reconcile
from shipping.strips import show_strip
from shipping.travelling import LegLine, travelling
from shipping.verdicts import verdicts


@dataclass(frozen=True, slots=True)
class ShowLine:
    """One row of the list of shows."""

    show: Show
    state: str
    meaning: str


def list_lines(shows: Iterable[Show], at: datetime) -> list[ShowLine]:
    """Each show with where it stands by its dates and its return, in one more query."""
    shows = list(shows)
    codes = [show.code for show in shows]
    out = set(live(at).filter(reference__in=codes, verb=Verb.DEPARTED).values_list("reference", flat=True))
    return [ShowLine(show, *_state(show, show.code in out, at)) for show in shows]


def _state(show: Show, has_left: bool, at: datetime) -> tuple[str, str]:
    coming_back = getattr(show, "coming_back", None)
    if show.cancelled_at:
        return "cancelled", "quiet"
    if coming_back is not None and coming_back.closed_at:
        return "return closed", "settled"
    if at < show.leaves_at:
        return "to come", "quiet"
    if not has_left:
        return "in prep, nothing has left" if at <= show.ends_at else "over, nothing went under its code", "doubtful"
    if at <= show.ends_at:
        return "out", "settled"
    return ("return open", "doubtful") if at <= show.back_at else ("return overdue", "stop")


@dataclass(frozen=True, slots=True)
class Runaway:
    """A thing that tends to be left behind, or one that was left here before and is to be collected."""

    item: str
    code: str
    why: str
    collect: bool = False


def page(show: Show, at: datetime) -> dict[str, object]:
    """Everything the page of one show says, by name."""
    bookings = list(show.bookings.select_related("system", "drive_set", "item__type").order_by("id"))
    goes = travelling(show)
    told = reconcile(show, at)
    return {
        "at": at,
        "bookings": bookings,
        "booking_findings": booking.booking_findings(show, at),
        "consignments": goes.consignments,
        "strip": _strip(show, bookings, goes.legs, at),
        "rules_say": verdicts([] if show.cancelled_at else waiving.standing(planning.findings_for_show(show, at))),
        "told": told,
        "return_meaning": return_meaning(told),
        "runaways": runaways(show, bookings, at),
        "reassignable": reassignable(show, at) if show.cancelled_at else [],
        "loose": goes.loose,
    }


def _strip(show: Show, bookings: Sequence[Booking], legs: Iterable[LegLine], at: datetime) -> SafeString:
    wholes = [str(one.system or one.drive_set) for one in bookings if one.item_id is None]
    return show_strip(show, wholes, legs, at)


def return_meaning(told: Reconciliation) -> str:
    return {"all back": "settled", "owed": "doubtful"}.get(told.answer, "quiet")


def runaways(show: Show, bookings: Sequence[Booking], at: datetime) -> list[Runaway]:
    """For the last look: what was left at this venue before and is owed, then what tends to stay behind."""
    venue, systems = show.venue_id, [one.system_id for one in bookings if one.system_id]
    found = kept(("runaways", venue, *systems), at, lambda: (*_to_collect(venue, at), *_prone(systems)))
    return list(found)


def _to_collect(venue: int | None, at: datetime) -> list[Runaway]:
    if venue is None:
        return []
    here = Place.objects.filter(Q(pk=venue) | Q(parent=venue) | Q(parent__parent=venue))
    rows = Holding.objects.filter(place__in=here, entry__verb=Verb.LEFT, entry__happened_at__lte=at)
    return [
        Runaway(str(row.item), row.item.code, f"left in {row.entry.place}: collect it", collect=True)
        for row in rows.select_related("item__type", "entry__place").prefetch_related("item__labels")
    ]


def _prone(systems: Sequence[int]) -> list[Runaway]:
    parts = SystemPart.objects.filter(system__in=systems, left_behind_prone=True)
    parts = parts.select_related("item__type", "type", "system").prefetch_related("item__labels")
    return [
        Runaway(str(part.item or part.type), part.item.code if part.item else "", f"{part.system}: often left behind")
        for part in parts.order_by("-show_stopper", "system", "position", "pk")
    ]


@dataclass(frozen=True, slots=True)
class Packed:
    """A case of a cancelled show that is still sealed: it may go with another show as it is."""

    case: Item
    seal: str
    code: str


def reassignable(show: Show, at: datetime) -> list[Packed]:
    """The cases of this show that are sealed still, by their numbers."""
    cases = list(booking.cases_of(show).order_by("number"))
    seals = seals_of([case.pk for case in cases], at)
    return [Packed(case, seals[case.pk], case.code) for case in cases if case.pk in seals]


def count_reassignable(show: Show, at: datetime, ever_sealed: Collection[int]) -> int:
    """How many they are. No other case than these was ever sealed: their seals are asked all together."""
    seals = seals_of(ever_sealed, at)
    cases = booking.cases_of(show).prefetch_related(None).order_by().values_list("pk", flat=True)
    return sum(case in seals for case in cases)
