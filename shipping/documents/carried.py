"""The cases of a leg as freight, from the rows that papers are made of: what is billed, and by which figures."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from inventory.models import Item
from shipping import carriers
from shipping.boards import departure_day
from shipping.carriers import Standing
from shipping.documents.around import Around
from shipping.documents.stowage import counted
from shipping.freighting import units_of
from shipping.models import Leg, Show
from shipping.packing import facts
from shipping.packing.freight import Bill, Line, bill, plain
from shipping.planning.legs import STAND

BY_VOLUME = ("air", "courier")


@dataclass(frozen=True, slots=True)
class Carried:
    """A leg's own consignment; `figures` are those of its carrier on the day it leaves."""

    leg: Leg
    load: facts.Load
    bill: Bill
    figures: Mapping[str, Standing]

    @property
    def terms(self) -> str:
        """By what it is billed, and whose word that is."""
        money = carriers.OF_MONEY
        said = [one for name, one in self.figures.items() if name not in money and one.value is not None]
        return "; ".join(
            f"{one.figure.words} {one.words} ({one.source if one.entered else 'usual, not the carrier’s word'})"
            for one in said
        )


def carried(leg: Leg, around: Around) -> Carried:
    show = leg.consignment.show
    cases = [trip.case for trip in around.trips(show) if trip.consignment_id == leg.consignment_id]
    on, limits = departure_day(leg, None, around.at), around.limits_for(leg)
    load = facts.Load(
        cases=tuple(_case(case, show, around) for case in cases), on=on, leg=_leg(leg, cases, around), limits=limits
    )  # fmt: skip
    figures = carriers.standing(leg, on, limits, around.carrier_figures)
    shells = {case.pk: (case.type.replacement_value, case.type.currency) for case in cases}
    units = units_of(load, {pk: (value, money) for pk, (value, money) in shells.items() if value is not None})
    return Carried(leg, load, bill(units, {name: one.value for name, one in figures.items()}), figures)


def _leg(leg: Leg, cases: list[Item], around: Around) -> facts.Leg:
    rows = [(STAND.match(around.row_on(leg.vehicle, case)), case.pk) for case in cases]
    stands = tuple(facts.Stand(*(int(part) for part in row.groups()), pk) for row, pk in rows if row)
    return facts.Leg(
        leg.pk, f"{leg.from_place} to {leg.to_place}", mode=leg.mode, passenger_aircraft=leg.passenger_aircraft,
        baggage=leg.as_baggage, stands=stands,
    )  # fmt: skip


def _case(case: Item, show: Show, around: Around) -> facts.Case:
    """Its gross is the one that papers print: the scale's word, else the sum."""
    rows, shell = around.rows(case, show), case.type
    pieces = tuple(_piece(row.item) for row in counted(rows))
    return facts.Case(
        id=case.pk, number=str(case), type_id=case.type_id, pieces=pieces, weighed_kg=around.gross(case, rows).kg,
        length_mm=shell.length_mm, width_mm=shell.width_mm, height_mm=shell.height_mm,
    )  # fmt: skip


def _piece(item: Item) -> facts.Piece:
    """What freight asks of a thing: how many, worth what, with which battery."""
    kind = item.type
    return facts.Piece(
        item.pk, str(kind), kind.kind, type_id=kind.pk, type_name=str(kind), quantity=item.quantity,
        mass_kg=kind.mass_kg, value=kind.replacement_value, currency=kind.currency,
        battery_chemistry=kind.battery_chemistry, battery_wh=kind.battery_wh, battery_count=kind.battery_count,
    )  # fmt: skip


def volume_words(volume_m3: Decimal | None) -> str:
    return "not measured" if volume_m3 is None else f"{volume_m3:.3f} m³"


def total_words(of: Carried) -> str:
    """Cases, gross, volume and what is billed, in one line; “at least” while something is not measured or weighed.

    Nobody bills what rides on a vehicle of ours.
    """
    found, own = of.bill, of.leg.vehicle_id is not None and not of.leg.carrier
    least = "at least " if found.lacks else ""
    many = f"{len(found.lines)} case{'' if len(found.lines) == 1 else 's'}"
    sums = f"gross {least}{plain(found.gross_kg)} kg, volume {least}{volume_words(found.volume_m3)}"
    return f"{many}; {sums}" + ("" if own else f"; chargeable {least}{plain(found.chargeable_kg)} kg, by {found.by}")


def one_case(case: Item, around: Around) -> str:
    """Volume and mass by volume of one case on the first flight or courier leg of its next consignment."""
    trip = around.next_trip(case)
    legs = around.legs(trip.consignment.show_id) if trip else []
    for leg in sorted(legs, key=lambda one: one.position):
        if trip and leg.consignment_id == trip.consignment_id and leg.mode in BY_VOLUME:
            found = carried(leg, around)
            line = next((one for one in found.bill.lines if one.unit.id == case.pk), None)
            return _by_volume(leg, line, found) if line else ""
    return ""


def _by_volume(leg: Leg, line: Line, found: Carried) -> str:
    if line.by_volume_kg is None:
        return f"by {leg.get_mode_display()}: not measured, so nobody knows what it counts as"
    counts, divisor = plain(line.by_volume_kg), found.figures["divisor"].words
    return f"by {leg.get_mode_display()} its volume counts as {counts} kg ({divisor})"
