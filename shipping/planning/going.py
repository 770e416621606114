"""What is to go with a show: its cases, its things, its vehicles. Reads only, in a few queries whatever the number."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Exists, OuterRef, Q
from django.utils import timezone

from inventory.answers.loading import live
from inventory.models import ContainerType, Holding, Item, Kind, PlaceKind, Verb
from shipping.models import ConsignmentCase, Leg, Mode, PackLine, Show
from shipping.packing.facts import DriveSet as Members
from shipping.planning import wholes
from shipping.planning.decided import NOTHING, Decided, decided

AIR = Mode.AIR
ON_THE_GROUND = (Mode.ROAD, Mode.SEA)  # a courier may fly what it carries
NO_GEAR = (Kind.CASE, Kind.VEHICLE)
# Asked one table after another: hundreds of things share some dozens of these rows.
WITH_HOME = ("type__container__compartments", "owner", "home_case__type__container", "home_system")


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked beside the show itself. All are ids; `vehicles` in place of those on its legs.

    `without` are cases that do not go though what lives in them does, `leave` cases that stay with all of that,
    `at_home` things that stay behind, `also` systems taken along.
    """

    vehicles: tuple[int, ...] = ()
    without: tuple[int, ...] = ()
    leave: tuple[int, ...] = ()
    at_home: tuple[int, ...] = ()
    also: tuple[int, ...] = ()
    usual_first: bool = False

    @property
    def is_plain(self) -> bool:
        """Nothing is asked but what the show itself says."""
        return not (self.vehicles or self.without or self.leave or self.at_home or self.also)

    def as_data(self) -> dict[str, Any]:
        return {name: list(one) if isinstance(one, tuple) else one for name, one in asdict(self).items()}

    @classmethod
    def from_data(cls, data: Mapping[str, Any]) -> Question:
        return cls(**{name: tuple(one) if isinstance(one, list) else one for name, one in data.items()})


@dataclass(frozen=True)
class Going:
    """All that goes, as rows. `sets` are the drive sets whole as they stand by the ledger, `on` the day it leaves.

    `legs` are ids of those that are still to leave, `done` are cases whose ways of this show all lie behind them, while
    others are still to leave: they go nowhere. Where a leg flies, `rides` are cases whose ways to come are all on the
    ground, `flown` those that fly and have no way with a vehicle, and `unsaid` those of which no leg tells if they fly.
    """

    cases: tuple[Item, ...] = ()
    items: tuple[Item, ...] = ()
    sets: tuple[Members, ...] = ()
    vehicles: tuple[Item, ...] = ()
    by_air: bool = False
    on: date = date(2000, 1, 1)
    passenger: bool = False
    baggage: bool = False
    packaged_types: frozenset[int] = frozenset()
    decided: Decided = NOTHING
    done: tuple[Item, ...] = ()
    legs: tuple[int, ...] = ()
    rides: frozenset[int] = frozenset()
    flown: frozenset[int] = frozenset()
    unsaid: frozenset[int] = frozenset()

    def flies(self, case_id: int) -> bool:
        """Do the limits of the air hold for this case? Also where nothing tells how it goes."""
        return self.by_air and case_id not in self.rides


def going(show: Show, question: Question, at: datetime) -> Going:
    """Everything booked, consigned or planned for the show that is still to leave, as the question changes it."""
    systems = [*show.bookings.filter(system__isnull=False).values_list("system", flat=True), *question.also]
    cases = _cases(show, systems)
    booked = set(show.bookings.exclude(drive_set=None).values_list("drive_set", flat=True))
    known = {one.id: one for one in wholes.sets_of(booked, at)}
    members = {member.item_id for one in known.values() for member in one.members}
    legs = _to_leave(show, at)
    done = _done(show, legs)
    stay = {*question.leave, *done}
    items = _items(show, systems, {case.pk for case in cases} | members, question, stay)
    flights = [leg for leg in legs if leg.mode == AIR]
    gone = tuple(case for case in cases if case.pk in done)
    cases = tuple(case for case in cases if case.pk not in {*question.without, *stay})
    vehicles = question.vehicles or tuple(sorted({leg.vehicle_id for leg in legs if leg.vehicle_id}))
    packed_so = ContainerType.original_packaging_for.through.objects
    return Going(
        cases=cases,
        items=items,
        sets=_sets(items, known, at),
        vehicles=tuple(_vehicles().filter(pk__in=vehicles).order_by("number", "pk")),
        by_air=bool(flights),
        passenger=any(leg.passenger_aircraft for leg in flights),
        baggage=any(leg.as_baggage for leg in flights),
        on=_leaves_on(show, [leg.departs_at for leg in legs], at),
        packaged_types=frozenset(packed_so.values_list("itemtype", flat=True)),
        decided=decided(show, cases, items, at) if flights else NOTHING,
        done=gone,
        legs=tuple(leg.pk for leg in legs),
        **(_ways(show, {case.pk for case in cases}, legs) if flights else {}),
    )


