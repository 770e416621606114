"""How many people to think of for a lift. A filter for planning, not a limit and not an approval.

Team factors: two people two thirds, three people half of the sum of what each could lift (HSE L23, 4th edition 2016,
from secondary pages). The guidance gives no figure for more than three, so none is made up here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

PERSON_KG = Decimal(16)
TEAM_FACTOR = {1: Fraction(1), 2: Fraction(2, 3), 3: Fraction(1, 2)}
CAUTION = (
    "Guide only, for a good grip and a short carry; height, reach and people change it. "
    "Follow local rules and the person in charge."
)
BEYOND = "plan the lift: wheels or lifting aid, ask the person in charge"


class NoFigure(ValueError):
    """There is no published figure for this team: ask for a lifting aid instead."""


@dataclass(frozen=True, slots=True)
class Band:
    """`people` is 1, 2 or 3; None means beyond three, or that the mass is unknown."""

    people: int | None
    words: str
    caution: str = CAUTION


def team_kg(each_kg: Sequence[Decimal]) -> Fraction:
    """What a team of one to three may plan with, in kilograms, from what each could lift."""
    if len(each_kg) not in TEAM_FACTOR:
        raise NoFigure(f"No figure is published for {len(each_kg)} people. Use wheels or a lifting aid.")
    return sum((Fraction(one) for one in each_kg), Fraction(0)) * TEAM_FACTOR[len(each_kg)]


def band(mass_kg: Decimal | None, person_kg: Decimal = PERSON_KG) -> Band:
    """The smallest team whose figure covers this mass."""
    if mass_kg is None:
        return Band(None, "mass not known: weigh it before planning the lift")
    for people, words in ((1, "one person"), (2, "two people"), (3, "three people")):
        if Fraction(mass_kg) <= team_kg([person_kg] * people):
            return Band(people, words)
    return Band(None, BEYOND)
