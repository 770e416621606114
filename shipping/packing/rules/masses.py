"""How heavy a case is, and for whom."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from shipping.packing.facts import Case, Load, Severity
from shipping.packing.lifting import band
from shipping.packing.rules.registry import Ask, Limit, Said, exact, number_words, rule, unknown, wrong

HSE = "team factors of HSE L23 (4th edition 2016, from secondary pages): figures are filters, not limits"


def _without_mass(case: Case) -> str:
    names = list(case.unweighed)
    shown = ", ".join(names[:3])
    return shown if len(names) < 4 else f"{shown} and {len(names) - 3} more"


@rule(
    "17", Severity.WARN, HSE, limits={"person_kg": Limit(Decimal(16), "kg", "the mass one person is assumed to take")}
)
def lift_band(load: Load, person_kg: Decimal) -> Iterator[Said | Ask]:
    """A case is marked for one, two or three people; above that the lift is planned: wheels or a lifting aid."""
    for case in load.cases:
        gross = case.gross_kg
        if gross is None:
            yield unknown(
                case,
                f"The lift band of {case.number} is not known: no mass for {_without_mass(case)}.",
                "Weigh the case, or enter the masses.",
            )
        elif band(gross, person_kg).people is None and not case.wheels:
            yield wrong(
                case,
                f"{case.number} is {number_words(gross)} kg and has no wheels: above the figure for three people.",
                "Plan the lift: wheels or a lifting aid; ask the person in charge.",
                gross=exact(gross),
                person_kg=exact(person_kg),
            )


@rule("18", Severity.BLOCK, "common practice", decision_only=True)
def within_rating(load: Load) -> Iterator[Said | Ask]:
    """A case weighs no more than it is rated for, and its gross mass is marked outside in kg and lb."""
    for case in load.cases:
        floor = case.least_kg
        if case.max_gross_kg is None:
            yield unknown(
                case,
                f"Nobody has said what {case.number} is rated for.",
                "Enter the rating with its type.",
                case_type=case.type_id,
            )
        elif floor > case.max_gross_kg:
            yield wrong(
                case,
                f"{case.number} weighs {number_words(floor)} kg; it is rated for {number_words(case.max_gross_kg)} kg.",
                "Take something out, or use a stronger case.",
                gross=exact(floor),
                rating=exact(case.max_gross_kg),
            )
        elif case.gross_kg is None:
            yield unknown(
                case,
                f"The gross mass of {case.number} is not known: no mass for {_without_mass(case)}.",
                "Weigh the case, or enter the masses.",
            )


@rule(
    "19",
    Severity.WARN,
    "own rule, from freight practice",
    limits={
        "tol_pct": Limit(Decimal(8), "%", "the scale may differ this much from the sum"),
        "scale_kg": Limit(Decimal("0.2"), "kg", "the scale itself may be off by this"),
    },
)
def scale_agrees(load: Load, tol_pct: Decimal, scale_kg: Decimal) -> Iterator[Said | Ask]:
    """The scale and the sum of the contents agree; where they do not, something is missing or extra."""
    for case in load.cases:
        if case.weighed_kg is None:
            continue
        if case.computed_kg is None:
            yield unknown(
                case,
                f"{case.number} was weighed, but the sum is not known: no mass for {_without_mass(case)}.",
                "Enter the masses.",
            )
            continue
        differs = (case.weighed_kg - case.computed_kg) / case.computed_kg * 100 if case.computed_kg else Decimal(0)
        if abs(differs) > tol_pct and abs(case.weighed_kg - case.computed_kg) > scale_kg:
            yield wrong(
                case,
                f"{case.number} weighs {number_words(case.weighed_kg)} kg against "
                f"{case.computed_kg:,.1f} kg computed ({differs:+.0f} %).",
                "Open it and check the contents; the likely thing is named beside the scale.",
                weighed=exact(case.weighed_kg),
                computed=exact(case.computed_kg),
            )
