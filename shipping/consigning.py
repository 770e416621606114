"""Cases that travel together: numbered n of N, moved between consignments, split, and the legs they travel."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from django.db import transaction

from inventory.models import Item, Place, PlaceKind
from shipping.models import Consignment, ConsignmentCase, Leg, Show


class ConsigningRefusal(ValueError):
    """What was asked for makes no consignment. Carries a sentence to show."""


@transaction.atomic
def consign(show: Show, name: str, cases: Collection[Item], *, split_from: Consignment | None = None) -> Consignment:
    """Make a consignment of these cases. A case travels in one consignment of a show: it leaves the one it was in."""
    if show.consignments.filter(name=name).exists():
        raise ConsigningRefusal(f"{show} already has a consignment called {name}. Choose another name.")
    if split_from is None:
        _refuse_taken(show, cases)
    consignment = Consignment.objects.create(show=show, name=name, split_from=split_from)
    put_cases(consignment, cases)
    return consignment


def _refuse_taken(show: Show, cases: Collection[Item]) -> None:
    taken = ConsignmentCase.objects.filter(consignment__show=show, case__in=cases).select_related("case", "consignment")
    rows = list(taken.order_by("case__number"))
    if rows:
        words = ", ".join(f"{row.case} in {row.consignment.name}" for row in rows)
        raise ConsigningRefusal(f"Already consigned: {words}. Split them off there, or leave them out here.")


@transaction.atomic
def put_cases(consignment: Consignment, cases: Collection[Item]) -> None:
    """Make these the consignment's cases and number them 1 to N. Rooms and first-off marks of those that stay, stay."""
    consignment.cases.exclude(case__in=cases).delete()
    known = set(consignment.cases.values_list("case", flat=True))
    new = [case for case in cases if case.pk not in known]
    ConsignmentCase.objects.bulk_create(ConsignmentCase(consignment=consignment, case=case, position=0) for case in new)
    renumber(consignment)


def renumber(consignment: Consignment) -> None:
    """Number its cases 1 to N in the order of their case numbers."""
    rows = list(consignment.cases.select_related("case").order_by("case__number", "pk"))
    for position, row in enumerate(rows, 1):
        row.position = position
    ConsignmentCase.objects.bulk_update(rows, ["position"])


@transaction.atomic
def split(consignment: Consignment, name: str, cases: Collection[Item]) -> Consignment:
    """Send some of its cases another way. Both are numbered anew; the cases' own numbers never change."""
    ids = {case.pk for case in cases}
    own = set(consignment.cases.values_list("case", flat=True))
    if not ids or not ids <= own:
        raise ConsigningRefusal("Choose which cases of this consignment go another way.")
    if ids == own:
        raise ConsigningRefusal("That is all of it: give it another leg instead of splitting it.")
    new = consign(consignment.show, name, cases, split_from=consignment)
    for row in consignment.cases.filter(case__in=ids):
        new.cases.filter(case=row.case_id).update(to_room=row.to_room, first_off=row.first_off)
        row.delete()
    renumber(consignment)
    return new


@transaction.atomic
def add_leg(consignment: Consignment, **fields: Any) -> Leg:
    """Add a leg at the end, with the road it is on while it moves."""
    position = consignment.legs.count() + 1
    name = f"{consignment} leg {position}: {fields['from_place']} to {fields['to_place']}"[:120]
    road = Place.objects.create(name=name, kind=PlaceKind.ROAD)
    return Leg.objects.create(consignment=consignment, position=position, road=road, **fields)


@transaction.atomic
def drop_leg(leg: Leg) -> None:
    """Take a leg off the plan, unless something has travelled it."""
    if leg.road.entries.exists():
        raise ConsigningRefusal("Something has travelled this leg, so it stays. Add another leg for what comes next.")
    road, consignment = leg.road, leg.consignment
    leg.delete()
    road.delete()
    for position, other in enumerate(consignment.legs.order_by("position"), 1):
        Leg.objects.filter(pk=other.pk).update(position=position)
