"""Batteries and UPS. Prompts for a dangerous-goods person; never a statement that a shipment may fly."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Protocol

from shipping.packing.facts import Case, Leg, Load, Piece, Severity
from shipping.packing.rules.registry import Ask, Limit, Said, ask, exact, number_words, rule, unknown, wrong

AIR = "ICAO Technical Instructions and IATA rules as seen on secondary pages (2026); the carrier's own rules go further"
LITHIUM = ("lithium", "li-ion", "liion", "lipo", "lifepo")
# IATA's table 2.3.A by watt-hours, from secondary pages of 2018; power banks have rules of their own.
AS_BAGGAGE = {
    "100-160": "As baggage it needs the airline's approval beforehand: check the carrier.",
    ">160": "No battery of this size goes as baggage, only as cargo if at all.",
}
ASK_DG = "Stop: ask the carrier's dangerous-goods person; or send it by road, or hire one there."


class HasBattery(Protocol):
    """A thing of which somebody may have said what battery it is or has."""

    @property
    def battery_chemistry(self) -> str: ...


def watt_hours(volts: Decimal, amp_hours: Decimal) -> Decimal:
    """Nominal volts times amp hours, unrounded: 14.8 V of 6.76 Ah is 100.048 Wh, and over 100."""
    return volts * amp_hours


def air_band(wh: Decimal, small: Decimal = Decimal(100), large: Decimal = Decimal(160)) -> str:
    """Which of the three bands of the air rules a battery falls in, compared unrounded."""
    if wh <= small:
        return "<=100"
    return "100-160" if wh <= large else ">160"


def is_lithium(piece: HasBattery) -> bool:
    return piece.battery_chemistry.lower().startswith(LITHIUM)


def is_lead(piece: Piece) -> bool:
    return piece.battery_chemistry.lower().startswith("lead")


def _flying(load: Load) -> Iterator[tuple[Leg, Case, Piece]]:
    """Everything with a battery, or a UPS, on a leg by air."""
    if load.leg is None or load.leg.mode != "air":
        return
    for case, piece in load.each():
        if piece.battery_count or piece.battery_chemistry or piece.kind in {"ups", "battery"}:
            yield load.leg, case, piece


def needed_beside(kind: str, battery_count: int) -> int:
    """How many batteries by themselves it takes a thing to run: those may be packed with it.

    49 CFR 173.185 calls equipment "the device or apparatus for which the lithium cells or batteries will provide
    electrical power for its operation". A UPS takes none: like a power bank it is a store of power for others, and such
    stores count as batteries (PHMSA's letter 16-0018 of 2016, seen as a search result).
    """
    return 0 if kind in {"battery", "ups"} else battery_count


def runs_on_batteries(case: Case) -> list[Piece]:
    """Equipment in a case that batteries in the same case are packed with."""
    return [piece for piece in case.pieces if needed_beside(piece.kind, piece.battery_count)]


@rule("23", Severity.BLOCK, AIR, decision_only=True, asks="the word of the carrier's dangerous-goods person")
def lithium_alone_by_air(load: Load) -> Iterator[Said | Ask]:
    """Lithium batteries alone do not fly on passenger aircraft; on cargo aircraft a dangerous-goods person decides."""
    for leg, case, piece in _flying(load):
        if piece.kind == "ups" and is_lithium(piece):
            yield _as_equipment(leg, case, piece)
        if piece.kind != "battery" or (piece.battery_chemistry and runs_on_batteries(case)):
            continue
        if not piece.battery_chemistry:
            yield unknown(
                case,
                f"{piece.name} flies and nobody has said what battery it is.",
                "Read its plate, enter it.",
                piece=piece.id,
            )
        elif is_lithium(piece):
            aircraft = "a passenger aircraft" if leg.passenger_aircraft else "an aircraft"
            yield wrong(
                case,
                f"{piece.name} is a lithium battery without equipment, on {aircraft}.",
                ASK_DG,
                piece=piece.id,
                leg=leg.id,
                passenger=leg.passenger_aircraft,
            )


def _as_equipment(leg: Leg, case: Case, ups: Piece) -> Ask:
    """Power banks and the like count as batteries; whether a UPS does is the carrier's to say."""
    return ask(
        case,
        f"Does the carrier take {ups.name} as equipment with a battery in it, not as a battery alone?",
        f"The carrier takes {ups.name} as a lithium battery alone.",
        ASK_DG,
        piece=ups.id,
        leg=leg.id,
        passenger=leg.passenger_aircraft,
    )


@rule(
    "24",
    Severity.BLOCK,
    AIR,
    decision_only=True,
    asks="the state of charge in %, with a photo",
    measure="%",
    limits={
        "soc_pct": Limit(Decimal(30), "%", "charge of a battery packed with equipment, since 1 January 2026"),
        "spares": Limit(Decimal(2), "batteries", "more than the equipment needs to run"),
        "net_kg": Limit(Decimal(5), "kg", "batteries in one package on a passenger aircraft"),
    },
)
def lithium_with_equipment_by_air(
    load: Load, soc_pct: Decimal, spares: Decimal, net_kg: Decimal
) -> Iterator[Said | Ask]:
    """Lithium batteries packed with their equipment fly few, light and no more than 30 % charged."""
    for case in load.cases:
        packs = [piece for leg, its, piece in _flying(load) if its is case and piece.kind == "battery"]
        packs = [piece for piece in packs if is_lithium(piece)]
        served = runs_on_batteries(case)
        if load.leg is None or not packs or not served:
            continue
        yield from _too_many(load.leg, case, packs, served, spares)
        if load.leg.passenger_aircraft:
            yield from _too_heavy(load.leg, case, packs, net_kg)
        yield ask(
            case,
            f"How far are the batteries in {case.number} charged? At most {soc_pct:f} % flies.",
            "The batteries are {measured} % charged.",
            ASK_DG,
            at_most=soc_pct,
            unit="%",
            pieces=",".join(str(piece.id) for piece in packs),
        )


def _too_many(leg: Leg, case: Case, packs: list[Piece], served: list[Piece], spares: Decimal) -> Iterator[Said]:
    count = sum(piece.quantity for piece in packs)
    needed = sum(piece.battery_count * piece.quantity for piece in served)
    if count > needed + spares:
        yield wrong(
            case,
            f"{count} lithium batteries in {case.number}: what is with them needs {needed}, {spares:f} more may fly.",
            ASK_DG,
            leg=leg.id,
            count=count,
            needed=needed,
        )


def _too_heavy(leg: Leg, case: Case, packs: list[Piece], net_kg: Decimal) -> Iterator[Said]:
    masses = [piece.total_kg for piece in packs]
    known = sum((mass for mass in masses if mass is not None), Decimal(0))
    if known > net_kg:
        yield wrong(
            case,
            f"{number_words(known)} kg of lithium batteries lie in {case.number}: over {number_words(net_kg)} kg on a "
            "passenger aircraft.",
            ASK_DG,
            leg=leg.id,
            net=exact(known),
        )
    elif None in masses:
        yield unknown(
            case,
            f"What the lithium batteries in {case.number} weigh is not known, and they fly.",
            "Enter their mass with their type.",
            leg=leg.id,
        )


@rule(
    "25",
    Severity.BLOCK,
    AIR,
    decision_only=True,
    limits={"wh": Limit(Decimal(100), "Wh", "above this a battery in equipment is dangerous goods")},
)
def lithium_in_equipment_by_air(load: Load, wh: Decimal) -> Iterator[Said | Ask]:
    """Lithium in equipment above 100 Wh does not fly without a dangerous-goods person's decision."""
    for leg, case, piece in _flying(load):
        if piece.kind == "battery":
            continue
        if not piece.battery_chemistry or (is_lithium(piece) and piece.battery_wh is None):
            yield unknown(
                case,
                f"{piece.name} flies and nobody has said what battery is in it.",
                "Read the watt-hours off its plate, enter them.",
                piece=piece.id,
            )
        elif is_lithium(piece) and piece.battery_wh is not None and piece.battery_wh > wh:
            yield wrong(
                case,
                f"{piece.name} holds {number_words(piece.battery_wh)} Wh of lithium and goes by air ({leg.name}).",
                f"{AS_BAGGAGE.get(air_band(piece.battery_wh), '') if leg.baggage else ''} {ASK_DG}".strip(),
                piece=piece.id,
                leg=leg.id,
                wh=exact(piece.battery_wh),
                limit=exact(wh),
            )


@rule("26", Severity.BLOCK, AIR, decision_only=True)
def lead_acid_by_air(load: Load) -> Iterator[Said | Ask]:
    """A lead-acid UPS flies only on a dangerous-goods person's word: non-spillable, isolated, covered, cannot start."""
    for leg, case, piece in _flying(load):
        if piece.kind == "ups" and not piece.battery_chemistry:
            yield unknown(
                case,
                f"{piece.name} flies and nobody has said what battery is in it.",
                "Read its plate, enter it.",
                piece=piece.id,
            )
        elif is_lead(piece):
            yield wrong(
                case,
                f"{piece.name} holds a lead-acid battery and goes by air ({leg.name}).",
                ASK_DG,
                piece=piece.id,
                leg=leg.id,
            )


@rule("27", Severity.WARN, "common practice; crew do not open it", asks="a tick", always_known="only a look can tell")
def ups_on_the_road(load: Load) -> Iterator[Said | Ask]:
    """A UPS travels with its output off, isolated by a competent person after the maker's manual, upright and low."""
    for case, found in load.holding("ups"):
        names = ", ".join(piece.name for piece in found)
        yield ask(
            case,
            f"Output off, isolated by a competent person, upright: {names}?",
            f"{names} is not off or not upright.",
            "Have a competent person isolate it after the maker's manual.",
            pieces=",".join(str(piece.id) for piece in found),
        )


@rule(
    "28",
    Severity.BLOCK,
    "common practice; air and road rules ask the same",
    asks="a tick",
    decision_only=True,
    always_known="what lies with it is on the case's list",
)
def spare_batteries(load: Load) -> Iterator[Said | Ask]:
    """Spare batteries have their terminals covered and are never loose with tools."""
    for case, found in load.holding("battery"):
        tools = case.of_kind("tool")
        for piece in found:
            mates = [tool for tool in tools if tool.bay == piece.bay]
            if mates:
                yield wrong(
                    case,
                    f"{piece.name} lies with {mates[0].name}.",
                    "Give the battery a box of its own.",
                    piece=piece.id,
                    tool=mates[0].id,
                )
        names = ", ".join(piece.name for piece in found)
        yield ask(
            case,
            f"Are the terminals covered: {names}?",
            f"Open terminals: {names}.",
            "Cover the terminals.",
            pieces=",".join(str(piece.id) for piece in found),
        )


@rule("U", Severity.WARN, "common practice: square or stepped waves trouble switched supplies")
def ups_true_sine(load: Load) -> Iterator[Said | Ask]:
    """A UPS for a system that needs one gives a true sine wave."""
    for case, piece in load.each("ups"):
        system = load.system(piece.system_id)
        if system is None or not system.needs_true_sine:
            continue
        if piece.true_sine is None:
            yield unknown(
                case,
                f"Nobody has said whether {piece.name} gives a true sine wave, and {system.name} needs one.",
                "Read its plate, enter it with its type.",
                piece=piece.id,
            )
        elif not piece.true_sine:
            yield wrong(
                case,
                f"{piece.name} does not give a true sine wave, and {system.name} needs one.",
                "Take a UPS with a true sine wave.",
                piece=piece.id,
                system=system.id,
            )
