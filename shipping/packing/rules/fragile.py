"""Panels, screens, and what must not be shaken or turned over."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from shipping.packing.facts import Load, Severity
from shipping.packing.rules.registry import FOR_THE_TYPE, Ask, Limit, Said, ask, rule, unknown, wrong

SCREENS = ("panel", "monitor", "controller")
WITH_A_PANEL = {"panel", "cover", "cord", "cable", "power supply", "adapter", "licence key", "other"}
LOOSE = {"cord", "cable", "adapter", "tool", "licence key", "mouse", "keyboard"}


@rule(
    "6",
    Severity.WARN,
    "cushioning is commonly 50 to 75 mm; common practice",
    asks="a measure in mm, once for each case type",
    measure="mm",
    lasts=FOR_THE_TYPE,
    limits={
        "light_mm": Limit(Decimal(40), "mm", "up to 15 kg"),
        "clear_mm": Limit(Decimal(50), "mm", "from 15 to 40 kg"),
        "heavy_mm": Limit(Decimal(75), "mm", "above 40 kg"),
    },
)
def foam_round_delicate(load: Load, light_mm: Decimal, clear_mm: Decimal, heavy_mm: Decimal) -> Iterator[Said | Ask]:
    """A shock-critical unit has foam enough for its mass on every side."""
    for case in load.cases:
        units = [piece for piece in case.pieces if piece.shock_critical and not piece.within and piece.kind != "drive"]
        for unit in [unit for unit in units if unit.mass_kg is None]:
            yield unknown(
                case,
                f"{unit.name} is shock-critical and its mass is not entered.",
                "Enter the mass with its type.",
                unit_type=unit.type_id,
            )
        weighed = [(unit.mass_kg, unit) for unit in units if unit.mass_kg is not None]
        if weighed:
            mass, unit = max(weighed, key=lambda pair: (pair[0], -pair[1].id))
            need = light_mm if mass <= 15 else heavy_mm if mass > 40 else clear_mm
            yield ask(
                case,
                f"How much foam is round {unit.name}? {need:f} mm is asked.",
                f"Only {{measured}} mm of foam is round {_braces(unit.name)}.",
                "Use a case with more foam.",
                at_least=need,
                unit="mm",
                case_type=case.type_id,
                unit_type=unit.type_id,
            )


def _braces(text: str) -> str:
    return text.replace("{", "{{").replace("}", "}}")


@rule(
    "7",
    Severity.BLOCK,
    "common practice",
    asks="a photo of the packed case",
    always_known="what lies where is asked, not reckoned",
)
def nothing_loose(load: Load) -> Iterator[Said | Ask]:
    """Nothing is loose in the same cavity as a screen, panel or fader."""
    for case, screens in load.holding(*SCREENS):
        loose = [piece for piece in case.pieces if piece.kind in LOOSE and piece.within is None]
        shared = [(piece, screen) for screen in screens for piece in loose if piece.bay and piece.bay == screen.bay]
        for piece, screen in shared:
            yield wrong(
                case,
                f"{piece.name} lies in {piece.bay} with {screen.name}.",
                "Give it a pouch or a slot of its own.",
                piece=piece.id,
                screen=screen.id,
            )
        if loose and not shared:
            names = ", ".join(dict.fromkeys(screen.name for screen in screens))
            yield ask(
                case,
                f"Is nothing loose in the cavity of {names}?",
                f"Something is loose beside {names}.",
                "Tie it, pouch it, or give it a slot.",
            )


@rule("8", Severity.WARN, "common practice", asks="a tick", always_known="what else is in the case is on its list")
def panel_in_its_own_case(load: Load) -> Iterator[Said | Ask]:
    """A control panel travels in its own case, cover on, with nothing stacked on the cover."""
    for case, panels in load.holding("panel"):
        others = [piece for piece in case.pieces if piece.kind not in WITH_A_PANEL]
        others += panels[1:]
        for other in others:
            yield wrong(
                case,
                f"{other.name} travels in the case of {panels[0].name}.",
                "Give it another case.",
                panel=panels[0].id,
                other=other.id,
            )
        yield ask(
            case,
            f"Is the cover on {panels[0].name}, with nothing on top of it?",
            f"The cover of {panels[0].name} is off, or something lies on it.",
            "Cover on, nothing on it.",
            panel=panels[0].id,
        )


@rule(
    "37",
    Severity.BLOCK,
    "common practice; mark 0623 of ISO 780 (number from memory)",
    asks="a tick",
    always_known="only a look can tell",
)
def this_way_up(load: Load) -> Iterator[Said | Ask]:
    """What must stay upright stands upright, and the case says so outside."""
    for case in load.cases:
        units = [piece for piece in case.pieces if piece.stays_upright]
        if units:
            names = ", ".join(dict.fromkeys(piece.name for piece in units))
            yield ask(
                case,
                f"Does {names} stand upright, with THIS WAY UP outside?",
                f"{names} does not stand upright.",
                "Turn it upright, mark the case.",
                units=",".join(str(piece.id) for piece in units),
            )


@rule("P", Severity.BLOCK, "makers' terms for transport in general; common practice")
def original_packaging(load: Load) -> Iterator[Said | Ask]:
    """What demands its original packaging is sealed only in that."""
    for case, piece in load.each():
        if not piece.needs_original_packaging or piece.within is not None or piece.type_id in case.packaging_for:
            continue
        known = [other.number for other in load.cases if piece.type_id in other.packaging_for]
        if not known and piece.type_id not in load.packaged_types:
            yield unknown(
                case,
                f"{piece.name} demands its original packaging, and nobody has said which case that is.",
                "Enter which case type is its packaging.",
                piece=piece.id,
            )
            continue
        instead = f"Put it in {known[0]}." if known else "Put it in its own packaging, or find that first."
        yield wrong(case, f"{piece.name} is not in its original packaging.", instead, piece=piece.id, case=case.id)


@rule(
    "P",
    Severity.WARN,
    "makers' terms for transport in general; common practice",
    asks="a tick",
    always_known="only a look can tell",
)
def packaging_sound(load: Load) -> Iterator[Said | Ask]:
    """Original packaging is there and undamaged."""
    for case in load.cases:
        if not case.packaging_for:
            continue
        if case.fault:
            yield wrong(
                case,
                f"{case.number} is original packaging, and damaged: {case.fault}.",
                "Mend or replace the packaging before it travels.",
                Severity.BLOCK,
                case=case.id,
            )
        elif any(piece.type_id in case.packaging_for for piece in case.pieces):
            yield ask(
                case,
                f"Is {case.number}, which is original packaging, complete and undamaged?",
                f"Parts of the packaging {case.number} are missing or damaged.",
                "Mend or replace the packaging before it travels.",
            )
