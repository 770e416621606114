"""All that one leg's page says: may it leave, what stands in the way, what it weighs against what may be planned."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from inventory.models import Item
from shipping.boards import Phase, phase_of
from shipping.case_sheet import Asked, asked_of
from shipping.models import Leg
from shipping.packing import facts
from shipping.packing.rules import limit_in
from shipping.packing.rules.registry import number_words
from shipping.piles import Piles, piles
from shipping.planning import LEG_WORDS, judged_leg, other_day
from shipping.sealing import in_the_way, should_have_kept
from shipping.tables.cases import address
from shipping.verdicts import Verdicts, verdicts
from shipping.waiving import Judged, standing

NEXT_LEGS = 3  # of a vehicle, judged whole on its page


@dataclass(frozen=True, slots=True)
class Payload:
    """What a leg's vehicle carries against what may be planned for, in kg; `most` None: no payload is entered."""

    cases_kg: Decimal
    crew_kg: Decimal
    share_pct: Decimal
    most_kg: Decimal | None
    unweighed: tuple[str, ...]
    leave: str = ""

    @property
    def over_kg(self) -> Decimal:
        return Decimal(0) if self.most_kg is None else max(Decimal(0), self.cases_kg + self.crew_kg - self.most_kg)

    @property
    def sentence(self) -> str:
        carried = f"{number_words(self.cases_kg)} kg of cases and {number_words(self.crew_kg)} kg of crew"
        if self.unweighed:
            carried = f"At least {carried}"
        if self.most_kg is None:
            return f"{carried}. No payload is entered: nobody can say what is left."
        most = f"{number_words(self.most_kg)} kg, {number_words(self.share_pct)} % of the payload entered"
        if self.over_kg:
            return f"{carried}: {number_words(self.over_kg)} kg over {most}."
        left = number_words(self.most_kg - self.cases_kg - self.crew_kg)
        return f"{carried}: {left} kg below {most}."


@dataclass(frozen=True, slots=True)
class LegSheet:
    leg: Leg
    phase: Phase
    word: str
    meaning: str
    sentence: str
    piles: Piles
    asked: tuple[Asked, ...]
    of_cases: Verdicts
    payload: Payload | None
    cases: tuple[tuple[facts.Case, str], ...]
    limits_of: date | None = None

    @property
    def name(self) -> str:
        return f"{self.leg.from_place} to {self.leg.to_place}"


def sheet_of_leg(leg: Leg, at: datetime) -> LegSheet:
    """Judge a leg with everything planned for it or on board, and lay out what its page says. Worst first."""
    load, said = judged_leg(leg, at)
    judged = standing(said)
    mine = [one for one in judged if one.finding.subject.startswith("leg:")]
    blocks = sum(one.blocks for one in judged)
    phase = phase_of(leg, at)
    return LegSheet(
        leg, phase, *_verdict(phase, blocks, bool(load.cases)),
        piles=piles(mine), asked=asked_of([one.finding for one in mine]),
        of_cases=verdicts(_of_cases(judged)), payload=payload_of(load), cases=_with_addresses(load.cases),
        limits_of=other_day(load, at),
    )  # fmt: skip


def _with_addresses(cases: Sequence[facts.Case]) -> tuple[tuple[facts.Case, str], ...]:
    items = Item.objects.filter(pk__in=[case.id for case in cases]).prefetch_related("labels")
    pages = {item.pk: address(item) for item in items}
    return tuple((case, pages[case.id]) for case in cases)


def _of_cases(judged: Sequence[Judged]) -> list[Judged]:
    return [one for one in judged if one.finding.subject.startswith("case:")]


def _verdict(phase: Phase, blocks: int, has_cases: bool) -> tuple[str, str, str]:
    """The word, its meaning and the sentence that lead the page."""
    if not has_cases:
        return "EMPTY", "quiet", "No case travels on it yet. Add cases to its consignment on the show's page."
    if phase != Phase.LOADING:
        word, so = ("ARRIVED", "It has arrived.") if phase == Phase.ARRIVED else ("ON THE ROAD", "It has left.")
        return word, "stop" if blocks else "settled", should_have_kept(blocks, "here") if blocks else so
    if blocks:
        return "NOT YET", "stop", in_the_way(blocks, "leaving")
    return "NO BLOCK", "settled", f"{in_the_way(0, 'leaving')} The driver and the person in charge decide."


def payload_of(load: facts.Load) -> Payload | None:
    """The masses against the payload entered, by the limits of the day. None for a leg without a vehicle."""
    vehicle = load.leg.vehicle if load.leg else None
    if vehicle is None:
        return None
    known = {case.number: case.least_kg for case in load.cases}
    share, crew = limit_in(load, "within-payload", "share"), limit_in(load, "within-payload", "crew_kg")
    most = None if vehicle.payload_kg is None else vehicle.payload_kg * share
    total = sum(known.values(), Decimal(0))
    over = Decimal(0) if most is None else total + crew - most
    unweighed = tuple(case.number for case in load.cases if case.gross_kg is None)
    return Payload(total, crew, share * 100, most, unweighed, _enough_to_leave(known, over) if over > 0 else "")


def _enough_to_leave(masses: dict[str, Decimal], over: Decimal) -> str:
    """The lightest one case that would bring it within, else the fewest of the heaviest."""
    alone = [(mass, number) for number, mass in masses.items() if mass >= over]
    if alone:
        mass, number = min(alone)
        return f"Leaving {number} ({number_words(mass)} kg) would do by mass; or hire a larger vehicle."
    left, names = over, []
    for number, mass in sorted(masses.items(), key=lambda pair: (-pair[1], pair[0])):
        if left <= 0:
            break
        names.append(number)
        left -= mass
    if left > 0:
        return "Even empty it would be over: the crew alone is more than may be planned for."
    return f"At least {len(names)} cases must stay, for example {', '.join(names)}; or hire a larger vehicle."


@dataclass(frozen=True, slots=True)
class VehicleSheet:
    """A vehicle with its next legs, each judged whole, and how many more there are."""

    vehicle: Item
    legs: tuple[LegSheet, ...]
    more: int
    aboard: tuple[Item, ...]

    @property
    def meaning(self) -> str:
        return "stop" if any(one.meaning == "stop" for one in self.legs) else "settled" if self.legs else "quiet"

    @property
    def word(self) -> str:
        return {"stop": "NOT YET", "settled": "NO BLOCK", "quiet": "NO LEG"}[self.meaning]

    @property
    def sentence(self) -> str:
        if not self.legs:
            return "No coming leg names it. Give it one on a show's page."
        first = self.legs[0]
        return f"Next: {first.name}, {first.leg.consignment.show}. {first.sentence}"


def sheet_of_vehicle(vehicle: Item, at: datetime) -> VehicleSheet:
    """What a vehicle carries now and on its next legs that have not arrived."""
    legs = Leg.objects.filter(
        vehicle=vehicle, consignment__show__cancelled_at=None, consignment__show__back_at__gte=at
    ).select_related(*LEG_WORDS)
    coming = [leg for leg in legs.order_by("departs_at", "pk") if phase_of(leg, at) != Phase.ARRIVED]
    held = Item.objects.filter(holding__place__item=vehicle).with_words().order_by("number", "pk")
    sheets = tuple(sheet_of_leg(leg, at) for leg in coming[:NEXT_LEGS])
    return VehicleSheet(vehicle, sheets, max(0, len(coming) - NEXT_LEGS), tuple(held))
