"""The only bridge from the book to the rules: rows to facts, facts to findings. Nothing here writes."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db.models import Exists, OuterRef, QuerySet

from inventory.answers.keeping import Kept, kept_on
from inventory.models import ContainerType, Entry, Holding, Item, Kind, Verb
from inventory.prepared import Asked, Prepared
from inventory.unchanged import kept
from shipping import carriers
from shipping.models import BorderList, ConsignmentCase, Leg, Show
from shipping.packing import facts
from shipping.packing.engine import judge, order
from shipping.packing.facts import Finding, Load
from shipping.planning import content, legs, wholes
from shipping.planning.cases import cases_of, seals_of
from shipping.waiving import Judged, standing

LEG_WORDS = ("consignment__show", "vehicle__type__container", "road", "from_place", "to_place")

__all__ = [
    "Judged", "blocks_for_case", "blocks_for_leg", "case_facts", "cases_on", "coming_leg", "findings_for_border",
    "findings_for_case", "findings_for_cases", "findings_for_leg", "findings_for_show", "judged_case", "judged_leg",
    "load_of", "loaded_on", "other_day", "seals_of",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Yard:
    """Cases read once, from which any number of loads can be judged."""

    at: datetime
    show: Show | None
    cases: Mapping[int, facts.Case]
    systems: tuple[facts.System, ...]
    sets: tuple[facts.DriveSet, ...]
    kept: tuple[Kept, ...]
    packaged_types: frozenset[int]
    limits: wholes.DatedLimits
    rides: Mapping[int, legs.Ride]

    def load(self, case_ids: Collection[int], leg: Leg | None = None, border: BorderList | None = None) -> Load:
        """These of its cases together; on a leg, with what the leg itself tells."""
        wanted = set(case_ids)
        cases = tuple(case for ident, case in self.cases.items() if ident in wanted)
        pieces = [piece for case in cases for piece in case.pieces]
        systems, sets = {piece.system_id for piece in pieces}, {piece.set_id for piece in pieces}
        travels = legs.leg_facts(leg, self.rides[leg.pk], wanted, self.at) if leg else None
        on = (travels.departs_on if travels else None) or self.day
        limits = self.limits.on(on)
        return Load(
            cases=cases, on=on, leg=travels,
            show=_show(self.show), systems=tuple(one for one in self.systems if one.id in systems),
            sets=tuple(one for one in self.sets if one.id in sets),
            kept=content.kept_in(cases, self.kept) if leg else (),
            border=legs.border_facts(border) if border else None, packaged_types=self.packaged_types,
            limits=carriers.rule_limits(leg, on, limits) if leg else limits,
        )  # fmt: skip

    @property
    def day(self) -> date:
        """Whose limits count for what is on no leg: the day its show leaves, or today once that is past."""
        today = _day(self.at)
        return max(today, _day(self.show.leaves_at)) if self.show else today


def yard_of(
    case_ids: Collection[int], at: datetime, show: Show | None = None, *, going: Collection[Leg] = (),
    among: Collection[int] = (),
) -> Yard:  # fmt: skip
    """Everything the rules read of these cases, and of the legs they are going; queries do not grow with the cases."""
    cases = cases_of(case_ids, at, show, among)
    pieces = [piece for case in cases for piece in case.pieces]
    drives = [piece.id for piece in pieces if piece.kind == Kind.DRIVE] if going else []
    return Yard(
        at, show, {case.id: case for case in cases},
        systems=wholes.systems_of({piece.system_id for piece in pieces if piece.system_id}),
        sets=wholes.sets_of({piece.set_id for piece in pieces if piece.set_id}, at),
        kept=tuple(kept_on(drives, at)), packaged_types=_packaged_types(), limits=wholes.dated_limits(),
        rides=legs.rides_of(going, at) if going else {},
    )  # fmt: skip


def load_of(
    case_ids: Collection[int], at: datetime, *, leg: Leg | None = None, show: Show | None = None,
    border: BorderList | None = None, among: Collection[int] = (),
) -> Load:  # fmt: skip
    """These cases together, as the rules read them."""
    going = [leg] if leg else []
    return yard_of(case_ids, at, show, going=going, among=among).load(case_ids, leg, border)


def _day(at: datetime) -> date:
    return at.astimezone(ZoneInfo(settings.TIME_ZONE)).date()


def other_day(load: Load, at: datetime) -> date | None:
    """The day whose limits a load is judged by, where that is not today."""
    return load.on if load.on != _day(at) else None


# Asked for every load that is judged: put together once.
PACKED_SO = Prepared(
    lambda: ContainerType.original_packaging_for.through.objects.order_by().values_list("itemtype_id").distinct()
)


def _packaged_types() -> frozenset[int]:
    return frozenset(kind for (kind,) in PACKED_SO())


def _show(show: Show | None) -> facts.Show | None:
    if show is None:
        return None
    return facts.Show(show.code, show.name, show.ends_at.date(), show.discreet, show.abroad)


def coming_leg(case: Item, at: datetime, show: Show | None = None) -> Leg | None:
    """The next leg a case is to travel: planned, not cancelled, not yet departed."""
    return _coming([case.pk], at, show).select_related(*LEG_WORDS).first()


def coming_legs(case_ids: Collection[int], at: datetime, show: Show | None = None) -> dict[int, Leg]:
    """The next leg of each case that has one, in two queries."""
    coming: dict[int, int] = {}
    for leg, case in COMING_OF(cases=case_ids, at=at, show=show.pk) if show else COMING(cases=case_ids, at=at):
        coming.setdefault(case, leg)
    legs_by_key = Leg.objects.select_related(*LEG_WORDS).in_bulk(set(coming.values()))
    return {case: legs_by_key[leg] for case, leg in coming.items()}


ON_LEGS = ("pk", "consignment__cases__case")
COMING = Prepared(
    lambda cases, at: _coming(cases, at, None).values_list(*ON_LEGS), cases=Asked.IDS, at=Asked.MOMENT
)  # fmt: skip
COMING_OF = Prepared(
    lambda cases, at, show: _coming(cases, at, show).values_list(*ON_LEGS),
    cases=Asked.IDS, at=Asked.MOMENT, show=Asked.ID,
)  # fmt: skip


def _coming(case_ids: Collection[int], at: datetime, show: Show | int | None) -> QuerySet[Leg]:
    """Every leg that any of these cases is to travel, the next first."""
    left = Entry.objects.filter(verb=Verb.DEPARTED, place=OuterRef("road"), happened_at__lte=at)
    found = Leg.objects.filter(
        ~Exists(left), consignment__cases__case__in=case_ids, consignment__show__cancelled_at=None,
        consignment__show__back_at__gte=at, **({"consignment__show": show} if show else {}),
    )  # fmt: skip
    return found.order_by("departs_at", "pk")


def cases_on(leg: Leg) -> set[int]:
    """The cases planned for a leg, with those of other consignments that share its vehicle from the same place."""
    return cases_on_each([leg])[leg.pk]


def cases_on_each(legs: Collection[Leg]) -> dict[int, set[int]]:
    """The same of several, by their keys, in two queries."""
    shows = {leg.consignment.show_id for leg in legs}
    listed: dict[int, set[int]] = defaultdict(set)
    lists = ConsignmentCase.objects.filter(consignment__show__in=shows).values_list("consignment_id", "case_id")
    for consignment, case in lists:
        listed[consignment].add(case)
    sharing: dict[tuple[int | None, ...], set[int]] = defaultdict(set)
    rides = Leg.objects.filter(consignment__show__in=shows, vehicle__isnull=False).order_by()
    for consignment, *ride in rides.values_list("consignment_id", *RIDE):
        sharing[tuple(ride)].add(consignment)
    together = {leg.pk: {leg.consignment_id} | sharing.get(_ride(leg), set()) for leg in legs}
    return {leg: set().union(*(listed[one] for one in consignments)) for leg, consignments in together.items()}


RIDE = ("vehicle_id", "from_place_id", "to_place_id", "consignment__show_id")


def _ride(leg: Leg) -> tuple[int | None, ...]:
    """What consignments have alike that go on one vehicle together."""
    return leg.vehicle_id, leg.from_place_id, leg.to_place_id, leg.consignment.show_id


def loaded_on(leg: Leg) -> set[int]:
    """The cases that the ledger has inside the leg's vehicle now."""
    return loaded_on_each([leg])[leg.pk]


