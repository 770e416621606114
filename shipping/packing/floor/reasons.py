"""Why a case stays behind: the smallest thing that stands in its way, in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from shipping.packing.floor.axles import Stage
from shipping.packing.floor.deck import Cargo, Deck, Freight
from shipping.packing.floor.patterns import lane_kinds
from shipping.packing.wanted import Content, Left


def cannot_go(deck: Deck, cargo: Cargo) -> str:
    """What keeps a case off this deck even alone; empty if nothing does."""
    if cargo.size_mm is None:
        return "Its size is not entered: enter length, width and height."
    length, width, height = cargo.size_mm
    if height > deck.size_mm[2]:
        return f"It is {height:,} mm high; inside there are {deck.size_mm[2]:,} mm."
    if deck.door_mm is not None and height > deck.door_mm[1]:
        return f"It is {height:,} mm high; the door is {deck.door_mm[1]:,} mm."
    if deck.door_mm is not None and min(length, width) > deck.door_mm[0]:
        return f"It is {min(length, width):,} mm wide; the door is {deck.door_mm[0]:,} mm."
    if not _has_a_way(deck, cargo):
        return f"It covers {length:,} by {width:,} mm; a row has {deck.length_mm:,} by {deck.width_mm:,} mm."
    if deck.payload_g is not None and (cargo.mass_g or 0) > deck.payload_g:
        return f"It weighs {kg(cargo.mass_g or 0)}; {kg(deck.payload_g)} is entered for {deck.name}."
    return ""


def _ways(cargo: Cargo) -> list[tuple[int, int]]:
    """(along, across) of each way it may stand."""
    length, width, _ = cargo.size_mm or (0, 0, 0)
    return [(lane.each, lane.across) for lane in lane_kinds((length, width, cargo.turns))]


def _has_a_way(deck: Deck, cargo: Cargo) -> bool:
    return any(along <= deck.length_mm and across <= deck.width_mm for along, across in _ways(cargo))


def kg(grams: int) -> str:
    return f"{grams / 1000:,.1f}".removesuffix(".0") + " kg"


def no_room(freight: Freight, cargo: Cargo, loaded_g: int, used_mm: int, proven: bool) -> str:
    """Why a case that could go alone does not go with these others."""
    deck, mass = freight.deck, cargo.mass_g or 0
    if deck.payload_g is not None and loaded_g + mass > deck.payload_g:
        free = deck.payload_g - loaded_g
        return f"It weighs {kg(mass)}; of the {kg(deck.payload_g)} entered for {deck.name} {kg(free)} is left."
    need = min(along for along, across in _ways(cargo) if across <= deck.width_mm)
    free_mm = deck.length_mm - used_mm
    if free_mm < need:
        return (
            f"Behind the last row {free_mm:,} mm are free, and a row for it takes {need:,} mm: "
            f"with {need - free_mm:,} mm more deck it goes on."
        )
    said = "The rows and stacks leave no place for it." if proven else "No place was found for it in the time given."
    return said + " Raise what may stand on what, or take another case off."


def conflict_words(freight: Freight, conflict: Content) -> str:
    """The smallest set that cannot all go, and by what; "" where none was shown."""
    if not conflict:
        return ""
    named = ", ".join(f"{count} x {freight.by_id[ident].name}" if count > 1 else freight.by_id[ident].name
                      for ident, count in conflict)  # fmt: skip
    mass = sum((freight.by_id[ident].mass_g or 0) * count for ident, count in conflict)
    payload = freight.deck.payload_g
    if payload is not None and mass > payload:
        why = f"together they weigh {kg(mass)}, and {kg(payload)} is entered"
    else:
        why = f"no rows of them are as short as its {freight.deck.length_mm:,} mm"
    return f"These cannot all go on {freight.deck.name}: {named}: {why}. Without any one of them the others can."


def over_axle(stage: Stage) -> str:
    """Which axle is over, by its worst figure."""
    worst = max(stage.axles, key=lambda one: one.over_g)
    return (
        f"With it {worst.axle.name} would carry {kg(worst.total_g or 0)} {stage.when}; "
        f"{kg(worst.axle.limit_g or 0)} is entered. No order of these rows was found that helps."
    )


def left_of(reasons: Iterable[tuple[str, str]]) -> tuple[Left, ...]:
    """(id, reason) of each case that stays, counted."""
    counts: Counter[tuple[str, str]] = Counter(reasons)
    return tuple(Left(ident, many, reason) for (ident, reason), many in sorted(counts.items()))


def missing_figures(deck: Deck, cargo: Sequence[Cargo]) -> list[str]:
    """What a reader must know that was not entered."""
    said = []
    if names := ", ".join(one.name for one in cargo if one.mass_g is None):
        said.append(f"No mass is entered for {names}: it counts as nothing here, and stands in no stack.")
    if deck.payload_g is None:
        said.append(f"No payload is entered for {deck.name}: the mass was not held against anything.")
    if len({one.at_mm for one in deck.axles}) < 2:
        said.append(f"Axle loads were not reckoned: enter the axles of {deck.name} first.")
    elif any(one.limit_g is None or one.empty_g is None for one in deck.axles):
        said.append(f"Not every axle of {deck.name} has its limit and its empty mass entered: those were not checked.")
    return said
