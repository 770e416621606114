"""A person takes a plan, whole or for some of its cases, as what goes where on the show.

It becomes the show's pack lines, which case pages, case lists and findings are set against. It places nothing: what is
where stands in the ledger, and packing is still to be done.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from inventory.ledger import Witness
from inventory.models import Item
from shipping.models import PackLine, PackPlan, PlanAcceptance, Show
from shipping.packing.kept import plan_of
from shipping.packing.whys import differences
from shipping.planning.cases import seals_of
from shipping.planning.desk import Wanted, wanted
from shipping.planning.going import Question


class PlanRefusal(ValueError):
    """Why a plan cannot be taken as it stands. Carries a sentence to show."""


@dataclass(frozen=True, slots=True)
class Taken:
    """What came of it: how many things are now planned elsewhere than at home, and sealed cases that it concerns."""

    cases: tuple[str, ...]
    lines: int
    sealed: tuple[str, ...]


@transaction.atomic
def accept(show: Show, plan_id: int, cases: Collection[int] | None, *, by: Witness, at: datetime) -> Taken:
    """Take the plan for these cases, or for all. Refused where the book has changed since it was made."""
    Show.objects.select_for_update().get(pk=show.pk)  # two people taking two plans at once: one after the other
    kept = PackPlan.objects.filter(show=show, pk=plan_id).first()
    if kept is None or show.cancelled_at:
        raise PlanRefusal("That plan is not one of this show any more, or the show is off. Look at the desk again.")
    load = wanted(show, Question.from_data(kept.question), at)
    if load.digest != kept.input_digest:
        raise PlanRefusal("The book changed since this plan was made: something is booked, measured or moved anew. "
                          "The page shows a plan for the book as it is now; look at it and accept that.")  # fmt: skip
    planned = {int(item): case for item, case in kept.items.items()}
    chosen = set(planned.values()) if cases is None else set(cases)
    if not chosen or not chosen <= set(planned.values()):
        raise PlanRefusal("Choose cases that are in this plan.")
    mine = {item: case for item, case in planned.items() if case in chosen}
    lines = _write(show, mine, _whys(load, kept), by, at)
    PlanAcceptance.objects.create(
        plan=kept, cases=sorted(chosen), whole=cases is None, accepted_at=at, accepted_by=by.name, role=by.role
    )
    return _told(load, chosen, lines, at)


def _whys(load: Wanted, kept: PackPlan) -> dict[int, str]:
    """Why each thing is not in its usual case, by the thing."""
    said = {(one.gear, load.cases[one.now]): why for one, why in differences(load.job, plan_of(kept.plan).contents)}
    return {
        item: said[ident, kept.items[str(item)]]
        for ident, units in load.units.items()
        for unit in units
        for item in unit.items
        if (ident, kept.items.get(str(item))) in said
    }


def _write(
    show: Show, planned: Mapping[int, int], whys: Mapping[int, str], by: Witness, at: datetime
) -> list[PackLine]:  # fmt: skip
    """A thing that goes in its usual case needs no line; any other has exactly one."""
    things = Item.objects.filter(pk__in=planned)
    lines = [
        PackLine(
            show=show, item=thing, case_id=planned[thing.pk], quantity=thing.quantity,
            decided_by=by.name, decided_at=at, why=whys.get(thing.pk, "as planned on the packing desk")[:200],
        )
        for thing in things.order_by("pk")
        if thing.home_case_id != planned[thing.pk]
    ]  # fmt: skip
    PackLine.objects.filter(show=show, item__in=planned).delete()
    return PackLine.objects.bulk_create(lines)


def _told(load: Wanted, chosen: Collection[int], lines: list[PackLine], at: datetime) -> Taken:
    names = {pk: name for name, pk in load.cases.items()}
    touched = {line.case_id for line in lines} | {line.item.home_case_id for line in lines if line.item.home_case_id}
    sealed = seals_of([one for one in touched if one in names], at)
    return Taken(
        tuple(sorted(names[pk] for pk in chosen)), len(lines), tuple(sorted(names[pk] for pk in sealed))
    )  # fmt: skip