def loaded_on_each(legs: Collection[Leg]) -> dict[int, set[int]]:
    """The same of several, by their keys, in one query."""
    vehicles = {leg.vehicle_id for leg in legs if leg.vehicle_id}
    held = Holding.objects.filter(place__item__in=vehicles, item__type__container__isnull=False)
    found: dict[int | None, set[int]] = defaultdict(set)
    for vehicle, item in held.exclude(item__type__kind=Kind.FRAME).values_list("place__item_id", "item_id"):
        found[vehicle].add(item)
    return {leg.pk: found[leg.vehicle_id] for leg in legs}


def _leg_load(leg: Leg, at: datetime, case_ids: Collection[int]) -> Load:
    return load_of(case_ids, at, leg=leg, show=leg.consignment.show, border=_borders_on([leg]).get(leg.pk))


def _borders_on(legs: Collection[Leg]) -> dict[int, BorderList]:
    """The newest issued list of its show, for each leg that crosses a border."""
    crossing = {leg.pk: leg.consignment.show_id for leg in legs if leg.crosses_border}
    issued = BorderList.objects.filter(show__in=set(crossing.values()), issued_at__isnull=False).order_by("issued_at")
    newest = {one.show_id: one for one in issued}
    return {leg: newest[show] for leg, show in crossing.items() if show in newest}


