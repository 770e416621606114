"""What goes by air: pieces, checked baggage, and the mass a carrier bills. The carrier's own rules decide."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import NamedTuple

from shipping.packing.facts import Case, Leg, Load, Severity
from shipping.packing.rules.registry import Ask, Limit, Said, exact, number_words, rule, unknown, wrong

PROFILE = "common air-freight profile; ask the carrier"
BAGGAGE = "common baggage limits: 50 lb, 70 lb, 62 in; ask the airline"


class Flown(NamedTuple):
    """A case on a leg by air with its size and mass known: sides in mm, longest first, gross in kg."""

    leg: Leg
    case: Case
    sides: tuple[int, int, int]
    gross: Decimal


def _flying(load: Load) -> Iterator[Flown | Said]:
    """The cases that fly; for one that was not measured or weighed, that this is not known."""
    if load.leg is None or load.leg.mode != "air":
        return
    for case in load.cases:
        sides = sides_of(case)
        if sides is None or case.gross_kg is None:
            words = f"Size or mass of {case.number} is not known, and it flies."
            yield unknown(case, words, "Measure and weigh it.", leg=load.leg.id)
        else:
            yield Flown(load.leg, case, sides, case.gross_kg)


def sides_of(case: Case) -> tuple[int, int, int] | None:
    """The outer sides in mm, longest first; None while one is not measured."""
    if case.length_mm is None or case.width_mm is None or case.height_mm is None:
        return None
    long, middle, short = sorted((case.length_mm, case.width_mm, case.height_mm), reverse=True)
    return long, middle, short


@rule(
    "20",
    Severity.WARN,
    PROFILE,
    limits={
        "narrow_kg": Limit(Decimal(80), "kg", "one piece in a narrow hold"),
        "narrow_long_mm": Limit(Decimal(1000), "mm", "longest side in a narrow hold"),
        "narrow_middle_mm": Limit(Decimal(600), "mm", "middle side in a narrow hold"),
        "narrow_short_mm": Limit(Decimal(400), "mm", "shortest side in a narrow hold"),
        "wide_kg": Limit(Decimal(250), "kg", "one piece in a wide hold"),
        "wide_long_mm": Limit(Decimal(1400), "mm", "longest side in a wide hold"),
        "wide_other_mm": Limit(Decimal(1000), "mm", "the two other sides in a wide hold"),
        "lower_deck_mm": Limit(Decimal(1600), "mm", "any height on a lower deck"),
    },
)
def air_piece(load: Load, **most: Decimal) -> Iterator[Said | Ask]:
    """A case that flies fits the hold: ask the carrier above these sizes and masses."""
    for flown in _flying(load):
        if isinstance(flown, Said):
            yield flown
            continue
        leg, case, sides, gross = flown
        hold = _too_much_for(sides, gross, most)
        if hold:
            size = " × ".join(str(side) for side in (case.length_mm, case.width_mm, case.height_mm))
            yield wrong(
                case,
                f"{case.number} ({size} mm, {number_words(gross)} kg) is more than {hold} takes.",
                "Ask the carrier which aircraft flies, or split the case.",
                leg=leg.id,
                size=size,
                gross=exact(gross),
            )


def _too_much_for(sides: tuple[int, int, int], gross: Decimal, most: dict[str, Decimal]) -> str:
    """The roomiest hold that this piece is too large or too heavy for; nothing if it fits everywhere."""
    narrow = (most["narrow_long_mm"], most["narrow_middle_mm"], most["narrow_short_mm"])
    wide = (most["wide_long_mm"], most["wide_other_mm"], most["wide_other_mm"])
    if min(sides) > most["lower_deck_mm"]:
        return "any lower deck"
    if gross > most["wide_kg"] or _is_over(sides, wide):
        return "even a wide hold"
    return "a narrow hold" if gross > most["narrow_kg"] or _is_over(sides, narrow) else ""


def _is_over(sides: tuple[int, int, int], most: tuple[Decimal, Decimal, Decimal]) -> bool:
    return any(side > limit for side, limit in zip(sides, most, strict=True))


@rule(
    "21",
    Severity.WARN,
    BAGGAGE,
    limits={
        "usual_kg": Limit(Decimal(23), "kg", "one piece of baggage without a surcharge"),
        "most_kg": Limit(Decimal(32), "kg", "one piece of baggage at all"),
        "linear_mm": Limit(Decimal(1580), "mm", "length, width and height together"),
    },
)
def baggage_piece(load: Load, usual_kg: Decimal, most_kg: Decimal, linear_mm: Decimal) -> Iterator[Said | Ask]:
    """A case that flies as somebody's checked baggage is within what airlines take at the desk."""
    if load.leg is None or not load.leg.baggage:
        return
    for flown in _flying(load):
        if isinstance(flown, Said):
            yield flown
            continue
        leg, case, sides, gross = flown
        linear = sum(sides)
        facts = {"leg": leg.id, "gross": exact(gross), "linear": linear}
        if gross > most_kg or linear > linear_mm:
            yield wrong(
                case,
                f"{case.number} ({number_words(gross)} kg, {linear} mm in all) may be refused as baggage: over "
                f"{number_words(most_kg)} kg or {number_words(linear_mm)} mm.",
                "Send it as freight, or split it; ask the airline before the day.",
                **facts,
            )
        elif gross > usual_kg:
            yield wrong(
                case,
                f"{case.number} weighs {number_words(gross)} kg: over {number_words(usual_kg)} kg, expect a surcharge.",
                "Take something out, or book it as heavy baggage; ask the airline.",
                Severity.ADVISE,
                **facts,
            )


@rule(
    "22",
    Severity.ADVISE,
    "carriers bill the larger of mass and volume; 6000 cm³ per kg is the usual divisor by air",
    limits={"divisor": Limit(Decimal(6000), "cm³ per kg", "the carrier's divisor")},
)
def billed_by_volume(load: Load, divisor: Decimal) -> Iterator[Said | Ask]:
    """Before a flight is booked it is said which cases are billed by their volume and not by their mass."""
    for flown in _flying(load):
        if isinstance(flown, Said):
            yield flown
            continue
        leg, case, sides, gross = flown
        by_volume = Decimal(sides[0]) * sides[1] * sides[2] / 1000 / divisor
        if by_volume > gross:
            yield wrong(
                case,
                f"{case.number} weighs {number_words(gross)} kg and is billed as {by_volume:.1f} kg.",
                "Book it as that, or use a smaller case.",
                leg=leg.id,
                gross=exact(gross),
                billed=f"{by_volume:.1f}",
            )
