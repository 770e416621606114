"""The figures of carriers' terms: dated rows beside what is usual. The only reader and writer of CarrierFigure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from inventory.folding import fold
from inventory.ledger import Witness
from inventory.models import Role
from shipping.models import CarrierFigure, Leg
from shipping.packing.freight import FIGURES, Figure

RULE_LIMITS = {("air", "divisor"): ("billed-by-volume", "divisor")}
OF_MONEY = {"liability", "insured"}


class FigureRefusal(ValueError):
    """This is no figure. Carries a sentence to show."""


@dataclass(frozen=True, slots=True)
class Standing:
    """One figure as it counts for a leg on a day, and where it is from. `value` None: nobody has entered it."""

    figure: Figure
    value: Decimal | None
    currency: str
    source: str
    entered: bool

    @property
    def words(self) -> str:
        if self.value is None:
            return "not entered"
        unit = f"{self.currency} {self.figure.unit}".strip()
        return f"{self.value.normalize():,f} {unit}"


def standing(
    leg: Leg, on: date, limits: Mapping[tuple[str, str], Decimal], known: Iterable[CarrierFigure] | None = None
) -> dict[str, Standing]:
    """What counts for a leg: its carrier's own newest row, else one for any carrier, else what is usual.

    `known` are the rows as `every_figure` gives them, where they were read already.
    """
    rows = _rows(leg, known)
    return {figure.name: _standing(figure, leg.mode, rows, on, limits) for figure in FIGURES[leg.mode]}


def every_figure() -> list[CarrierFigure]:
    """Every row there is, oldest first."""
    return list(CarrierFigure.objects.order_by("valid_from", "pk"))


def _rows(leg: Leg, known: Iterable[CarrierFigure] | None = None) -> list[CarrierFigure]:
    """Every row that could count for this leg, any carrier's before its own, oldest first."""
    mine = fold(leg.carrier)
    of_mode = [row for row in (every_figure() if known is None else known) if row.mode == leg.mode]
    found = [row for row in of_mode if not row.carrier or (mine and fold(row.carrier) == mine)]
    return sorted(found, key=lambda row: bool(row.carrier))


def _standing(
    figure: Figure, mode: str, rows: Iterable[CarrierFigure], on: date, limits: Mapping[tuple[str, str], Decimal]
) -> Standing:
    in_force = [row for row in rows if row.name == figure.name and row.valid_from <= on]
    if in_force:
        row = in_force[-1]
        return Standing(figure, row.value, row.currency, f"{row.source}, entered by {row.entered_by}", True)
    usual = limits.get(RULE_LIMITS.get((mode, figure.name), ("", "")), figure.value)
    return Standing(figure, usual, "", figure.source, False)


def history(leg: Leg, name: str) -> list[CarrierFigure]:
    """Every row of one figure that could count for this leg, newest first."""
    return [row for row in reversed(_rows(leg)) if row.name == name]


def rule_limits(leg: Leg, on: date, limits: Mapping[tuple[str, str], Decimal]) -> Mapping[tuple[str, str], Decimal]:
    """The limits with the leg's own carrier's figures in place of those that a rule also reads."""
    named = {name: rule for (mode, name), rule in RULE_LIMITS.items() if mode == leg.mode}
    if not named:
        return limits
    found = standing(leg, on, limits)
    return {**limits, **{rule: found[name].value or limits[rule] for name, rule in named.items()}}


def enter(
    leg: Leg, name: str, value: Decimal, *, currency: str, every_carrier: bool, valid_from: date, source: str,
    by: Witness, at: datetime,
) -> CarrierFigure:  # fmt: skip
    """Enter a figure from a day on, of this leg's carrier or of any. Earlier rows stay."""
    if by.role != Role.KIT_MANAGER:
        raise FigureRefusal("Only the kit manager enters a carrier's figures.")
    if name not in {figure.name for figure in FIGURES[leg.mode]}:
        raise FigureRefusal(f"A leg by {leg.mode} has no figure called {name}.")
    if value <= 0:
        raise FigureRefusal("A figure is a number above zero.")
    if name in OF_MONEY and len(currency) != 3:
        raise FigureRefusal("Say in which currency: three letters, as the values are entered.")
    if not leg.carrier.strip() and not every_carrier:
        raise FigureRefusal("This leg names no carrier. Name it on the leg, or enter the figure for any carrier.")
    return CarrierFigure.objects.create(
        carrier="" if every_carrier else leg.carrier.strip(), mode=leg.mode, name=name, value=value,
        currency=currency.upper() if name in OF_MONEY else "", valid_from=valid_from, source=source.strip(),
        entered_by=by.name, entered_at=at,
    )  # fmt: skip