def findings_for_case(case: Item, at: datetime, show: Show | None = None) -> list[Finding]:
    """What the rules say of one case, judged with everything that is to travel with it."""
    return findings_for_cases([case], at, show)[case.pk]


def findings_for_cases(
    cases: Collection[Item], at: datetime, show: Show | None = None, among: Collection[int] = ()
) -> dict[int, list[Finding]]:
    """The same for several cases. Those of one leg are judged together, those on no leg in one go.

    `among` are cases whose seals are known already.
    """
    wanted = {case.pk for case in cases}
    coming = coming_legs(wanted, at, show)
    found: dict[int, list[Finding]] = {ident: [] for ident in wanted}
    for load in _loads_with(wanted, coming, at, show, among):
        for one in judge(load):
            kind, _, ident = one.subject.partition(":")
            if kind == "case" and int(ident) in wanted and _is_its_load(load, coming.get(int(ident))):
                found[int(ident)].append(one)
    return found


def _loads_with(
    wanted: set[int], coming: Mapping[int, Leg], at: datetime, show: Show | None, among: Collection[int]
) -> Iterator[Load]:
    """The loads that these cases go in: those of one show are read together."""
    if wanted - set(coming):
        yield load_of(sorted(wanted - set(coming)), at, show=show, among=among)
    going = list({leg.pk: leg for leg in coming.values()}.values())
    planned, borders = cases_on_each(going), _borders_on(going)
    together: dict[Show, dict[Leg, set[int]]] = defaultdict(dict)
    for leg in going:
        mine = {ident for ident, its in coming.items() if its.pk == leg.pk}
        together[leg.consignment.show][leg] = planned[leg.pk] | mine
    for its_show, loads in together.items():
        yard = yard_of(set().union(*loads.values()), at, its_show, going=loads, among=among)
        for leg, ids in loads.items():
            yield yard.load(ids, leg, borders.get(leg.pk))


def _is_its_load(load: Load, leg: Leg | None) -> bool:
    return (load.leg.id if load.leg else None) == (leg.pk if leg else None)


def judged_case(case: Item, at: datetime, leg: Leg | None, show: Show | None) -> tuple[facts.Case, list[Finding], Load]:
    """One case as the rules read it, what they say of it, and the load it was judged with."""
    asked = case.pk, leg.pk if leg else None, show.pk if show else None
    return kept(("judged", *asked), at, lambda: _judged_case(*asked, at))


