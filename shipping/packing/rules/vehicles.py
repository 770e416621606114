"""Stacks, payload and order on a vehicle. Figures as entered: plated limits and a weighbridge decide."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal

from shipping.packing.facts import Case, Leg, Load, Severity
from shipping.packing.rules.registry import Ask, Limit, Said, ask, exact, number_words, rule, unknown, wrong


@rule("36", Severity.BLOCK, "common practice; a poor double stack can fall on people", decision_only=True)
def stacks_allowed(load: Load) -> Iterator[Said | Ask]:
    """A case stands on another only if both allow it: within what the lower takes, never the heavier on top."""
    if load.leg is None:
        return
    if not load.leg.stacks and _must_stack(load):
        yield unknown(
            load.leg,
            f"These cases cover more than the deck of {load.leg.name}, and nobody has said what stands on what.",
            "Say row, place and tier when loading.",
        )
    by_id = {case.id: case for case in load.cases}
    for stack in load.leg.stacks:
        standing = [by_id[ident] for ident in stack if ident in by_id]
        for height, base in enumerate(standing[:-1]):
            yield from _on_top(load.leg, base, standing[height + 1 :])


def _on_top(leg: Leg, base: Case, above: list[Case]) -> Iterator[Said | Ask]:
    names = ", ".join(case.number for case in above)
    masses = [case.gross_kg for case in above]
    facts = {"base": base.id, "above": ",".join(str(case.id) for case in above)}
    if base.max_on_top_kg is None or None in masses or base.gross_kg is None:
        yield unknown(
            leg,
            f"Whether {base.number} may carry {names} is not known: a mass or what may stand on it is not entered.",
            "Enter it, or set them side by side.",
            **facts,
        )
        return
    load_kg = sum((mass for mass in masses if mass is not None), Decimal(0))
    facts |= {"load": exact(load_kg), "limit": exact(base.max_on_top_kg)}
    if load_kg > base.max_on_top_kg:
        yield wrong(
            leg,
            f"{names} ({number_words(load_kg)} kg) stands on {base.number}, which takes "
            f"{number_words(base.max_on_top_kg)} kg.",
            "Set it on the deck.",
            **facts,
        )
    elif masses[0] is not None and masses[0] > base.gross_kg:
        yield wrong(
            leg, f"{above[0].number} is heavier than {base.number} under it.", "Heavy below, light above.", **facts
        )


def _must_stack(load: Load) -> bool:
    vehicle = load.leg.vehicle if load.leg else None
    if vehicle is None or vehicle.length_mm is None or vehicle.width_mm is None:
        return False
    floor = sum((case.length_mm or 0) * (case.width_mm or 0) for case in load.cases)
    return floor > vehicle.length_mm * vehicle.width_mm


@rule(
    "38",
    Severity.WARN,
    "load-security guides; EN 12195-1 from memory",
    asks="a tick by the driver",
    always_known="only the driver can tell",
    limits={
        "every_m": Limit(Decimal("2.4"), "m", "between restraints at the most, where not each row has one"),
        "forward_g": Limit(Decimal("0.8"), "g", "that restraints are designed for, forward"),
        "side_g": Limit(Decimal("0.5"), "g", "that they are designed for, to the sides and rear"),
    },
)
def rows_restrained(load: Load, every_m: Decimal, forward_g: Decimal, side_g: Decimal) -> Iterator[Said | Ask]:
    """Each row of the load is restrained; the driver says so, and no number of straps is reckoned here."""
    if load.leg is not None and load.leg.vehicle is not None and load.cases:
        yield ask(
            load.leg,
            f"Does the driver say that each row on {load.leg.vehicle.name} is restrained, or every "
            f"{number_words(every_m)} m at the most, for {number_words(forward_g)} g forward and "
            f"{number_words(side_g)} g to the sides and rear?",
            f"A row on {load.leg.vehicle.name} is not restrained.",
            "Restrain it; ask the driver.",
            vehicle=load.leg.vehicle.id,
        )


@rule(
    "39",
    Severity.BLOCK,
    "common practice; entered figures only, plated limits and a weighbridge decide",
    decision_only=True,
    limits={
        "share": Limit(Decimal("0.95"), "of payload", "the most that is planned for"),
        "crew_kg": Limit(Decimal(160), "kg", "crew and their bags"),
    },
)
def within_payload(load: Load, share: Decimal, crew_kg: Decimal) -> Iterator[Said | Ask]:
    """What a vehicle carries, crew included, stays within the share of its payload that is planned for."""
    vehicle = load.leg.vehicle if load.leg else None
    if load.leg is None or vehicle is None:
        return
    if vehicle.payload_kg is None:
        yield unknown(
            load.leg, f"Nobody has said what {vehicle.name} may carry.", "Enter its payload.", vehicle=vehicle.id
        )
        return
    known = sum((case.least_kg for case in load.cases), Decimal(0))
    most = vehicle.payload_kg * share
    if known + crew_kg > most:
        yield wrong(
            load.leg,
            f"{number_words(known)} kg of cases and {number_words(crew_kg)} kg of crew on {vehicle.name}: "
            f"more than {number_words(most)} kg, {number_words(share * 100)} % of the payload entered for it.",
            "Take cases off, or a larger vehicle.",
            vehicle=vehicle.id,
            mass=exact(known),
            crew=exact(crew_kg),
            most=exact(most),
        )
    elif any(case.gross_kg is None for case in load.cases):
        names = ", ".join(case.number for case in load.cases if case.gross_kg is None)
        yield unknown(load.leg, f"The mass on {vehicle.name} is not known: {names}.", "Weigh them.", vehicle=vehicle.id)


def plannable_kg(payload_kg: Decimal, limits: Mapping[tuple[str, str], Decimal]) -> Decimal:
    """What may be planned onto a vehicle by `within_payload` under these limits, less the crew; not below nought."""
    share, crew_kg = limits["within-payload", "share"], limits["within-payload", "crew_kg"]
    return max(Decimal(0), payload_kg * share - crew_kg)


@rule("40", Severity.ADVISE, "common practice: it saves hours", always_known="a flag is set or it is not")
def first_off_said(load: Load) -> Iterator[Said | Ask]:
    """The cases needed first are flagged, so that they go on last."""
    if load.leg is not None and len(load.cases) > 1 and not any(case.first_off for case in load.cases):
        yield wrong(
            load.leg, "No case is flagged as first off.", "Flag what is needed first; load it last.", leg=load.leg.id
        )
