"""What belongs in a case, what does not, and what is not fit to go."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from decimal import Decimal

from shipping.packing.facts import Load, Piece, Severity
from shipping.packing.rules.registry import Ask, Limit, Said, rule, unknown, wrong


@rule("16", Severity.ADVISE, "common practice")
def cords_with_their_unit(load: Load) -> Iterator[Said | Ask]:
    """Cords are coiled, tied, and with the unit they serve or in the power case, as listed."""
    for case, cord in load.each("cord"):
        if cord.is_lot:
            continue
        if cord.belongs_here is None:
            yield unknown(case, f"Nobody has said where {cord.name} belongs.", "Give it a home case.", cord=cord.id)
        elif not cord.belongs_here:
            home = f" It belongs in {cord.home_case}." if cord.home_case else ""
            yield wrong(
                case,
                f"{cord.name} is not on the list of {case.number}.{home}",
                "Put it with the unit it serves.",
                cord=cord.id,
                case=case.id,
            )


@rule("T", Severity.WARN, "common practice: alike is not the same, the serial decides")
def belongs_here(load: Load) -> Iterator[Said | Ask]:
    """What is in a case is what its list names, by serial and not by likeness."""
    for case, piece in load.each():
        if piece.kind in {"drive", "cord"} or piece.within is not None:
            continue
        if piece.belongs_here is None:
            yield unknown(case, f"Nobody has said where {piece.name} belongs.", "Give it a home case.", piece=piece.id)
        elif not piece.belongs_here:
            home = f" It belongs in {piece.home_case}." if piece.home_case else ""
            yield wrong(
                case,
                f"{piece.name} is not on the list of {case.number}.{home}",
                "Swap it back, or make this its home.",
                piece=piece.id,
                case=case.id,
            )


@rule("T", Severity.WARN, "common practice", always_known="the list of the case is what it is set against")
def as_listed(load: Load) -> Iterator[Said | Ask]:
    """Everything on the list of a case is in it."""
    for case in load.cases:
        for gone in [one for one in case.missing if one.kind != "drive"]:  # drives: the rules about sets
            where = f" It is {gone.where}." if gone.where else " Nobody has said where it is."
            yield wrong(
                case,
                f"{gone.name} is not in {case.number}.{where}",
                "Bring it, or say why it stays.",
                piece=gone.id,
                case=case.id,
            )


@rule("F", Severity.WARN, "common practice", always_known="a fault nobody reported cannot be asked for here")
def no_open_fault(load: Load) -> Iterator[Said | Ask]:
    """Nothing with an open fault travels as if it were good."""
    for case, piece in load.each():
        if piece.fault:
            yield wrong(
                case,
                f"{piece.name} has an open fault: {piece.fault}.",
                "Leave it, or take another; close the fault.",
                piece=piece.id,
            )


@rule("43", Severity.WARN, "common practice")
def spare_apart(load: Load) -> Iterator[Said | Ask]:
    """Every show-stopper has a spare, in another case than the part."""
    sound = [(case, piece) for case, piece in load.each() if not piece.fault] if load.show else []
    for system in load.systems:
        for part in system.stoppers:
            if load.show is None:
                continue
            alike = [(case, piece) for case, piece in sound if _is(piece, part.item_id, part.type_id)]
            holders, count = {case.id: case for case, _ in alike}, sum(piece.quantity for _, piece in alike)
            if part.type_id is None:
                yield unknown(
                    load.show,
                    f"Nobody has said what could replace {part.name} of {system.name}.",
                    "List a part by type as its spare.",
                    part=part.item_id,
                    system=system.id,
                )
            elif count <= part.quantity:
                yield wrong(
                    load.show,
                    f"There is no spare {part.name} for {system.name}.",
                    "Take one along, or hire one.",
                    part=part.type_id,
                    system=system.id,
                    count=count,
                )
            elif len(holders) < 2:
                only = next(iter(holders.values())).number
                yield wrong(
                    load.show,
                    f"{part.name} and its spare are both in {only}.",
                    "Move the spare to another case.",
                    part=part.type_id,
                    system=system.id,
                    case=next(iter(holders)),
                )


def _is(piece: Piece, item_id: int | None, type_id: int | None) -> bool:
    return piece.id == item_id if type_id is None else piece.type_id == type_id


@rule(
    "44",
    Severity.BLOCK,
    "code of practice for in-service inspection; your competent person sets the interval",
    limits={"margin_days": Limit(Decimal(7), "days", "after the show ends")},
)
def inspected_through(load: Load, margin_days: Decimal) -> Iterator[Said | Ask]:
    """Electrical inspection is in date to the end of the show and a week more."""
    until = (load.show.ends_on if load.show else load.on) + timedelta(days=int(margin_days))
    for case, piece in load.each():
        if not piece.inspected:
            continue
        if piece.inspection_due is None:
            yield unknown(
                case, f"Nobody has said until when {piece.name} is inspected.", "Enter its inspection.", piece=piece.id
            )
        elif piece.inspection_due < until:
            severity = Severity.BLOCK if load.show else Severity.WARN
            yield wrong(
                case,
                f"The inspection of {piece.name} runs out on {piece.inspection_due:%d %B %Y}, before {until:%d %B %Y}.",
                "Have it inspected, or take another.",
                severity,
                piece=piece.id,
                due=piece.inspection_due,
                until=until,
            )
