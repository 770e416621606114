"""Which cases the plans put on a vehicle over a night."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db.models import Q
from django.utils import timezone

from inventory.models import Item
from shipping.boards import Phase, phases_of
from shipping.models import ConsignmentCase, Leg

EVENING, MORNING, DEEP = time(20), time(6), time(3)


@dataclass(frozen=True, slots=True)
class Night:
    """The night that begins on the evening of `day`, by the clock of the house."""

    day: date

    @property
    def begins(self) -> datetime:
        return timezone.make_aware(datetime.combine(self.day, EVENING))

    @property
    def deepest(self) -> datetime:
        """Three in the morning: who was loaded late is on the road, and nobody is up."""
        return timezone.make_aware(datetime.combine(self.day + timedelta(days=1), DEEP))

    @property
    def ends(self) -> datetime:
        return timezone.make_aware(datetime.combine(self.day + timedelta(days=1), MORNING))

    def is_over(self, at: datetime) -> bool:
        return self.deepest <= at


def night_at(at: datetime) -> Night:
    """Tonight; before six in the morning still the night that began the evening before."""
    local = timezone.localtime(at)
    return Night(local.date() - timedelta(days=local.time() < MORNING))


def planned_on(vehicles: Collection[Item], night: Night, at: datetime) -> dict[int, set[int]]:
    """By vehicle, the cases of the legs that run that night and have not left by the book."""
    running = Leg.objects.filter(
        Q(arrives_at=None) | Q(arrives_at__gte=night.begins),
        vehicle__in=vehicles,
        departs_at__lte=night.ends,
        consignment__show__cancelled_at=None,
    )
    legs = list(running.select_related("consignment__show"))
    phases = phases_of(legs, at)
    waiting = [leg for leg in legs if phases[leg.pk] == Phase.LOADING]
    lists = defaultdict(set)
    rows = ConsignmentCase.objects.filter(consignment__in={leg.consignment_id for leg in waiting})
    for consignment, case in rows.values_list("consignment_id", "case_id"):
        lists[consignment].add(case)
    found: dict[int, set[int]] = defaultdict(set)
    for leg in waiting:
        found[leg.vehicle_id or 0] |= lists[leg.consignment_id]
    return dict(found)
