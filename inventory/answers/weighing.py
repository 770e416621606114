"""Weigh to check: what the scale says against what the contents should weigh, and what would explain it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import combinations

from inventory.answers.values import Reason

MOST = 15  # things searched: 2^15 sets at most; beyond, the heaviest are tried


@dataclass(frozen=True, slots=True)
class Weight:
    """One thing that may explain a difference. `kg` is all of it; a `doubt` makes it likelier."""

    item: int
    name: str
    kg: Decimal
    doubt: str = ""


@dataclass(frozen=True, slots=True)
class Weighing:
    """A scale reading set against the sum, in kilograms. `likely` is the smallest set that explains it."""

    answer: str
    sentence: str
    weighed_kg: Decimal
    computed_kg: Decimal | None
    difference_kg: Decimal | None
    likely: tuple[Weight, ...] = ()
    reasons: tuple[Reason, ...] = ()


def weighing(
    number: str, scale_kg: Decimal, computed_kg: Decimal | None, inside: Iterable[Weight], *,
    elsewhere: Iterable[Weight] = (), tolerance_pct: Decimal = Decimal(8), unknown: Sequence[str] = (),
) -> Weighing:  # fmt: skip
    """Compare, and name the fewest things whose mass explains the difference.

    Short: something that should be inside is not. Over: something from `elsewhere` is in it. The tolerance, in per
    cent of the sum, is from freight practice; the search takes the scale to half of it, and at least 0.1 kg.
    """
    if computed_kg is None:
        names = ", ".join(unknown[:3]) or "something inside"
        sentence = f"{number} weighs {words(scale_kg)} kg. What it should weigh is not known: no mass for {names}."
        return Weighing(
            "not known", sentence, scale_kg, None, None, (), (Reason("not known", sentence, "Enter the masses."),)
        )
    difference = scale_kg - computed_kg
    share = difference / computed_kg * 100 if computed_kg else Decimal(0)
    said = f"{number} weighs {words(scale_kg)} kg against {words(computed_kg)} computed ({share:+.0f} %)."
    if abs(share) <= tolerance_pct:
        return Weighing("agrees", said, scale_kg, computed_kg, difference)
    pool = list(inside) if difference < 0 else list(elsewhere)
    found = explain(abs(difference), pool, slack=max(Decimal("0.1"), abs(difference) * Decimal("0.05")))
    reason = _reason(difference, found)
    return Weighing("differs", f"{said} {reason.sentence}", scale_kg, computed_kg, difference, found, (reason,))


def _reason(difference: Decimal, found: tuple[Weight, ...]) -> Reason:
    short = difference < 0
    amount = f"{words(abs(difference))} kg {'short' if short else 'over'}"
    if not found:
        return Reason("differs", f"{amount}; no few things explain it.", "Open it and check every line.")
    names = " and ".join(_named(weight) for weight in found)
    likely = f"likely {'missing' if short else 'in it'}: {names}"
    return Reason(
        "differs", f"{amount}; {likely}.", "Open it and look for that first.", (), tuple(w.item for w in found)
    )


def _named(weight: Weight) -> str:
    doubt = f", {weight.doubt}" if weight.doubt else ""
    return f"{weight.name} ({words(weight.kg)} kg{doubt})"


def explain(gap_kg: Decimal, pool: Sequence[Weight], *, slack: Decimal) -> tuple[Weight, ...]:
    """The smallest set whose masses come within `slack` of the gap; of several, those in doubt, then the closest."""
    fitting = [weight for weight in pool if 0 < weight.kg <= gap_kg + slack]
    chosen = sorted(fitting, key=lambda weight: (not weight.doubt, -weight.kg, weight.item))[:MOST]
    for size in range(1, len(chosen) + 1):
        close = [
            (sum(not weight.doubt for weight in some), abs(total - gap_kg), tuple(weight.item for weight in some), some)
            for some in combinations(chosen, size)
            if abs((total := sum((weight.kg for weight in some), Decimal(0))) - gap_kg) <= slack
        ]
        if close:
            return min(close)[3]
    return ()


def words(mass: Decimal) -> str:
    return f"{mass.quantize(Decimal('0.1')):f}"
