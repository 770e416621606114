"""What a person looked at and found: evidence for the rules, and what the scale says."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from decimal import Decimal, InvalidOperation

from django.db import transaction

from inventory.ledger import Fact, Witness, record
from inventory.models import Entry, Grade, Item, Photo, Verb
from shipping.packing.facts import State
from shipping.packing.rules import RULES
from shipping.planning import findings_for_case
from shipping.sealing import hold_case, next_moment

LB_KG = Decimal("0.45359237")  # the international pound, exact by definition


class LookRefusal(ValueError):
    """This is no evidence. Carries a sentence to show."""


@transaction.atomic
def confirm(
    case: Item, answers: Mapping[str, str], *, by: Witness, at: datetime, photo: Photo | None = None,
    grade: str = Grade.TICK,
) -> list[Entry]:  # fmt: skip
    """Record what was found for each rule: yes, no, or a number in its unit. One act; of a case or a vehicle."""
    said = {rule: value.strip().replace(",", ".") for rule, value in answers.items() if value.strip()}
    if not said:
        raise LookRefusal("Tick at least one line, or measure one.")
    for rule, value in said.items():
        _check(rule, value)
    hold_case(case)
    facts = [Fact(Verb.CHECKED, case, rule=r, value=v, photo=photo, grade=grade) for r, v in said.items()]
    return record(facts, by=by, at=next_moment(case, at))


def _check(rule: str, value: str) -> None:
    known = RULES.get(rule)
    if known is None or not known.asks:
        raise LookRefusal(f"No rule called {rule} asks for a look.")
    if known.measure:
        try:
            right = Decimal(value.split()[0]) >= 0
        except (InvalidOperation, IndexError):
            right = False
        if not right:
            raise LookRefusal(f"{known.sentence} Write the measure in {known.measure}, as a number.")
    elif value.lower() not in {"yes", "no"}:
        raise LookRefusal(f"{known.sentence} Answer yes or no.")


def as_in_the_photo(case: Item, *, by: Witness, at: datetime, photo: Photo | None = None) -> list[Entry]:
    """Confirm everything that is asked and needs no measure: it is packed as the photo shows."""
    asked = {
        one.rule: "yes" for one in findings_for_case(case, at)
        if one.state == State.NOT_CONFIRMED and not RULES[one.rule].measure
    }  # fmt: skip
    if not asked:
        raise LookRefusal("Nothing is asked that a photo could show.")
    return confirm(case, asked, by=by, at=at, photo=photo)


def in_words(looks: Sequence[Entry]) -> str:
    return f"{len(looks)} look{'s' if len(looks) != 1 else ''} confirmed"


def read_mass(text: str) -> int:
    """A reading of a scale, in grams: "29.1", "29,1 kg", "64 lb"."""
    words = text.strip().lower().replace(",", ".").replace("kg", " kg").replace("lb", " lb").split()
    try:
        number = Decimal(words[0])
    except (InvalidOperation, IndexError) as none:
        raise LookRefusal("Write what the scale says in kg, for example 29.1.") from none
    unit = words[1] if len(words) > 1 else "kg"
    if unit not in {"kg", "lb", "lbs"} or not number.is_finite() or len(words) > 2:
        raise LookRefusal("Write what the scale says in kg, or in lb with lb behind it.")
    grams = int((number * (LB_KG if unit.startswith("lb") else 1) * 1000).to_integral_value())
    if not 0 < grams <= 5_000_000:
        raise LookRefusal("A case weighs more than nothing and less than five tonnes. Read the scale again.")
    return grams


@transaction.atomic
def weigh(case: Item, mass_g: int, *, by: Witness, at: datetime) -> Entry:
    """Record what the scale said. It counts until the case is opened."""
    hold_case(case)
    return record([Fact(Verb.WEIGHED, case, mass_g=mass_g, grade=Grade.TICK)], by=by, at=next_moment(case, at))[0]
