"""Floor plans of a vehicle: the first at once, better ones from the search that plans of a show use too, and accepted.

What is asked beside the leg itself is a question: another vehicle, cases that stay, another order of stops.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from inventory.ledger import Witness
from shipping import decks
from shipping.decks import NoDeck
from shipping.documents.around import Around
from shipping.models import DeckAcceptance, DeckPlan, Leg, PlanRun
from shipping.packing.floor.deck import FloorPlan, Freight
from shipping.packing.floor.kept import as_file, digest_of, plan_data, plan_of
from shipping.packing.floor.planner import FloorPlanner, at_once
from shipping.planning.drive import DeckQuestion
from shipping.solving import BUDGET, Search, begun, slices


class DeckRefusal(ValueError):
    """Why a floor plan cannot be taken as it stands. Carries a sentence to show."""


def newest(legs: Sequence[Leg], digest: str) -> DeckPlan | None:
    """The last floor plan kept for exactly this freight."""
    return DeckPlan.objects.filter(leg__in=legs, input_digest=digest).order_by("-made_at", "-pk").first()


def last_run(legs: Sequence[Leg], digest: str) -> PlanRun | None:
    return PlanRun.objects.filter(leg__in=legs, input_digest=digest).order_by("-started_at").first()


def first_plan(legs: Sequence[Leg], freight: Freight) -> FloorPlan:
    """A complete plan without a search: by hand rules, or the last one of this drive carried over if that is better."""
    last = DeckPlan.objects.filter(leg__in=legs).order_by("-made_at", "-pk").first()
    return at_once(freight, plan_of(last.plan) if last else None)


def rank(plan: FloorPlan) -> tuple[object, ...]:
    """Smaller is better: what stays, the first-off group, the goals in order, then proof and gap."""
    left = sum(one.count for one in plan.left)
    return left, not plan.first_off_kept, *(one.value for one in plan.levels), not plan.proven, sum(
        one.gap for one in plan.levels
    )  # fmt: skip


def keep(
    leg: Leg, question: DeckQuestion, freight: Freight, plan: FloorPlan, *, by: str, at: datetime,
    run: PlanRun | None = None,
) -> DeckPlan:  # fmt: skip
    """Add a plan to the record. One that failed the check, or was not checked, is refused by the database."""
    return DeckPlan.objects.create(
        leg=leg, run=run.pk if run else None, question=question.as_data(), freight=as_file(freight),
        input_digest=digest_of(freight), plan=plan_data(plan), left=sum(one.count for one in plan.left),
        used_mm=plan.used_mm, proven=plan.proven, check_passed=plan.breaches == (), made_at=at, made_by=by,
    )  # fmt: skip


def start(
    leg: Leg, question: DeckQuestion, *, by: str, at: datetime, seconds: int = BUDGET, seed: int = 0
) -> PlanRun:  # fmt: skip
    """Begin a search, or give back the one that runs for the same freight. Raises NoDeck, SearchRefusal."""
    around = Around([leg], at)
    legs = decks.together(leg, around)
    freight = decks.freight_of(legs, around, question)
    digest = digest_of(freight)
    asked = PlanRun(
        show=leg.consignment.show, leg=leg, question=question.as_data(), input_digest=digest, seconds=seconds,
        seed=seed, started_at=at, started_by=by, beat_at=at,
    )  # fmt: skip

    def first(run: PlanRun) -> None:
        plan = first_plan(legs, freight)
        if newest(legs, digest) is None and plan.breaches == ():
            keep(leg, question, freight, plan, by=by, at=at, run=run)

    return begun(asked, first)


class DeckSearch(Search):
    """One search for a floor plan, in its own process."""

    def _passes(self) -> tuple[str, str]:
        assert self.run.leg is not None
        question, around = DeckQuestion.from_data(self.run.question), Around([self.run.leg], self.clock())
        legs = decks.together(self.run.leg, around)
        try:
            freight = decks.freight_of(legs, around, question)
        except NoDeck as why:
            return PlanRun.Ending.FAILED, str(why)
        if digest_of(freight) != self.run.input_digest:
            return PlanRun.Ending.FAILED, "The book changed while this was asked. Search again."
        self._better(legs, question, freight)
        return self.ended()

    def _better(self, legs: Sequence[Leg], question: DeckQuestion, freight: Freight) -> None:
        kept = newest(legs, self.run.input_digest)
        best = plan_of(kept.plan) if kept else None
        for seconds in slices(self.run.seconds):
            if self.stop.is_set or (best is not None and best.proven):
                break
            warm = best or first_plan(legs, freight)
            found = FloorPlanner(freight, self.until(seconds), self.stop, self.heard, self.run.seed, warm).run()
            if found.breaches == () and (best is None or rank(found) < rank(best)):
                best, at = found, self.clock()
                keep(legs[0], question, freight, found, by=self.run.started_by, at=at, run=self.run)


@transaction.atomic
def accept(leg: Leg, plan_id: int, *, by: Witness, at: datetime) -> DeckPlan:
    """Take a kept plan as the one to load by. Refused where the book has changed since it was made."""
    around = Around([leg], at)
    legs = decks.together(leg, around)
    kept: DeckPlan | None = DeckPlan.objects.filter(leg__in=legs, pk=plan_id).first()
    if kept is None:
        raise DeckRefusal("That plan is not one of this drive any more. Look at the page again.")
    question = DeckQuestion.from_data(kept.question)
    if not question.is_plain:
        raise DeckRefusal(
            "This plan answers a what-if. Change the leg, its cases or its times so that the book says the same, "
            "then accept the plan that this page shows."
        )
    if digest_of(decks.freight_of(legs, around)) != kept.input_digest:
        raise DeckRefusal("Cases, masses or limits changed since this plan was made. Look at the new one, then accept.")
    DeckAcceptance.objects.create(plan=kept, accepted_at=at, accepted_by=by.name, role=by.role)
    return kept
