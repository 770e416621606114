"""The demo world is what its description says: counts, masses, sets, shows, and 22 faults."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db.models import Count, F, Sum

from inventory.models import DriveSet, Item, Kind
from shipping.demo.faults import FAULTS
from shipping.models import ConsignmentCase, Leg, Show


def _gross(prefix: str) -> Decimal:
    cases = Item.objects.filter(number__startswith=prefix)
    tare = cases.aggregate(kg=Sum("type__container__tare_kg"))["kg"]
    inside = Item.objects.filter(home_case__in=cases).aggregate(kg=Sum(F("type__mass_kg") * F("quantity")))["kg"]
    return Decimal(str(tare)) + Decimal(str(inside))


def test_it_holds_what_it_says(tonight):
    assert Item.objects.filter(type__kind=Kind.CASE).count() == 40
    assert Item.objects.filter(home_case__isnull=False).count() == 300
    assert DriveSet.objects.count() == 6
    assert Item.objects.filter(home_set__isnull=False).count() == 32
    assert Show.objects.filter(cancelled_at=None).count() == 3
    assert Show.objects.filter(cancelled_at__isnull=False).count() == 1
    assert sorted(FAULTS) == list(range(1, 23))
    by_system = Item.objects.filter(home_case__isnull=False).values_list("home_system__name").annotate(n=Count("pk"))
    assert dict(by_system) == {"Heron": 110, "Curlew": 104, "Wren": 54, None: 32}


def test_its_legs_arrive_after_they_depart_and_go_where_their_rooms_are(tonight):
    assert [leg for leg in Leg.objects.all() if leg.arrives_at <= leg.departs_at] == []
    for trip in ConsignmentCase.objects.exclude(to_room="").select_related("consignment__show__venue"):
        assert trip.consignment.show.venue.parts.filter(name=trip.to_room).exists()


@pytest.mark.parametrize(("prefix", "kg"), [("HER", 503), ("CUR", 492), ("WRE", 254), ("GEN", 166)])
def test_its_cases_weigh_what_the_table_says(tonight, prefix, kg):
    assert _gross(prefix) == kg
