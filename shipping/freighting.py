"""What a leg costs and asks as freight: billed mass, pieces, value against liability, batteries. Reads only."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from inventory.models import Item
from shipping import carriers
from shipping.carriers import Standing
from shipping.insuring import Insured, insured
from shipping.models import Leg
from shipping.packing import facts
from shipping.packing.battery_questions import Asked, battery_questions
from shipping.packing.engine import judge
from shipping.packing.facts import Finding, State
from shipping.packing.freight import Bill, Cover, Unit, bill, covers
from shipping.packing.money import by_currency
from shipping.packing.rules import RULES
from shipping.planning import cases_on, load_of, loaded_on
from shipping.waiving import Judged, standing

PIECES = ("air-piece", "baggage-piece", "billed-by-volume")


@dataclass(frozen=True, slots=True)
class FreightSheet:
    leg: Leg
    bill: Bill
    figures: tuple[Standing, ...]
    covers: tuple[Cover, ...]
    insured: tuple[Insured, ...]
    pieces: tuple[Judged, ...]
    unmeasured: tuple[Finding, ...]
    batteries: tuple[Asked, ...]
    on: date

    @property
    def has_floor(self) -> bool:
        return self.leg.mode == "road"


def freight_of(leg: Leg, at: datetime) -> FreightSheet:
    """All cases that travel on a leg, as its carrier would reckon them."""
    load = load_of(cases_on(leg) | loaded_on(leg), at, leg=leg, show=leg.consignment.show)
    figures = carriers.standing(leg, load.on, load.limits)
    found = bill(units_of(load), {name: one.value for name, one in figures.items()})
    said = judge(load, [RULES[name] for name in PIECES])
    worth = covers(units_of(load), found.gross_kg, _money(figures["liability"]), _money(figures["insured"]))
    return FreightSheet(
        leg, found, tuple(figures.values()), tuple(worth), tuple(_by_policy(worth, load.on)),
        tuple(one for one in standing(said) if one.finding.state == State.WRONG),
        tuple(one for one in said if one.state == State.NOT_KNOWN and one.rule == PIECES[0]),
        tuple(battery_questions(load, load.limits)), load.on,
    )  # fmt: skip


def _by_policy(worth: Iterable[Cover], on: date) -> list[Insured]:
    """What the house's own policies of that day say, where nothing is entered as insured for the journey alone."""
    return insured(((one.currency, one.value) for one in worth if one.insured is None), on)


def _money(figure: Standing) -> tuple[Decimal, str] | None:
    return None if figure.value is None else (figure.value, figure.currency)


Shells = Mapping[int, tuple[Decimal, str]]


def units_of(load: facts.Load, shells: Shells | None = None) -> list[Unit]:
    """The cases of a load as freight, each with what it is worth; what stands on another takes no floor.

    `shells` are the empty cases' values, where they are known already.
    """
    if shells is None:
        shells = _shells([case.id for case in load.cases])
    on_top = {ident for stack in (load.leg.stacks if load.leg else []) for ident in stack[1:]}
    return [_unit(case, shells.get(case.id), case.id not in on_top) for case in load.cases]


def _shells(case_ids: list[int]) -> dict[int, tuple[Decimal, str]]:
    priced = Item.objects.filter(pk__in=case_ids, type__replacement_value__isnull=False)
    rows = priced.values_list("pk", "type__replacement_value", "type__currency")
    return {ident: (value, currency) for ident, value, currency in rows if value is not None}


def _unit(case: facts.Case, shell: tuple[Decimal, str] | None, on_floor: bool) -> Unit:
    worth = [(piece.total_value, piece.currency) for piece in case.pieces] + [shell or (None, "")]
    unvalued = sum(value is None for value, _ in worth)
    return Unit(case.id, case.number, _sides_mm(case), case.gross_kg, on_floor, by_currency(worth), unvalued)


def _sides_mm(case: facts.Case) -> tuple[int, int, int] | None:
    if case.length_mm is None or case.width_mm is None or case.height_mm is None:
        return None
    return case.length_mm, case.width_mm, case.height_mm
