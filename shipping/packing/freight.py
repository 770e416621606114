"""What a carrier bills a consignment as: by mass, by volume, by loading metres; and what it would owe if all were lost.

Divisors and rates are the carrier's own figures, never constants of the trade: `FIGURES` only says what is usual until
somebody enters theirs. Lengths in mm, masses in kg. Pure.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal

from shipping.packing.money import by_currency

DECK_M = Decimal("2.4")  # width that one loading metre is reckoned over
CAUTION = "Reckoned from entered figures before a booking. The carrier measures, weighs and bills by its own terms."


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure of a carrier's terms, and what is taken while nobody has entered theirs; None: then nothing is."""

    name: str
    value: Decimal | None
    unit: str
    words: str
    source: str


DIVISOR = Figure("divisor", Decimal(6000), "cm³ per kg", "billed by volume at", "usual by air; from secondary pages")
STEP = Figure("step_kg", Decimal("0.5"), "kg", "rounded up to", "usual by air; from memory")
LIABLE = "what the carrier's terms or the convention give for each kg lost"
COVER = Figure(
    "insured",
    None,
    "in all",
    "insured for, on one journey",
    "the policy says; nothing is taken while it is not entered",
)
FIGURES: dict[str, tuple[Figure, ...]] = {
    "air": (
        DIVISOR, STEP,
        Figure("liability", None, "per kg", LIABLE,
               "Montreal Convention: a number of special drawing rights for each kg, revised from time to time"),
        COVER,
    ),
    "courier": (
        Figure("divisor", Decimal(5000), "cm³ per kg", "billed by volume at", "usual of couriers; secondary pages"),
        STEP,
        Figure("liability", None, "per kg", LIABLE, "the courier's terms"),
        COVER,
    ),
    "road": (
        Figure("kg_per_m3", Decimal(333), "kg per m³", "one cubic metre counts as", "usual by road; secondary pages"),
        Figure("kg_per_ldm", Decimal(1750), "kg per loading metre", "one loading metre counts as",
               "one of several usages (1750, 1850, 2000); from memory"),
        Figure("liability", None, "per kg", LIABLE, "CMR: 8.33 special drawing rights for each kg, from memory"),
        COVER,
    ),
    "sea": (
        Figure("kg_per_m3", Decimal(1000), "kg per m³", "one cubic metre counts as", "weight or measure; from memory"),
        Figure("liability", None, "per kg", LIABLE, "the convention that the bill of lading names"),
        COVER,
    ),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Unit:
    """One case to be carried: outer sides in mm and gross in kg, None where nobody has said; value by currency."""

    id: int
    number: str
    sides_mm: tuple[int, int, int] | None
    gross_kg: Decimal | None
    on_floor: bool = True
    values: Mapping[str, Decimal] | None = None
    unvalued: int = 0


@dataclass(frozen=True, slots=True)
class Line:
    """One case as it counts: volume in m³, mass by volume and loading metres, None where a size is missing."""

    unit: Unit
    volume_m3: Decimal | None
    by_volume_kg: Decimal | None
    loading_m: Decimal | None

    @property
    def by_volume(self) -> bool:
        """Does this case alone count for more by its volume than by its mass?"""
        known = self.by_volume_kg is not None and self.unit.gross_kg is not None
        return known and (self.by_volume_kg or 0) > (self.unit.gross_kg or 0)


@dataclass(frozen=True, slots=True)
class Bill:
    """A consignment as billed. Sums run over what is known; `lacks` names the cases that are not all in them."""

    lines: tuple[Line, ...]
    gross_kg: Decimal
    volume_m3: Decimal
    by_volume_kg: Decimal
    loading_m: Decimal
    by_floor_kg: Decimal | None
    chargeable_kg: Decimal
    by: str
    lacks: tuple[str, ...]

    @property
    def sentence(self) -> str:
        floor = "at least " if self.lacks else ""
        words = {"mass": "by its mass", "volume": "by its volume", "loading metres": "by its loading metres"}[self.by]
        missing = f" Not measured or weighed: {', '.join(self.lacks)}." if self.lacks else ""
        return f"Billed {words} as {floor}{plain(self.chargeable_kg)} kg.{missing}"


def plain(value: Decimal) -> str:
    """To the tenth, without a needless zero."""
    return f"{value.quantize(Decimal('0.1'), ROUND_HALF_UP).normalize():,f}"


def centimetres(mm: int) -> Decimal:
    """A side to the whole centimetre, as carriers take it."""
    return (Decimal(mm) / 10).quantize(Decimal(1), ROUND_HALF_UP)


def volume_cm3(sides_mm: tuple[int, int, int]) -> Decimal:
    long, wide, high = (centimetres(side) for side in sides_mm)
    return long * wide * high


def volumetric_kg(sides_mm: tuple[int, int, int], divisor: Decimal) -> Decimal:
    """Mass by volume: sides in whole centimetres, over the carrier's divisor in cm³ per kg."""
    return volume_cm3(sides_mm) / divisor


def loading_metres(length_mm: int, width_mm: int, stacked: int = 1) -> Decimal:
    """Metres of a deck 2.4 m wide that a case takes; over how many stand on one another."""
    return Decimal(length_mm) * width_mm / 1_000_000 / DECK_M / stacked


def rounded_up(mass_kg: Decimal, step_kg: Decimal) -> Decimal:
    return (mass_kg / step_kg).to_integral_value(ROUND_CEILING) * step_kg


def bill(units: Sequence[Unit], figures: Mapping[str, Decimal | None]) -> Bill:
    """All the cases of a leg together, by its carrier's figures: the largest of mass, volume and loading metres."""
    lines = tuple(_line(unit, figures) for unit in units)
    gross = _sum(unit.gross_kg for unit in units)
    volume, by_volume = _sum(line.volume_m3 for line in lines), _sum(line.by_volume_kg for line in lines)
    metres = _sum(line.loading_m for line in lines)
    rate = figures.get("kg_per_ldm")
    by_floor = metres * rate if rate else None
    counts = {"mass": gross, "volume": by_volume, "loading metres": by_floor or Decimal(0)}
    by = max(counts, key=lambda name: counts[name])
    step = figures.get("step_kg")
    charged = rounded_up(counts[by], step) if step else counts[by]
    lacks = tuple(unit.number for unit in units if unit.sides_mm is None or unit.gross_kg is None)
    return Bill(lines, gross, volume, by_volume, metres, by_floor, charged, by, lacks)


def _sum(masses: Iterable[Decimal | None]) -> Decimal:
    return sum((mass for mass in masses if mass is not None), Decimal(0))


def _line(unit: Unit, figures: Mapping[str, Decimal | None]) -> Line:
    if unit.sides_mm is None:
        return Line(unit, None, None, None)
    volume = volume_cm3(unit.sides_mm)
    divisor, per_m3 = figures.get("divisor"), figures.get("kg_per_m3")
    by_volume = volumetric_kg(unit.sides_mm, divisor) if divisor else volume / 1_000_000 * per_m3 if per_m3 else None
    metres = loading_metres(*unit.sides_mm[:2]) if unit.on_floor else Decimal(0)
    return Line(unit, volume / 1_000_000, by_volume, metres)


@dataclass(frozen=True, slots=True)
class Cover:
    """What is carried is worth, against what the carrier owes and what is insured; all in one currency."""

    currency: str
    value: Decimal
    unvalued: int
    owed: Decimal | None
    insured: Decimal | None

    @property
    def meaning(self) -> str:
        return "settled" if self.insured is not None and self.insured >= self.value else "doubtful"

    @property
    def sentence(self) -> str:
        worth = f"Worth {money(self.value, self.currency)}"
        worth += f", and {self.unvalued} things without a value. " if self.unvalued else ". "
        if self.owed is None:
            owed = "What the carrier would owe is not known: enter what its terms give for each kg. "
        else:
            owed = f"If all were lost the carrier would owe at most {money(self.owed, self.currency)}. "
        return worth + owed + self._insured

    @property
    def _insured(self) -> str:
        if self.insured is None:
            return "What it is insured for on this journey alone is not entered."
        short = self.value - self.insured
        if short > 0:
            return f"It is insured for {money(self.insured, self.currency)}: {money(short, self.currency)} too little."
        return f"It is insured for {money(self.insured, self.currency)}."


def money(value: Decimal, currency: str) -> str:
    return f"{value:,.0f} {currency}".strip()


def covers(
    units: Sequence[Unit], gross_kg: Decimal, liability: tuple[Decimal, str] | None, insured: tuple[Decimal, str] | None
) -> list[Cover]:
    """One line a currency. A liability or a sum in another currency says nothing of these values."""
    values = by_currency((value, currency) for unit in units for currency, value in (unit.values or {}).items())
    unvalued = sum(unit.unvalued for unit in units)
    return [
        Cover(
            currency, value, unvalued, _in(currency, liability, gross_kg), _in(currency, insured, Decimal(1))
        )
        for currency, value in sorted(values.items())
    ]  # fmt: skip


def _in(currency: str, figure: tuple[Decimal, str] | None, times: Decimal) -> Decimal | None:
    return figure[0] * times if figure is not None and figure[1] == currency else None
