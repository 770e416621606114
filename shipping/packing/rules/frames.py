"""Frames and what is bolted into a rack."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from shipping.packing.balancing import racked_in
from shipping.packing.facts import Case, Load, Piece, Severity
from shipping.packing.racks import balance_pct
from shipping.packing.rules.registry import FOR_THE_TYPE, Ask, Limit, Said, ask, number_words, rule, unknown, wrong


def _racked(load: Load) -> Iterator[tuple[Case, Piece]]:
    """What is mounted in a rack case: it has rack units and is not fitted inside another thing."""
    for case, piece in load.each():
        if piece.rack_units and piece.within is None and piece.kind not in {"case", "rails", "shelf", "blank"}:
            yield case, piece


@rule("R", Severity.BLOCK, "common practice: a frame without its rails cannot be mounted")
def rails_with_frame(load: Load) -> Iterator[Said | Ask]:
    """A rack-mounted frame travels with a complete set of its system's rails: fitted, or on the same leg."""
    for case, frame in load.each("frame"):
        if frame.rack_units is None or frame.needs_rails is False:
            continue
        system = load.system(frame.system_id)
        if frame.needs_rails is None:
            yield unknown(
                case, f"Nobody has said whether {frame.name} needs rails.", "Enter it with its type.", frame=frame.id
            )
        elif system is None or system.rails is None:
            yield unknown(
                case,
                f"Nobody has said which rails belong to {frame.name}.",
                "List the rails among the parts of its system.",
                frame=frame.id,
            )
        else:
            yield from _missing_rails(load, case, frame)


def _missing_rails(load: Load, case: Case, frame: Piece) -> Iterator[Said | Ask]:
    system = load.system(frame.system_id)
    with_it = load.pieces if load.leg else list(case.pieces)
    for rail in (system.rails or ()) if system else ():
        short = rail.short_by(with_it)
        if not short:
            continue
        if load.leg is None:
            yield unknown(
                case,
                f"{rail.name} is not in {case.number}, and no leg says what travels with it.",
                "Put the case on a consignment with a leg.",
                frame=frame.id,
                rail=rail.item_id or rail.type_id,
            )
            continue
        where = f" It is {rail.where}." if rail.where else ""
        yield wrong(
            case,
            f"{frame.name} travels without its {rail.name}.{where}",
            "Bring the rail onto this leg, or hire one.",
            frame=frame.id,
            rail=rail.item_id or rail.type_id,
            short=short,
            leg=load.leg.id,
        )


@rule(
    "9",
    Severity.BLOCK,
    "common practice",
    asks="a photo of the rear",
    limits={
        "mass_kg": Limit(Decimal(12), "kg", "heavier than this needs rear support"),
        "depth_mm": Limit(Decimal(450), "mm", "deeper than this needs rear support"),
    },
)
def rear_support(load: Load, mass_kg: Decimal, depth_mm: Decimal) -> Iterator[Said | Ask]:
    """A heavy or deep rack unit is supported at the rear for the road."""
    for case, unit in _racked(load):
        heavy = unit.mass_kg is not None and unit.mass_kg > mass_kg
        deep = unit.rack_depth_mm is not None and unit.rack_depth_mm > depth_mm
        if heavy or deep:
            yield ask(
                case,
                f"Is {unit.name} supported at the rear?",
                f"{unit.name} hangs on its front ears.",
                "Fit a rear support or a shelf.",
                piece=unit.id,
            )
        elif unit.mass_kg is None or unit.rack_depth_mm is None:
            yield unknown(
                case,
                f"Mass or depth of {unit.name} is not entered: nobody can say if it needs rear support.",
                "Enter mass and depth with its type.",
                unit_type=unit.type_id,
            )


@rule("10", Severity.BLOCK, "handbooks in general; common practice", asks="a tick")
def rails_are_no_support(load: Load) -> Iterator[Said | Ask]:
    """Slide rails are no transport support: the unit is off its slides, or bolted front and rear."""
    for case, unit in _racked(load):
        if unit.needs_rails is None:
            if unit.kind == "frame":
                yield unknown(
                    case,
                    f"Nobody has said whether {unit.name} sits on rails.",
                    "Enter it with its type.",
                    unit_type=unit.type_id,
                )
        elif unit.needs_rails:
            yield ask(
                case,
                f"Is {unit.name} off its slides, or bolted front and rear?",
                f"{unit.name} travels on its slides.",
                "Bolt it, or take it off the slides.",
                piece=unit.id,
            )


@rule(
    "11",
    Severity.WARN,
    "common practice",
    limits={"cog_pct": Limit(Decimal(45), "%", "of the rack's height, measured from below")},
)
def heavy_low(load: Load, cog_pct: Decimal) -> Iterator[Said | Ask]:
    """The heaviest units are lowest in a rack case: the contents balance below the share of its height set here."""
    for case in load.cases:
        units = racked_in(case)
        if not case.rack_units or not units:
            continue
        height = balance_pct(case.rack_units, units)
        if height is None:
            yield unknown(
                case,
                f"Mass or rack position of something in {case.number} is not entered.",
                "Say in which unit each thing sits, and what it weighs.",
            )
            continue
        if height >= cog_pct:
            yield wrong(
                case,
                f"{case.number} balances at {height:.0f} % of its height; {cog_pct:f} % is the most.",
                "Move the heaviest units down.",
                height=f"{height:.0f}",
                limit=cog_pct,
            )


