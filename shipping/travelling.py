"""How a show travels, as its page tells it: its consignments with their cases and legs, and cases in none of them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Prefetch

from inventory.unchanged import kept
from shipping import booking
from shipping.models import Consignment, ConsignmentCase, Leg, Show


@dataclass(frozen=True, slots=True)
class CaseLine:
    """Case n of N. `words` is what it is called where it has no number."""

    pk: int
    position: int
    number: str
    words: str
    name: str
    to_room: str
    first_off: bool


@dataclass(frozen=True, slots=True)
class LegLine:
    """One leg by its plan. `vehicle` is empty for what a carrier takes."""

    pk: int
    position: int
    mode: str
    from_place: str
    to_place: str
    vehicle: str
    waybill: str
    carrier: str
    departs_at: datetime | None
    arrives_at: datetime | None
    driver: str
    driver_phone: str
    crosses_border: bool


@dataclass(frozen=True, slots=True)
class ConsignmentLine:
    """`split_from` is the name of the one that it came from."""

    pk: int
    name: str
    split_from: str
    cases: tuple[CaseLine, ...]
    legs: tuple[LegLine, ...]


@dataclass(frozen=True, slots=True)
class Travelling:
    """`loose`: the numbers, else the names, of cases that go with the show and are in no consignment yet."""

    consignments: tuple[ConsignmentLine, ...]
    loose: tuple[str, ...]

    @property
    def legs(self) -> list[LegLine]:
        return [leg for consignment in self.consignments for leg in consignment.legs]


def travelling(show: Show) -> Travelling:
    """Kept until something of it is edited: no time changes it."""
    return kept(("travelling", show.pk), None, lambda: _travelling(Show.objects.get(pk=show.pk)))


def _travelling(show: Show) -> Travelling:
    cases = ConsignmentCase.objects.select_related("case__type").prefetch_related("case__labels")
    legs = Leg.objects.select_related("vehicle__type", "from_place", "to_place")
    apart = show.consignments.select_related("split_from")
    consignments = list(apart.prefetch_related(Prefetch("cases", cases), Prefetch("legs", legs)))
    taken = {row.case_id for one in consignments for row in one.cases.all()}
    loose = tuple(case.number or case.name for case in booking.cases_of(show) if case.pk not in taken)
    return Travelling(tuple(map(_consignment, consignments)), loose)


def _consignment(one: Consignment) -> ConsignmentLine:
    split_from = one.split_from.name if one.split_from else ""
    return ConsignmentLine(
        one.pk, one.name, split_from, tuple(map(_case, one.cases.all())), tuple(map(_leg, one.legs.all()))
    )


def _case(row: ConsignmentCase) -> CaseLine:
    case = row.case
    return CaseLine(row.pk, row.position, case.number or "", str(case), case.name, row.to_room, row.first_off)


def _leg(leg: Leg) -> LegLine:
    vehicle = str(leg.vehicle) if leg.vehicle else ""
    return LegLine(
        leg.pk, leg.position, leg.mode, str(leg.from_place), str(leg.to_place), vehicle, leg.waybill, leg.carrier,
        leg.departs_at, leg.arrives_at, leg.driver, leg.driver_phone, leg.crosses_border,
    )  # fmt: skip