def _to_leave(show: Show, at: datetime) -> list[Leg]:
    """Its legs that have not left yet; all of them once the show is back, or once they all have."""
    left = live(at).filter(verb=Verb.DEPARTED, place=OuterRef("road"))
    legs = list(Leg.objects.filter(consignment__show=show).annotate(has_left=Exists(left)))
    ahead = [leg for leg in legs if not leg.has_left] if show.back_at >= at else []
    return ahead or legs


def _done(show: Show, to_leave: Collection[Leg]) -> set[int]:
    """Cases that are on legs of the show, and on none that is still to leave."""
    ahead = {leg.consignment_id for leg in to_leave}
    planned = Leg.objects.filter(consignment=OuterRef("consignment"))
    rows = ConsignmentCase.objects.filter(Exists(planned), consignment__show=show)
    rows = list(rows.values_list("case_id", "consignment_id"))
    return {case for case, _ in rows} - {case for case, consignment in rows if consignment in ahead}


def _ways(show: Show, cases: Collection[int], to_leave: Collection[Leg]) -> dict[str, frozenset[int]]:
    """Which of these cases ride, are flown, or are not told of, by the legs that are still to leave."""
    legs_of: dict[int, list[Leg]] = defaultdict(list)
    for leg in to_leave:
        legs_of[leg.consignment_id].append(leg)
    ways: dict[int, list[Leg]] = defaultdict(list)
    for case, consignment in _listed(show):
        ways[case] += legs_of[consignment]
    rides = frozenset(case for case in cases if ways[case] and all(leg.mode in ON_THE_GROUND for leg in ways[case]))
    by_air = {case for case in cases if any(leg.mode == AIR for leg in ways[case])}
    flown = {case for case in by_air if rides and not any(leg.vehicle_id for leg in ways[case])}
    return {"rides": rides, "flown": frozenset(flown), "unsaid": frozenset(set(cases) - rides - by_air)}


def _listed(show: Show) -> Iterable[tuple[int, int]]:
    """Each case of the show with the consignment that lists it, by id."""
    return ConsignmentCase.objects.filter(consignment__show=show).values_list("case_id", "consignment_id")


def _leaves_on(show: Show, departures: Collection[datetime | None], at: datetime) -> date:
    """The day whose limits a plan is made by: of the next leg to leave, else of the show, else today."""
    ahead = [one for one in departures if one is not None and one >= at] or [show.leaves_at]
    return timezone.localdate(max(at, min(ahead)), timezone.get_default_timezone())


def _vehicles() -> Any:
    return Item.objects.in_stock().filter(type__kind=Kind.VEHICLE).select_related("type__container")


def vehicles_to_choose() -> list[Item]:
    """Every vehicle of the house that something may be planned onto."""
    return list(_vehicles().filter(type__container__isnull=False).order_by("number", "pk"))


def _cases(show: Show, systems: Collection[int]) -> list[Item]:
    """Those of its systems, those booked by themselves, and those consigned."""
    consigned = ConsignmentCase.objects.filter(consignment__show=show).values("case")
    mine = Q(home_system__in=systems) | Q(pk__in=consigned) | Q(pk__in=show.bookings.values("item"))
    found = Item.objects.in_stock().containers().filter(mine, type__kind=Kind.CASE)
    found = found.select_related("type__container", "home_system").order_by("number", "pk")
    words = ("labels", "type__container__compartments", "type__container__original_packaging_for")
    return list(found.prefetch_related(*words))


def _items(
    show: Show, systems: Collection[int], named: Collection[int], question: Question, stay: Collection[int]
) -> tuple[Item, ...]:  # fmt: skip
    """What belongs to its systems, lives in its cases, is of its sets or is planned for it; nothing that is gone.

    `named` are ids of its cases and of the drives of its sets, `stay` cases that do not go with all that is in them.
    """
    mine = Q(home_case__in=named) | Q(home_system__in=systems) | Q(pk__in=named)
    mine |= Q(pk__in=show.bookings.values("item")) | Q(pk__in=PackLine.objects.filter(show=show).values("item"))
    found = Item.objects.in_stock().filter(mine).exclude(type__kind__in=NO_GEAR)
    found = found.exclude(pk__in=question.at_home).exclude(home_case__in=stay)
    gone = Holding.objects.filter(place__kind=PlaceKind.GONE).values("item")
    return tuple(found.exclude(pk__in=gone).prefetch_related(*WITH_HOME).order_by("pk"))


def _sets(items: Collection[Item], known: Mapping[int, Members], at: datetime) -> tuple[Members, ...]:
    """The sets that any of these drives is in by the ledger; a set broken up is no set."""
    drives = {item.pk for item in items if item.type.kind == Kind.DRIVE}
    named = {item.home_set_id for item in items if item.pk in drives and item.home_set_id}
    named |= {set_id for set_id, _ in wholes.membership(drives, at).values() if set_id}
    found = [*known.values(), *wholes.sets_of(named - set(known), at)]
    whole = [one for one in found if not one.broken_up and any(m.item_id in drives for m in one.members)]
    return tuple(sorted(whole, key=lambda one: one.id))
