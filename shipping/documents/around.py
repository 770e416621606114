"""All that builders of papers read, fetched once for any number of subjects."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from functools import cached_property

from django.utils import timezone

from inventory import trials
from inventory.answers.belonging import belonging
from inventory.answers.loading import live
from inventory.models import DayPass, DriveSet, Holding, Item, Person, Role, System, SystemPart, Verb
from inventory.trials import Seen, Trial
from shipping.boards import departure_day
from shipping.carriers import every_figure
from shipping.documents.evidence import Evidence
from shipping.documents.mishaps import Mishaps
from shipping.documents.readied import Readied
from shipping.documents.stowage import Gross, Stowed, gross_of, in_bay_order, walk
from shipping.models import (
    BorderList,
    CarrierFigure,
    ConsignmentCase,
    DeckAcceptance,
    DeckPlan,
    Leg,
    PackLine,
    Return,
    Show,
)
from shipping.packing.lifting import Band, band
from shipping.planning.cases import Shell, shells_of
from shipping.planning.wholes import DatedLimits, dated_limits
from shipping.reconcile import Reconciliation, reconcile
from shipping.seal_looks import SealLook, seal_looks

LEG_WORDS = ("consignment__show", "vehicle__type__container", "from_place", "to_place")
WORDS = ("type__container", "owner", "home_system", "home_set", "home_case__home_system")


def _seen_words(said: Seen | None) -> str:
    return f"{said.value} ({timezone.localtime(said.at):%d %b %Y}, {said.by})" if said else ""


class Around:
    """What surrounds these cases, things, shows and legs by present knowledge. A bounded number of queries.

    `at` decides which trip of a case is its next one.
    """

    def __init__(self, subjects: Iterable[object], at: datetime) -> None:
        subjects = list(subjects)
        self.at = at
        self._told: dict[str, Reconciliation] = {}
        self._items = {one.id: one for one in subjects if isinstance(one, Item)}
        self._systems = [one for one in subjects if isinstance(one, System)]
        self._shows = {one.id: one for one in subjects if isinstance(one, Show)}
        self._shows |= {one.consignment.show_id: one.consignment.show for one in subjects if isinstance(one, Leg)}
        self._shows |= {one.show_id: one.show for one in subjects if isinstance(one, BorderList)}

    @cached_property
    def _trips(self) -> list[ConsignmentCase]:
        """Every place in a consignment of these shows' and these cases, in the order of the lists."""
        rows = ConsignmentCase.objects.filter(consignment__show__in=self._shows)
        rows |= ConsignmentCase.objects.filter(case__in=self._items)
        return list(
            rows.distinct()
            .select_related("consignment__show", *(f"case__{name}" for name in WORDS))
            .prefetch_related("case__labels", "case__type__container__compartments")
            .order_by("consignment_id", "position")
        )

    def trips(self, show: Show) -> list[ConsignmentCase]:
        """The cases of a show, consignment by consignment."""
        return [trip for trip in self._trips if trip.consignment.show_id == show.id]

    def next_trip(self, case: Item) -> ConsignmentCase | None:
        """The place of a case in a consignment of the next show that is neither cancelled nor over."""
        ahead = [
            trip
            for trip in self._trips
            if trip.case_id == case.id
            and trip.consignment.show.cancelled_at is None
            and trip.consignment.show.back_at > self.at
        ]
        return min(ahead, key=lambda trip: (trip.consignment.show.leaves_at, -trip.consignment_id), default=None)

    @cached_property
    def _sizes(self) -> dict[int, int]:
        wanted = {trip.consignment_id for trip in self._trips}
        rows = ConsignmentCase.objects.filter(consignment__in=wanted).values_list("consignment_id", flat=True)
        return Counter(rows.order_by())

    @cached_property
    def _legs(self) -> dict[int, list[Leg]]:
        """Every leg of these shows, by show."""
        found: dict[int, list[Leg]] = defaultdict(list)
        shows = set(self._shows) | {trip.consignment.show_id for trip in self._trips}
        legs = Leg.objects.filter(consignment__show__in=shows)
        for leg in legs.select_related(*LEG_WORDS).prefetch_related("vehicle__type__container__axles"):
            found[leg.consignment.show_id].append(leg)
        return found

    def legs(self, show_id: int) -> list[Leg]:
        return self._legs[show_id]

    @cached_property
    def _deck_plans(self) -> dict[int, DeckPlan]:
        """The floor plan that somebody accepted last for each leg of these shows."""
        taken = DeckAcceptance.objects.filter(plan__leg__consignment__show__in=self._shows).select_related("plan")
        return {one.plan.leg_id: one.plan for one in taken.order_by("accepted_at", "id")}

    def deck_plan(self, legs: Iterable[Leg]) -> DeckPlan | None:
        """The newest accepted floor plan of a vehicle that these legs share."""
        known = [self._deck_plans[leg.pk] for leg in legs if leg.pk in self._deck_plans]
        return max(known, key=lambda one: (one.made_at, one.pk), default=None)

    def next_show(self, case: Item) -> Show | None:
        trip = self.next_trip(case)
        return trip.consignment.show if trip else None

    def size_of(self, consignment_id: int) -> int:
        """N of "case n of N"."""
        return self._sizes[consignment_id]

    @cached_property
    def _cases(self) -> dict[int, Item]:
        return {trip.case_id: trip.case for trip in self._trips} | self._items

    @cached_property
    def _inside(self) -> dict[int, list[Holding]]:
        """What each container holds, at any depth, level by level."""
        found: dict[int, list[Holding]] = defaultdict(list)
        level = set(self._cases)
        while level:
            held = list(
                Holding.objects.filter(place__item__in=level)
                .select_related("place", *(f"item__{name}" for name in WORDS))
                .prefetch_related("item__labels")
            )
            for holding in held:
                found[holding.place.item_id].append(holding)
            level = {holding.item_id for holding in held} - set(found)
        return {container: in_bay_order(held) for container, held in found.items()}

    @cached_property
    def _plans(self) -> dict[int, dict[int, int]]:
        """By show: which case each planned thing goes in."""
        found: dict[int, dict[int, int]] = defaultdict(dict)
        shows = set(self._shows) | {trip.consignment.show_id for trip in self._trips}
        for show, item, case in PackLine.objects.filter(show__in=shows).values_list("show", "item", "case"):
            found[show][item] = case
        return found

    @cached_property
    def _homely(self) -> list[Item]:
        """Every thing at home in one of the cases, or planned for one."""
        planned = {item for plan in self._plans.values() for item in plan}
        items = Item.objects.in_stock().filter(home_case__in=self._cases)
        items |= Item.objects.in_stock().filter(id__in=planned)
        return list(items.distinct().select_related(*WORDS).prefetch_related("labels"))

    def rows(self, case: Item, show: Show | None = None) -> list[Stowed]:
        """What is in the case and what should be: by the show's plan where it has a line, else by home case."""
        plan = self._plans[show.id] if show else {}
        expected = [item for item in self._homely if plan.get(item.id, item.home_case_id) == case.id]
        wanted = {item.id for item in expected}
        here = list(walk(case.id, self._inside, wanted))
        found = {row.item.id for row in here}
        return here + [Stowed(item, "", 0, False, True) for item in expected if item.id not in found]

    @cached_property
    def leads(self) -> list[Person]:
        """Who answers for a show or for the stock."""
        return list(Person.objects.filter(role__in=(Role.KIT_MANAGER, Role.ROAD_LEAD)))

    @cached_property
    def _passes(self) -> dict[str, DayPass]:
        """The newest pass of each show that is not over."""
        codes = [show.code for show in self._shows.values()]
        open_ones = DayPass.objects.filter(reference__in=codes, revoked_at=None, valid_until__gt=self.at)
        return {one.reference: one for one in open_ones.order_by("made_at", "pk")}

    def day_pass(self, show: Show) -> DayPass | None:
        return self._passes.get(show.code)

    @cached_property
    def evidence(self) -> Evidence:
        """How sure the book is of these cases and all that is in them or should be."""
        inside = {holding.item_id: holding.item for held in self._inside.values() for holding in held}
        homely = {item.id: item for item in self._homely}
        return Evidence(homely | inside | self._cases, self.at)

    @cached_property
    def mishaps(self) -> Mishaps:
        """What is wrong with the things asked about."""
        return Mishaps(self._items, self.at)

    @cached_property
    def _trials(self) -> dict[int, Trial]:
        inside = {holding.item_id for held in self._inside.values() for holding in held}
        return trials.newest({item.id for item in self._homely} | inside | set(self._cases), self.at)

    def software(self, item: Item) -> str:
        """The version a thing showed when somebody last ran it, and when that was; empty where nobody has said."""
        return _seen_words(self._trials.get(item.id, trials.Trial()).software)

    def show_file(self, item: Item) -> str:
        """The settings that were loaded on it when somebody last looked; empty where nobody has said."""
        return _seen_words(self._trials.get(item.id, trials.Trial()).show_file)

    @cached_property
    def _shells(self) -> dict[int, Shell]:
        return shells_of(sorted(self._cases), self.at)

    def seal(self, case: Item) -> str:
        """The number of the seal that holds; empty while the case is open."""
        return self._shells[case.id].seal if case.id in self._shells else ""

    def gross(self, case: Item, rows: Sequence[Stowed]) -> Gross:
        """What the scale said since the case was last open, beside what is entered for it and its contents."""
        return gross_of(case, rows, self._shells[case.id].weighed_kg)

    @cached_property
    def limits(self) -> Mapping[tuple[str, str], Decimal]:
        """Every limit of the rules as it is in force."""
        return self._dated.on(timezone.localdate(self.at))

    @cached_property
    def _dated(self) -> DatedLimits:
        return dated_limits()

    @cached_property
    def carrier_figures(self) -> list[CarrierFigure]:
        """Every figure of carriers' terms, oldest first."""
        return every_figure()

    def limits_for(self, leg: Leg) -> Mapping[tuple[str, str], Decimal]:
        """Every limit as it is in force on the day a leg leaves."""
        return self._dated.on(departure_day(leg, None, self.at))

    def seals_found(self, show: Show) -> dict[int, SealLook]:
        """By case: the number found on its way home, beside the one it was last sealed with before."""
        looked = live(self.at).filter(reference=show.code, verb__in=(Verb.SEEN, Verb.RECEIVED)).exclude(seal="")
        looks = seal_looks(looked.values("label__item"), self.at)
        return {case: [look for look in told if look.show == show.code][-1] for case, told in looks.items()}

    def closing(self, show: Show) -> str:
        """Who closed the return, when; empty while it is open."""
        closed = Return.objects.filter(show=show).exclude(closed_at=None).first()
        return f"{timezone.localtime(closed.closed_at):%d %b %Y %H:%M}, {closed.closed_by}" if closed else ""

    @cached_property
    def readied(self) -> Readied:
        """How ready the systems asked about are."""
        return Readied(self._systems, self.at)

    @property
    def balance_limit_pct(self) -> Decimal:
        """The height a rack's contents should balance below, by the limit in force."""
        return self.limits["heavy-low", "cog_pct"]

    def lift(self, mass_kg: Decimal | None, leg: Leg | None = None) -> Band:
        """How many people to think of, by the setting in force; for a leg, by that of the day it leaves."""
        limits = self.limits_for(leg) if leg else self.limits
        return band(mass_kg, limits["lift-band", "person_kg"])

    @cached_property
    def _photos(self) -> dict[int, str]:
        """The newest picture of each packed case, by its hash."""
        pictures = live(self.at).filter(label__item__in=self._cases, photo__isnull=False).exclude(verb=Verb.FAULTED)
        return dict(pictures.order_by("happened_at", "pk").values_list("label__item_id", "photo_id"))

    def photo(self, case: Item) -> str:
        return self._photos.get(case.id, "")

    def case(self, pk: int) -> Item:
        return self._cases[pk] if pk in self._cases else self.items([pk])[pk]

    def items(self, ids: Iterable[int]) -> dict[int, Item]:
        """These things with all that a line of a paper says of them."""
        found = Item.objects.filter(pk__in=set(ids)).select_related(*WORDS).prefetch_related("labels")
        return {item.pk: item for item in found}

    def reconciled(self, show: Show) -> Reconciliation:
        """What became of all that left with a show."""
        if show.code not in self._told:
            self._told[show.code] = reconcile(show, self.at)
        return self._told[show.code]

    @cached_property
    def _members(self) -> dict[int, tuple[DriveSet | None, str]]:
        ids = set(self._items) | {holding.item_id for held in self._inside.values() for holding in held}
        return belonging(ids, self.at)

    def membership(self, item: Item) -> tuple[DriveSet | None, str]:
        """The set and bay a drive belongs to: by its newest `joined` or `dropped`, else its home set without a bay."""
        return self._members.get(item.id, (item.home_set, ""))

    @cached_property
    def _parts(self) -> dict[tuple[str, int], SystemPart]:
        return {
            ("item", part.item_id) if part.item_id else ("type", part.type_id): part
            for part in SystemPart.objects.all()
        }

    def part(self, item: Item) -> SystemPart | None:
        """The line of a system that asks for this thing, or for its type."""
        return self._parts.get(("item", item.id)) or self._parts.get(("type", item.type_id))

    @cached_property
    def _twin_types(self) -> set[int]:
        rows = Item.objects.in_stock().filter(home_system__isnull=False).exclude(serial="").exclude(type__kind="drive")
        systems: dict[int, set[int]] = defaultdict(set)
        for type_id, system_id in rows.values_list("type_id", "home_system_id").distinct().order_by():
            systems[type_id].add(system_id)
        return {type_id for type_id, owners in systems.items() if len(owners) > 1}

    def has_twin(self, item: Item) -> bool:
        """Does another system own one alike, told apart by its serial only?"""
        return bool(item.serial) and item.type_id in self._twin_types

    @cached_property
    def _held(self) -> dict[int, Holding]:
        held = Holding.objects.filter(item__in=self._cases).select_related("place")
        return {holding.item_id: holding for holding in held}

    def row_on(self, vehicle: Item | None, case: Item) -> str:
        """The row a case was loaded in, as scanned; empty while it is not on the vehicle."""
        holding = self._held.get(case.id)
        on_it = vehicle and holding and holding.place and holding.place.item_id == vehicle.id
        return holding.bay if on_it and holding else ""


def of_each(rows: Iterable[Sequence[Stowed]]) -> int:
    """Pieces over all cases, lots by their count."""
    return sum(row.item.quantity for case in rows for row in case)
