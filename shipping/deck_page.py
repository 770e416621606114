"""All that the floor page of a leg says: the plan, its record and search, and what was accepted."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.utils.safestring import SafeString

from inventory.drawings.floor import floor_lines, floor_plan
from shipping import deck_solving, decks, solving
from shipping.decks import PLAIN, NoPlan, floor_of
from shipping.documents.around import Around
from shipping.models import DeckPlan, Leg, PlanRun
from shipping.packing.floor.axles import BridgeGroup, Stage, bridge_table
from shipping.packing.floor.deck import Cargo, FloorPlan, Freight
from shipping.packing.floor.kept import digest_of, plan_of
from shipping.packing.floor.reasons import conflict_words
from shipping.packing.floor.restraint import CAUTION, lashing_words
from shipping.packing.floor.telling import metres, offset_words, stages_of
from shipping.planning.drive import DeckQuestion


@dataclass(frozen=True, slots=True)
class Line:
    """One case where it stands. `lift` says how many people to think of, for one that is lifted onto another."""

    place: str
    cargo: Cargo
    under: str
    stop: str
    kg: Decimal | None
    lift: str


@dataclass(frozen=True)
class DeckPage:
    """A drive of a vehicle with its floor plan. `kept` is None where the plan was only made for this page, at once;
    `accepted` is what somebody last said to load by."""

    legs: tuple[Leg, ...]
    freight: Freight
    plan: FloorPlan
    kept: DeckPlan | None
    accepted: DeckPlan | None
    run: PlanRun | None
    question: DeckQuestion
    around: Around
    at: datetime

    @property
    def stale(self) -> bool:
        """Was another list, were other masses or limits accepted than the book has now?"""
        mine = digest_of(self.freight)
        return self.question.is_plain and self.accepted is not None and self.accepted.input_digest != mine

    @property
    def is_accepted(self) -> bool:
        return self.kept is not None and self.accepted == self.kept

    @property
    def running(self) -> bool:
        return self.run is not None and self.run.ended_at is None and not solving.is_lost(self.run, self.at)

    @property
    def drawing(self) -> SafeString:
        return floor_plan(floor_of(self.freight, self.plan))

    @property
    def below(self) -> list[str]:
        return floor_lines(floor_of(self.freight, self.plan))

    @property
    def stages(self) -> list[tuple[Stage, str]]:
        return [(one, offset_words(one.offset_mm)) for one in stages_of(self.freight, self.plan)]

    @property
    def left(self) -> list[tuple[str, int, str]]:
        """(name, count, reason) of what stays behind."""
        return [(self.freight.by_id[one.gear].name, one.count, one.reason) for one in self.plan.left]

    @property
    def lashing(self) -> str:
        """Advice for the load as it departs."""
        mass = sum(self.freight.by_id[one.cargo].mass_g or 0 for one in self.plan.spots)
        return f"{lashing_words(mass)} {CAUTION}" if mass else ""

    @property
    def bridges(self) -> list[BridgeGroup]:
        return bridge_table(self.freight.deck, stages_of(self.freight, self.plan))

    @property
    def conflict(self) -> str:
        return conflict_words(self.freight, self.plan.conflict)

    @property
    def left_cases(self) -> int:
        return sum(one.count for one in self.plan.left)

    @property
    def has_stops(self) -> bool:
        return len(self.freight.deck.stops) > 1

    @property
    def rows(self) -> int:
        return max((one.row for one in self.plan.spots), default=0)

    @property
    def lines(self) -> list[Line]:
        """The cases in the order of loading, each with what it stands on."""
        found, below = [], ""
        for spot in sorted(self.plan.spots, key=lambda one: (one.row, one.place, one.tier)):
            cargo = self.freight.by_id[spot.cargo]
            kg = None if cargo.mass_g is None else Decimal(cargo.mass_g) / 1000
            under = below if spot.tier > 1 else ""
            lift = self.around.lift(kg).words if under else ""
            found.append(Line(spot.label, cargo, under, self.freight.deck.stops[cargo.stop - 1], kg, lift))
            below = cargo.name
        return found

    @property
    def loading_metres(self) -> float:
        return metres(self.plan)


def page_of(leg: Leg, at: datetime, question: DeckQuestion = PLAIN) -> DeckPage:
    """The newest plan kept for this freight, else a first one made at once. Raises NoDeck, NoPlan."""
    around = Around([leg], at)
    legs = decks.together(leg, around)
    freight = decks.freight_of(legs, around, question)
    digest = digest_of(freight)
    kept = deck_solving.newest(legs, digest)
    plan = plan_of(kept.plan) if kept else deck_solving.first_plan(legs, freight)
    if plan.breaches:
        raise NoPlan(f"No plan passed the check, so none is shown: {' '.join(plan.breaches[:3])}")
    run = deck_solving.last_run(legs, digest)
    return DeckPage(tuple(legs), freight, plan, kept, around.deck_plan(legs), run, question, around, at)
