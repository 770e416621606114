"""What another question changes: its plan beside the plan of the show as it is booked."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from inventory.models import Item
from inventory.unchanged import kept
from shipping import solving
from shipping.desk import Desk
from shipping.models import PackPlan, Show
from shipping.packing.comparing import Comparison, Side, compare
from shipping.packing.kept import plan_of
from shipping.packing.planner.vans import gross_g
from shipping.packing.reading import job_from
from shipping.packing.wanted import Job, Plan
from shipping.planning.desk import assigned, called, wanted
from shipping.planning.going import Question


@dataclass(frozen=True, slots=True)
class Changes:
    """`told` against the plan of `base`, which may have been kept earlier or made now."""

    told: Comparison
    base: PackPlan | None


def changes(desk: Desk) -> Changes | None:
    """The difference a question makes; None for the plain one, and where either plan may not be shown."""
    if desk.question.is_plain or not desk.shown:
        return None
    plain = Question(usual_first=desk.question.usual_first)
    newest = PackPlan.objects.filter(show=desk.show, question=plain.as_data()).order_by("-made_at", "-pk").first()
    before = _recorded(newest) if newest else _made(desk.show, plain, desk.at)
    after = _side(desk.job, desk.plan, desk.items)
    if before is None:
        return None
    changed = [item for item, case in before.cases.items() if after.cases.get(item) != case]
    names = {item.pk: str(item.type) for item in Item.objects.filter(pk__in=changed).select_related("type")}
    return Changes(compare(before, after, names), newest)


def _side(job: Job, plan: Plan, cases: dict[int, str]) -> Side:
    gross = sum(gross_g(job, case, held) for case, held in plan.contents.items())
    return Side(cases, gross, sum(one.count for one in plan.left), plan.vans)


def _recorded(told: PackPlan) -> Side:
    """From the record alone: the book may have changed since."""
    names = {item.pk: called(item) for item in Item.objects.filter(pk__in=set(told.items.values())).with_words()}
    cases = {int(item): names[case] for item, case in told.items.items()}
    return _side(job_from(told.load), plan_of(told.plan), cases)


def _made(show: Show, plain: Question, at: datetime) -> Side | None:
    """The plain plan made now: the same for one question after another, as long as the book says the same."""
    return kept(("plain plan", show.pk, plain), at, lambda: _made_now(Show.objects.get(pk=show.pk), plain, at))


def _made_now(show: Show, plain: Question, at: datetime) -> Side | None:
    load = wanted(show, plain, at)
    plan = solving.first_plan(show, load)
    return None if plan.breaches else _side(load.job, replace(plan, breaches=()), assigned(load, plan.contents))
