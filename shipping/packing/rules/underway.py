"""On the way and on arrival: balance, nights, cold, and who goes with what was recorded."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from decimal import Decimal

from shipping.packing.facts import Kept, Leg, Load, Piece, Severity, Stand
from shipping.packing.money import by_currency
from shipping.packing.rules.registry import Ask, Limit, Said, ask, exact, number_words, rule, unknown, wrong

DELICATE = frozenset({"frame", "panel", "drive"})


@rule(
    "41",
    Severity.ADVISE,
    "common practice; reckoned from rows and places as said when loading, no axle is weighed",
    limits={"imbalance": Limit(Decimal("0.15"), "of the load", "one side may be heavier by this")},
)
def load_balanced(load: Load, imbalance: Decimal) -> Iterator[Said | Ask]:
    """The load is level from nose to tail and from side to side."""
    leg = load.leg
    if leg is None or len({(one.row, one.place) for one in leg.stands}) < 2:
        return
    masses = {case.id: case.gross_kg for case in load.cases}
    names = {case.id: case.number for case in load.cases}
    unweighed = [names[one.case_id] for one in leg.stands if one.case_id in names and masses[one.case_id] is None]
    if unweighed:
        yield unknown(leg, f"Balance is not known: no mass for {', '.join(unweighed)}.", "Weigh them.")
        return
    known = {ident: mass for ident, mass in masses.items() if mass is not None}
    for ends, halves in ((("front", "back"), _nose_to_tail(leg)), (("left", "right"), _side_to_side(leg))):
        yield from _uneven(leg, ends, halves, known, imbalance)


def _uneven(
    leg: Leg, ends: tuple[str, str], half_of: Callable[[Stand], int], masses: dict[int, Decimal], most: Decimal
) -> Iterator[Said]:
    sums = [sum((masses.get(s.case_id, Decimal(0)) for s in leg.stands if half_of(s) == half), Decimal(0)) for half in (-1, 1)]  # noqa: E501  # fmt: skip
    total = sum((masses.get(stand.case_id, Decimal(0)) for stand in leg.stands), Decimal(0))
    if total and abs(sums[0] - sums[1]) > total * most:
        heavy, light = (0, 1) if sums[0] > sums[1] else (1, 0)
        yield wrong(
            leg,
            f"The {ends[heavy]} carries {number_words(sums[heavy])} kg, the {ends[light]} {number_words(sums[light])} "
            f"kg: more than {number_words(most * 100)} % apart.",
            f"Move something heavy to the {ends[light]}.",
            ends="-".join(ends),
            first=exact(sums[0]),
            second=exact(sums[1]),
        )


def _nose_to_tail(leg: Leg) -> Callable[[Stand], int]:
    """-1 for the front half of the rows, 1 for the back half, 0 for the row in the middle."""
    last = max(stand.row for stand in leg.stands)
    return lambda stand: _side(stand.row, last)


def _side_to_side(leg: Leg) -> Callable[[Stand], int]:
    """-1 for the left of its row, 1 for the right, 0 for the place in the middle."""
    across: dict[int, int] = defaultdict(int)
    for stand in leg.stands:
        across[stand.row] = max(across[stand.row], stand.place)
    return lambda stand: _side(stand.place, across[stand.row])


def _side(place: int, of: int) -> int:
    twice = 2 * place - 1
    return (twice > of) - (twice < of)


@rule(
    "42",
    Severity.WARN,
    "common practice; handbooks let drives lie overnight",
    asks="the difference in °C",
    measure="°C",
    limits={
        "dt_c": Limit(Decimal(10), "°C", "colder than the room by at most this"),
        "wait_min": Limit(Decimal(60), "min", "the wait in the closed case"),
    },
    always_known="only a thermometer can tell",
)
def warm_before_power(load: Load, dt_c: Decimal, wait_min: Decimal) -> Iterator[Said | Ask]:
    """What comes in from the cold gets warm in its closed case before it is opened and powered."""
    if load.leg is None or not load.leg.arrived:
        return
    for case in load.cases:
        if case.seal and any(piece.kind in DELICATE or piece.shock_critical for piece in case.pieces):
            yield ask(
                case,
                f"How many °C colder than the room is {case.number}?",
                "It is {measured} °C colder than the room: water may form inside.",
                f"Let it stand closed for {number_words(wait_min)} minutes; a rack that was cold for long, 4 to "
                "12 hours; drives overnight.",
                at_most=dt_c,
                unit="°C",
                leg=load.leg.id,
            )


@rule(
    "46",
    Severity.WARN,
    "insurers commonly exclude it: read the policy",
    asks="a photo of the place",
    limits={"value": Limit(Decimal(20000), "in any one currency", "goods left overnight without more ado")},
)
def guarded_overnight(load: Load, value: Decimal) -> Iterator[Said | Ask]:
    """A vehicle that stands overnight with much in it is alarmed and in a locked compound, or the drives are out."""
    leg = load.leg
    if leg is None or leg.vehicle is None or leg.overnight is False or not load.cases:
        return
    sums = value_by_currency(load.pieces)
    dear = {currency: most for currency, most in sums.items() if most > value}
    words = " and ".join(f"{number_words(most)} {currency}".strip() for currency, most in sorted(dear.items()))
    if not dear:
        unvalued = sorted({piece.type_name or piece.name for piece in load.pieces if piece.value is None})
        if unvalued and leg.overnight:
            yield unknown(
                leg,
                f"What {leg.vehicle.name} carries overnight is not known: no value for {', '.join(unvalued[:3])}.",
                "Enter the values with their types.",
                vehicle=leg.vehicle.id,
            )
    elif leg.overnight is None:
        yield unknown(
            leg,
            f"{leg.vehicle.name} carries {words}; nobody has said when it leaves and arrives.",
            "Enter the times of the leg.",
            vehicle=leg.vehicle.id,
        )
    else:
        yield ask(
            leg,
            f"{leg.vehicle.name} stands overnight with {words}. Alarmed and in a locked compound, or the drives out?",
            f"{leg.vehicle.name} is to stand unguarded overnight with {words}.",
            "Find a locked compound and set the alarm, or take the drives to the hotel safe.",
            vehicle=leg.vehicle.id,
            value=words,
        )


def value_by_currency(pieces: list[Piece]) -> dict[str, Decimal]:
    """Replacement values as entered, added up for each currency; what has none is left out."""
    return by_currency((piece.total_value, piece.currency) for piece in pieces)


@rule("30", Severity.WARN, "post-production custody practice", always_known="a leg names who goes along, or nobody")
def drives_with_a_holder(load: Load) -> Iterator[Said | Ask]:
    """Drives whose content is not released travel with somebody who is named, not alone as general freight."""
    leg = load.leg
    if leg is None or leg.holder:
        return
    for case in load.cases:
        kept = [one for one in load.kept if not one.released and one.case_id == case.id]
        if kept:
            shows = ", ".join(sorted({one.reference for one in kept}))
            yield wrong(
                case,
                f"{case.number} holds what was recorded at {shows}, unreleased, and nobody is named to go with it.",
                "Name the driver, hand the drives over to a person, or have the content released.",
                leg=leg.id,
                drives=",".join(str(one.drive_id) for one in kept),
            )


@rule("29", Severity.BLOCK, "the 3-2-1 rule of thumb for copies, applied to transport")
def not_with_the_only_copy(load: Load) -> Iterator[Said | Ask]:
    """A drive and the only other copy of what it holds never travel in the same vehicle."""
    leg = load.leg
    if leg is None:
        return
    names = {piece.id: piece.name for case in load.cases for piece in case.pieces}
    nowhere_else = [one for one in load.kept if not one.released and not one.copies_elsewhere]
    for reference in sorted({one.reference for one in nowhere_else}):
        kept = [one for one in nowhere_else if one.reference == reference]
        unplaced = _drives(one for one in kept if one.copies_unplaced)
        together = _drives(one for one in kept if one.copies_aboard and not one.copies_unplaced)
        for drives, said in ((together, _together), (unplaced, _unplaced)):
            if drives:
                words = ", ".join(sorted(names[one] for one in drives))
                yield said(leg, reference, words, ",".join(map(str, drives)))


def _drives(kept: Iterable[Kept]) -> list[int]:
    """A set is as safe as its drive with the fewest copies, so each drive is asked for itself."""
    return sorted({one.drive_id for one in kept})


def _together(leg: Leg, reference: str, names: str, drives: str) -> Said:
    return wrong(
        leg,
        f"{names} and the only other copy of what they hold of {reference} all go on {leg.name}.",
        "Send one of them with another vehicle, or make another copy first.",
        leg=leg.id, show=reference, drives=drives,
    )  # fmt: skip


def _unplaced(leg: Leg, reference: str, names: str, drives: str) -> Said:
    return unknown(
        leg,
        f"Where the other copy of {reference} is, nobody has said; {names} go on {leg.name}.",
        "Say where the copy is.",
        leg=leg.id, show=reference, drives=drives,
    )  # fmt: skip
