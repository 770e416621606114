"""Which legs want hands now: those to load, to count off and still on the road, before those of other days."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum

from django.db.models import Q

from inventory.models import Holding
from inventory.prepared import Rows
from shipping.boards import LISTED, Board, Face, Moment, Phase, is_on, moments_of, on_since, phase_at, phases_of
from shipping.models import Leg

AHEAD = timedelta(hours=24)  # a load that leaves within this is got onto the vehicle now
BEHIND = timedelta(days=3)  # a leg whose hour was longer ago is not waited for any more


class When(StrEnum):
    NOW = "now"
    LATER = "later"
    OVER = "over"


@dataclass(frozen=True, slots=True)
class Turn:
    """A leg and what is open on it: `on` of its `of` cases are on the vehicle by the book."""

    leg: Leg
    phase: Phase
    when: When
    on: int
    of: int

    @property
    def rides(self) -> str:
        return str(self.leg.vehicle or self.leg.carrier or "the carrier")

    @property
    def way(self) -> str:
        return f"{self.leg.from_place} to {self.leg.to_place}"

    @property
    def words(self) -> str:
        """ "3 of 15 cases still to go on." """
        if not self.of:
            return "No case is on its list."
        if self.phase == Phase.LOADING:
            left = self.of - self.on
            return f"{left} of {self.of} cases still to go on." if left else f"All {self.of} cases are on."
        if self.phase == Phase.ON_THE_ROAD:
            return f"On the road with {self.on} of {self.of} cases."
        return f"{self.on} of {self.of} cases not counted off." if self.on else "Every case that came is off."

    @property
    def verb(self) -> str:
        return "Load" if self.phase == Phase.LOADING else "Count off"


def turns(legs: Iterable[Leg], at: datetime) -> list[Turn]:
    """Each leg's turn, now before later before over, and within these by their hour; a constant number of queries."""
    legs = list(legs)
    moments = moments_of(legs, at)
    lists = LISTED(consignments={leg.consignment_id for leg in legs})
    on, of = _on(legs, moments, lists), Counter(consignment for consignment, _case in lists)
    found = []
    for leg in legs:
        phase, here, listed = phase_at(*moments[leg.pk]), on[leg.pk], of[leg.consignment_id]
        found.append(Turn(leg, phase, _when(leg, phase, here, at), here, listed))
    return sorted(found, key=lambda turn: (list(When).index(turn.when), *_hour(turn)))


def _hour(turn: Turn) -> tuple[bool, float, int]:
    """The next hour first; of what is over the last one first."""
    hour = hour_of(turn.leg, turn.phase)
    stamp = hour.timestamp() if hour else 0.0
    return hour is None, -stamp if turn.when == When.OVER else stamp, turn.leg.pk


def hour_of(leg: Leg, phase: Phase) -> datetime | None:
    """When it should leave; once it has left, when it should be there."""
    return leg.departs_at if phase == Phase.LOADING else leg.arrives_at or leg.departs_at


def _when(leg: Leg, phase: Phase, on: int, at: datetime) -> When:
    hour = hour_of(leg, phase)
    if phase == Phase.ON_THE_ROAD or hour is None:
        return When.OVER if phase == Phase.ARRIVED and not on else When.NOW
    if hour < at - BEHIND or (phase == Phase.ARRIVED and not on):
        return When.OVER
    return When.NOW if hour <= at + AHEAD or phase == Phase.ARRIVED else When.LATER


def in_its_turn(found: Board, at: datetime) -> Board:
    """The board without strangers that are another ride's: what goes with a leg before it, or came on after it."""
    theirs = set(found.strangers) - set(_its_own(found, at))
    return replace(found, faces=tuple(face for face in found.faces if face not in theirs)) if theirs else found


def _its_own(found: Board, at: datetime) -> list[Face]:
    if found.phase == Phase.ARRIVED and found.arrived:
        return [face for face in found.strangers if not on_since(face.at, found.arrived.happened_at)]
    waits = found.phase == Phase.LOADING and found.strangers and _rides_first(found.leg, at)
    return [] if waits else found.strangers


def _rides_first(leg: Leg, at: datetime) -> bool:
    """Has its vehicle another leg before this one, still to leave or on the road, and not given up?"""
    if leg.departs_at is None:
        return False
    late = Q(departs_at__gte=at - BEHIND) | Q(arrives_at__gte=at - BEHIND)
    before = Leg.objects.filter(late, vehicle=leg.vehicle_id, departs_at__lt=leg.departs_at)
    before = before.filter(consignment__show__cancelled_at=None).select_related("consignment__show")
    shared = Q(from_place=leg.from_place_id, departs_at__gte=leg.departs_at - AHEAD)  # one ride, told as two legs
    legs = list(before.exclude(shared))
    phases = phases_of(legs, at)
    return any(_is_to_come(hour_of(one, phases[one.pk]), at) for one in legs if phases[one.pk] != Phase.ARRIVED)


def _is_to_come(hour: datetime | None, at: datetime) -> bool:
    return hour is not None and hour >= at - BEHIND


def _on(legs: Collection[Leg], moments: Mapping[int, tuple[Moment | None, Moment | None]], lists: Rows) -> Counter[int]:
    """How many of each leg's cases are on its vehicle, or by waybill on its way; of an arrived one, that it brought."""
    ids = {leg.consignment_id for leg in legs}
    held = Holding.objects.filter(item__consignments__consignment__in=ids).select_related("place", "entry").distinct()
    rows = {row.item_id: row for row in held}
    by_list: dict[int, list[Holding]] = {pk: [] for pk in ids}
    for consignment, case in lists:
        by_list[consignment] += [rows[case]] if case in rows else []
    return Counter(
        {leg.pk: sum(_rides(row, leg, *moments[leg.pk]) for row in by_list[leg.consignment_id]) for leg in legs}
    )


def _rides(row: Holding, leg: Leg, departed: Moment | None, arrived: Moment | None) -> bool:
    is_there = phase_at(departed, arrived) == Phase.ARRIVED
    put = row.entry.happened_at if row.entry else None
    return is_on(row, leg) and not (is_there and arrived and on_since(put, arrived[0]))
