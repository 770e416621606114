"""All that the packing desk of a show says: the plan, how good it is, what is elsewhere and why, what stays."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from functools import cached_property
from typing import Any

from django.utils.safestring import SafeString

from inventory.drawings.section import CaseSection, RackPiece, SlotPiece, case_section, slot_view
from inventory.drawings.trunk import TrunkPiece, trunk_view
from inventory.enumerating import all_of
from inventory.models import Item, SystemPart
from inventory.templatetags.words import kg_of_grams
from shipping import solving
from shipping.models import Leg, PackPlan, PlanAcceptance, PlanRun, Show
from shipping.packing.kept import plan_of
from shipping.packing.overload import Group, Overload, overload
from shipping.packing.planner.vans import gross_g
from shipping.packing.wanted import Content, Job, Left, Plan, Shell, moves
from shipping.packing.whys import differences
from shipping.planning.desk import Wanted, assigned, payloads, usual, wanted
from shipping.planning.going import Question, vehicles_to_choose
from shipping.planning.pieces import homes


@dataclass(frozen=True, slots=True)
class Difference:
    """So many things that are not in their usual case, and why."""

    name: str
    count: int
    usual: str
    now: str
    why: str


@dataclass(frozen=True, slots=True)
class CasePlan:
    """One case of the plan: what it holds, what it weighs then, what it rides on, and whether the book agrees."""

    name: str
    pk: int
    lines: tuple[tuple[int, str], ...]
    gross_g: int
    max_gross_g: int
    vehicle: str
    taken: bool
    changed: bool
    drawing: SafeString | str


@dataclass(frozen=True, slots=True)
class VanPlan:
    name: str
    cases: tuple[str, ...]
    load_g: int
    payload_g: int


@dataclass(frozen=True, slots=True)
class Stays:
    """What the plan does not take: a whole case that finds no vehicle, or things that find no case."""

    cases: tuple[tuple[str, int], ...] = ()
    things: tuple[tuple[str, int, str], ...] = ()

    @property
    def cases_g(self) -> int:
        return sum(mass for _, mass in self.cases)


@dataclass(frozen=True)
class Desk:
    """One question of one show with its plan. `kept` is its record; None: it was only made for this page."""

    show: Show
    question: Question
    load: Wanted
    plan: Plan
    kept: PackPlan | None
    run: PlanRun | None
    at: datetime

    @property
    def job(self) -> Job:
        return self.load.job

    @cached_property
    def digest(self) -> str:
        return self.load.digest

    @property
    def shown(self) -> bool:
        """A plan that failed the check is never shown."""
        return bool(self.job.gear) and self.plan.breaches == ()

    @property
    def running(self) -> bool:
        return self.run is not None and self.run.ended_at is None and not self.lost

    @property
    def lost(self) -> bool:
        return self.run is not None and (solving.is_lost(self.run, self.at) or self.run.ending == PlanRun.Ending.LOST)

    @cached_property
    def usual(self) -> dict[str, Content]:
        return usual(self.load)

    @cached_property
    def items(self) -> dict[int, str]:
        return assigned(self.load, self.plan.contents)

    @cached_property
    def over(self) -> Overload:
        """As usually packed, against what the vehicles may carry; ways out are looked for only where it is too much."""
        found = overload(self.job, self.usual)
        if not found.over_g:
            return found
        return overload(self.job, self.usual, self.groups, self.other_vehicles, self.needed)

    @cached_property
    def groups(self) -> tuple[Group, ...]:
        """The cases of each system, and of the pool."""
        found: dict[str, list[str]] = defaultdict(list)
        rows = Item.objects.filter(pk__in=self.load.cases.values()).values_list("pk", "home_system__name")
        names = {pk: name for name, pk in self.load.cases.items()}
        for pk, system in rows.order_by("pk"):
            found[system or "the pool"].append(names[pk])
        return tuple(Group(name, tuple(cases)) for name, cases in sorted(found.items()))

    @cached_property
    def needed(self) -> frozenset[str]:
        """Cases in which a show-stopper lives."""
        parts = SystemPart.objects.filter(show_stopper=True, item__home_case__in=self.load.cases.values())
        names = {pk: name for name, pk in self.load.cases.items()}
        return frozenset(names[pk] for pk in parts.values_list("item__home_case", flat=True) if pk is not None)

    @cached_property
    def other_vehicles(self) -> dict[str, int]:
        others = payloads(vehicles_to_choose(), self.load.limits)
        return {name: most for name, most in others.items() if name not in self.vans}

    @property
    def vans(self) -> set[str]:
        return set(self.load.vehicles)

    @cached_property
    def differences(self) -> list[Difference]:
        return [
            Difference(self.job.kinds[one.gear].name, one.count, one.usual, one.now, why)
            for one, why in differences(self.job, self.plan.contents)
        ]

    @cached_property
    def moves(self) -> int:
        return moves(self.job, self.plan.contents)

    @cached_property
    def gross_g(self) -> int:
        return sum(gross_g(self.job, case, held) for case, held in self.plan.contents.items())

    @cached_property
    def stays(self) -> Stays:
        """Cases that stay whole are named as cases; what is left of others, thing by thing, each with why."""
        behind = {one.gear: one for one in self.plan.left}
        carried = self.job.for_vans(self.usual) if self.job.vans else {}
        whole = [case for case in carried if case not in self.plan.contents and self._all_left(case, behind)]
        in_whole = {ident for case in whole for ident, _ in self.usual[case]}
        cases = tuple((case, gross_g(self.job, case, self.usual[case])) for case in whole)
        things = tuple(
            (self.job.kinds[one.gear].name, one.count, one.reason) for one in self.plan.left if one.gear not in in_whole
        )
        return Stays(cases, things)

    @cached_property
    def flights(self) -> list[Leg]:
        """The flights on whose pages a decision is recorded, where something stays behind."""
        if self.job.air is None or not self.stays.things:
            return []
        flown = Leg.objects.filter(pk__in=self.load.goes.legs, mode="air").select_related("from_place", "to_place")
        return list(flown.order_by("departs_at", "pk"))

    @cached_property
    def flown(self) -> list[str]:
        """Cases of the plan that fly, and so go on none of its vehicles."""
        return sorted(set(self.plan.contents) - set(self.job.for_vans(self.plan.contents)))

    @property
    def aboard_g(self) -> int:
        return sum(van.load_g for van in self.vehicles)

    def _all_left(self, case: str, behind: Mapping[str, Left]) -> bool:
        return all(ident in behind and behind[ident].count >= count for ident, count in self.usual[case])

    @cached_property
    def vehicles(self) -> list[VanPlan]:
        found = []
        for van in self.job.vans:
            cases = tuple(sorted(case for case, on in self.plan.vans.items() if on == van.id))
            load = sum(gross_g(self.job, case, self.plan.contents[case]) for case in cases)
            found.append(VanPlan(van.name, cases, load, van.payload_g))
        return found

    @cached_property
    def cases(self) -> list[CasePlan]:
        """Those with something that does not usually live there first."""
        now = homes(list(self.items), self.show)
        moved = {one.now for one in self.differences}
        found = [self._case(name, held, now, moved) for name, held in self.plan.contents.items()]
        return sorted(found, key=lambda one: (not one.changed, one.name))

    def _case(self, name: str, held: Content, now: Mapping[int, tuple[int, str]], moved: set[str]) -> CasePlan:
        pk = self.load.cases[name]
        mine = [item for item, case in self.items.items() if case == name]
        shell = self.job.cases[name]
        return CasePlan(
            name, pk, self._by_name(held),
            gross_g(self.job, name, held), shell.max_gross_g, self.plan.vans.get(name, ""),
            all(now.get(item, (None, ""))[0] == pk for item in mine), name in moved,
            drawing(self.job, shell, held, self.plan),
        )  # fmt: skip

    def _by_name(self, held: Content) -> tuple[tuple[int, str], ...]:
        """How many of each; kinds that only the planner tells apart are one line to a person."""
        many: Counter[str] = Counter()
        for ident, count in held:
            many[self.job.kinds[ident].name] += count
        return tuple((count, name) for name, count in many.items())

    @cached_property
    def accepted(self) -> PlanAcceptance | None:
        """The newest word of a person for this very plan."""
        return self.kept.acceptances.first() if self.kept else None

    @property
    def all_taken(self) -> bool:
        """Does the book plan every thing as this plan does?"""
        return all(one.taken for one in self.cases)

    @cached_property
    def otherwise(self) -> list[tuple[str, str]]:
        """Cases that are consigned on another vehicle than this plan has them on, or on none, and which."""
        names = {pk: name for name, pk in self.load.vehicles.items()}
        rows = Leg.objects.filter(pk__in=self.load.goes.legs, consignment__cases__case__in=self.load.cases.values())
        found: dict[int, set[str]] = defaultdict(set)
        told = "consignment__cases__case", "vehicle", "vehicle__number", "mode"
        for case, vehicle, called, mode in rows.values_list(*told):
            on = names.get(vehicle) or called or "another vehicle"
            found[case].add(f"by {mode}" if vehicle is None else f"on {on}")
        planned = {name: f"on {on}" for name, on in self.plan.vans.items() if found.get(self.load.cases[name])}
        return [
            (name, " and ".join(sorted(found[self.load.cases[name]])))
            for name, on in sorted(planned.items())
            if on not in found[self.load.cases[name]]
        ]

    @cached_property
    def spared(self) -> list[str]:
        """Usual cases that stay empty by this plan, and are not left behind with what is in them."""
        staying = {case for case, _ in self.stays.cases}
        return sorted(set(self.usual) - set(self.plan.contents) - staying)


def desk_of(show: Show, question: Question, at: datetime) -> Desk:
    """The newest plan kept for this input, or a first one made now."""
    load = wanted(show, question, at)
    digest = load.digest
    kept = solving.newest(show, digest)
    plan = plan_of(kept.plan) if kept else solving.first_plan(show, load)
    return Desk(show, question, load, plan, kept, solving.last_run(show, digest), at)


def verdict(desk: Desk) -> tuple[str, str, str]:
    """The meaning, the word and the sentence that lead the page."""
    if not desk.job.gear:
        return "quiet", "NOTHING TO PACK", "Nothing is booked that could be packed. Book a system on the show's page."
    if desk.over.over_g and (desk.stays.cases or not desk.shown):
        return "stop", "TOO MUCH", _too_much(desk)
    if not desk.shown:
        return "stop", "NO PLAN", "No plan passed the check, so none is shown. Below stands what each would break."
    if desk.stays.cases:
        return "stop", "NOT ALL", f"{len(desk.stays.cases)} cases find no vehicle, though their mass would be within."
    if desk.stays.things:
        return "stop", "NOT ALL", _no_case(desk.stays.things)
    return "settled", "ALL GOES", _all_goes(desk)


def _too_much(desk: Desk) -> str:
    vans, over = " and ".join(van.name for van in desk.job.vans), desk.over
    return (
        f"The cases weigh {kg_of_grams(over.total_g)} as usually packed; {kg_of_grams(over.allowed_g)} may be "
        f"planned onto {vans}: {kg_of_grams(over.over_g)} too much."
    )


def _no_case(things: Sequence[tuple[str, int, str]]) -> str:
    """What finds no case, by name while those are few."""
    if len(things) > 3:
        return f"{sum(many for _, many, _ in things)} things find no case. Each is named below."
    names = [name if many == 1 else f"{many} {name}" for name, many, _ in things]
    alone = len(things) == 1 and things[0][1] == 1
    return f"{all_of(names)} {'finds' if alone else 'find'} no case: the reason stands below."


def _all_goes(desk: Desk) -> str:
    many = len(desk.plan.contents)
    cases = f"{many} {'case carries' if many == 1 else 'cases carry'} everything, {kg_of_grams(desk.gross_g)}"
    away = f"{desk.moves} out of the usual case" if desk.moves else "all in the usual cases"
    spared = f"; {len(desk.spared)} fewer than usual" if desk.spared else ""
    return f"{cases}, {away}{spared}."


def drawing(job: Job, shell: Shell, held: Content, plan: Plan) -> SafeString | str:
    """A rack from the side, heaviest lowest; slots from above; a trunk as it was laid out; else nothing."""
    lines = [(job.kinds[ident], count) for ident, count in held]
    if shell.units:
        pieces = tuple(
            RackPiece(gear.name, gear.units, None, Decimal(gear.mass_g) / 1000, gear.depth_mm, bool(gear.convoy))
            for gear, count in lines
            if gear.units
            for _ in range(count)
        )
        return case_section(CaseSection(shell.name, shell.units, shell.depth_mm or None, pieces)) if pieces else ""
    if shell.slots:
        names = [gear.name for gear, count in lines for _ in range(gear.slots * count)]
        filled = [SlotPiece(str(at + 1), names[at] if at < len(names) else "") for at in range(shell.slots)]
        return slot_view(shell.name, [replace(one, state="in box" if one.words else "empty") for one in filled])
    laid = plan.layouts.get(shell.id)
    if laid and shell.inside_mm:
        things = [TrunkPiece(job.kinds[one.gear].name, one.at_mm, one.size_mm) for one in laid]
        return trunk_view(shell.name, shell.inside_mm, things)
    return ""


def progress(run: PlanRun | None, kept: PackPlan | None, at: datetime) -> dict[str, Any]:
    """What a page asks while a search runs: does it, how far is it, and is there a newer plan to show."""
    running = run is not None and run.ended_at is None and not solving.is_lost(run, at)
    return {"running": running, "plan": kept.pk if kept else None, "words": progress_words(run, at)}


def progress_words(run: PlanRun | None, at: datetime) -> str:
    if run is None:
        return ""
    if solving.is_lost(run, at) or run.ending == PlanRun.Ending.LOST:
        return "The search stopped unfinished: its worker went away. What it had found is kept. Search again."
    if run.ended_at is None:
        gone = max(0, int((at - run.started_at).total_seconds()))
        best = f" Last settled: {run.goal} {run.value}, none below {run.bound}." if run.goal else ""
        wish = f" {run.stop_asked_by} asked it to stop." if run.stop_asked_by else ""
        return f"Searching for a better plan, {gone} of at most {run.seconds} s.{best}{wish}"
    if run.ending == PlanRun.Ending.FAILED:
        return run.words
    spent = int((run.ended_at - run.started_at).total_seconds())
    stopped = f"was stopped by {run.stop_asked_by}" if run.ending == PlanRun.Ending.STOPPED else "has ended"
    return f"The search {stopped} after {spent} s."