def _judged_case(
    case_id: int, leg_id: int | None, show_id: int | None, at: datetime
) -> tuple[facts.Case, list[Finding], Load]:
    """Reads leg and show itself: what was read of them before is not known to have been read for this."""
    leg = Leg.objects.select_related(*LEG_WORDS).get(pk=leg_id) if leg_id else None
    show = Show.objects.get(pk=show_id) if show_id else None
    load = _leg_load(leg, at, cases_on(leg) | {case_id}) if leg else load_of([case_id], at, show=show)
    mine = next(one for one in load.cases if one.id == case_id)
    return mine, [one for one in judge(load) if one.subject == mine.subject], load


def case_facts(case: Item, at: datetime, show: Show | None = None) -> facts.Case:
    """One case as the rules read it: masses, seal, what is missing, what was looked at."""
    return cases_of([case.pk], at, show)[0]


def findings_for_leg(leg: Leg, at: datetime, *, as_loaded: bool = False) -> list[Finding]:
    """What the rules say of a leg and of every case on it: as planned, or as the vehicle stands loaded."""
    on_board = loaded_on(leg)
    together = on_board if as_loaded and leg.vehicle_id is not None else cases_on(leg) | on_board
    said = judge(_leg_load(leg, at, together))
    return [one for one in said if one.subject.split(":")[0] in {"case", "leg"}]


def judged_leg(leg: Leg, at: datetime) -> tuple[Load, list[Finding]]:
    """A leg with all that is planned for it or on board, and what the rules say of it and of those cases."""
    load = _leg_load(leg, at, cases_on(leg) | loaded_on(leg))
    return load, [one for one in judge(load) if one.subject.split(":")[0] in {"case", "leg"}]


def findings_for_show(show: Show, at: datetime) -> list[Finding]:
    """What the rules say of a show: of each coming leg and its cases, of its spares, and of its border lists."""
    return list(kept(("findings", show.pk), at, lambda: _findings_for_show(show.pk, at)))


def _findings_for_show(show_id: int, at: datetime) -> list[Finding]:
    show = Show.objects.get(pk=show_id)
    coming = list(Leg.objects.filter(consignment__show=show).select_related(*LEG_WORDS))
    planned, loaded, borders = cases_on_each(coming), loaded_on_each(coming), _borders_on(coming)
    on_legs = {leg: planned[leg.pk] | loaded[leg.pk] for leg in coming}
    everything = set(ConsignmentCase.objects.filter(consignment__show=show).values_list("case_id", flat=True))
    yard = yard_of(everything.union(*on_legs.values()), at, show, going=coming)
    said = [one for leg, ids in on_legs.items() for one in judge(yard.load(ids, leg, borders.get(leg.pk)))]
    said = [one for one in said if one.subject.startswith(("case:", "leg:"))]
    said += [one for one in judge(yard.load(everything)) if one.subject.startswith("show:")]
    found = {one.subject + one.digest: one for one in reversed(said)}
    for border in show.border_lists.all():
        for one in findings_for_border(border, at):
            found.setdefault(one.subject + one.digest, one)
    return sorted(found.values(), key=order)


def findings_for_border(border: BorderList, at: datetime) -> list[Finding]:
    """What the rules say of the lines of a border list."""
    return [one for one in judge(load_of([], at, border=border)) if one.subject == f"border:{border.pk}"]


def blocks_for_case(case: Item, at: datetime, show: Show | None = None) -> list[Finding]:
    """What stands in the way of closing a case and is not waived."""
    return [one.finding for one in standing(findings_for_case(case, at, show)) if one.blocks]


def blocks_for_leg(leg: Leg, at: datetime, *, as_loaded: bool = True) -> list[Finding]:
    """What stands in the way of departing and is not waived."""
    return [one.finding for one in standing(findings_for_leg(leg, at, as_loaded=as_loaded)) if one.blocks]