@rule(
    "12",
    Severity.WARN,
    "common practice",
    asks="a measure in mm, once for each case type",
    measure="mm",
    lasts=FOR_THE_TYPE,
    limits={"rear_mm": Limit(Decimal(75), "mm", "between the rear lid and connectors left on")},
    always_known="only a measure can tell",
)
def rear_gap(load: Load, rear_mm: Decimal) -> Iterator[Said | Ask]:
    """The rear lid of a rack case clears the connectors that stay on."""
    yield from _gap(
        load,
        rear_mm,
        f"How far is the rear lid from the connectors that stay on? {rear_mm:f} mm is asked.",
        "The rear lid clears the connectors by only {measured} mm.",
        "Take the connectors off, set the gear forward, or use a deeper case.",
    )


@rule(
    "12",
    Severity.WARN,
    "common practice",
    asks="a measure in mm, once for each case type",
    measure="mm",
    lasts=FOR_THE_TYPE,
    limits={"front_mm": Limit(Decimal(30), "mm", "between the front lid and knobs or cables")},
    always_known="only a measure can tell",
)
def lid_gap(load: Load, front_mm: Decimal) -> Iterator[Said | Ask]:
    """The lid of a rack case clears knobs and cables."""
    yield from _gap(
        load,
        front_mm,
        f"How far is the front lid from knobs and cables? {front_mm:f} mm is asked.",
        "The lid clears knobs and cables by only {measured} mm.",
        "Set the gear back, or use a deeper case.",
    )


def _gap(load: Load, at_least: Decimal, question: str, if_not: str, way_out: str) -> Iterator[Ask]:
    """A measure asked of every rack case with gear in its rack, once for its type."""
    for case in load.cases:
        if case.rack_units and any(piece.rack_units for piece in case.pieces):
            yield ask(case, question, if_not, way_out, at_least=at_least, unit="mm", case_type=case.type_id)


@rule(
    "13",
    Severity.WARN,
    "handbooks in general; common practice",
    asks="a photo of the supplies",
    always_known="only a look can tell",
)
def supplies_latched(load: Load) -> Iterator[Said | Ask]:
    """Power supplies are latched, or out and packed beside."""
    for case, frame in load.each("frame"):
        if frame.supplies:
            yield ask(
                case,
                f"Are the supplies of {frame.name} latched, or out and packed beside?",
                f"A supply of {frame.name} is in and not latched.",
                "Latch it, or pack it beside.",
                frame=frame.id,
            )


@rule("R", Severity.WARN, "common practice: one supply of a redundant pair is no spare")
def redundant_supply(load: Load) -> Iterator[Said | Ask]:
    """A frame made for redundant supplies travels with all of them."""
    for case, frame in load.each("frame"):
        if not frame.supplies:
            continue
        if frame.system_id is None:
            yield unknown(
                case,
                f"Nobody has said which system {frame.name} belongs to: its supplies cannot be told.",
                "Give it its system.",
                frame=frame.id,
            )
            continue
        here = _supplies_with(case, frame)
        if here < frame.supplies:
            yield wrong(
                case,
                f"{frame.name} has {here} of its {frame.supplies} supplies with it.",
                "Fit the missing supply, or pack one beside.",
                frame=frame.id,
                here=here,
                of=frame.supplies,
            )


def _supplies_with(case: Case, frame: Piece) -> int:
    """Sound supplies fitted in the frame, or of its system in the same case."""
    return sum(
        piece.quantity
        for piece in case.of_kind("power supply")
        if not piece.fault and (piece.within == frame.id or piece.system_id == frame.system_id)
    )


@rule("14", Severity.WARN, "handbooks in general; common practice", asks="a tick", always_known="only a look can tell")
def bracket_fitted(load: Load) -> Iterator[Said | Ask]:
    """Cards and brackets inside are secured; a transport bracket is fitted where the model has one."""
    for case, piece in load.each():
        if piece.transport_bracket:
            yield ask(
                case,
                f"Is the transport bracket of {piece.name} fitted?",
                f"{piece.name} travels without its bracket.",
                "Fit the bracket.",
                piece=piece.id,
            )


@rule("15", Severity.BLOCK, "handbooks in general; common practice", asks="a tick", always_known="only a look can tell")
def shut_down(load: Load) -> Iterator[Said | Ask]:
    """Every powered unit was shut down by its own procedure, and its cord is off."""
    for case, found in load.holding("frame", "ups", "controller"):
        names = ", ".join(piece.name for piece in found)
        yield ask(
            case,
            f"Shut down by its own procedure, cord off: {names}?",
            f"Not shut down by its own procedure: {names}.",
            "Shut it down, take the cord off.",
            pieces=",".join(str(piece.id) for piece in found),
        )


def mass_words(mass: Decimal | None) -> str:
    return "mass not known" if mass is None else f"{number_words(mass)} kg"
