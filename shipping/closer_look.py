"""A closer look at one lift, from a form: what the equation and the filter say, or why they say nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from shipping.forms.lifting import POUND_KG, UNITS
from shipping.packing.lifting import NoFigure
from shipping.packing.lifting_filter import Filtered, Handling, Zone, filtered
from shipping.packing.lifting_look import (
    US,
    Lift,
    Look,
    NotFor,
    composite,
    in_words,
    look,
    refuse,
    spread,
    worse,
)


@dataclass(frozen=True, slots=True)
class End:
    """The lift judged at its start or its end."""

    name: str
    look: Look

    @property
    def words(self) -> str:
        return in_words(self.look.index)


@dataclass(frozen=True, slots=True)
class Equation:
    ends: tuple[End, ...]
    counts: Look
    unit: str
    several: tuple[str, float | None] | None = None

    @property
    def sentence(self) -> str:
        said = in_words(self.counts.index)
        if self.counts.index is None:
            return f"{said.capitalize()}: the hands are too far, too high, turned too far or it is too often."
        recommended = f"{self.counts.recommended:.1f} {self.unit}"
        times = f"The load is {self.counts.index:.1f} times that: {said}."
        return f"One person, lifting like this: {recommended} recommended. {times}"


@dataclass(frozen=True, slots=True)
class TeamFigure:
    people: str
    kg: Decimal
    covers: bool


@dataclass(frozen=True, slots=True)
class Closer:
    """What a closer look says. Where one of the two refuses, its sentence stands instead."""

    load_kg: Decimal
    equation: Equation | None
    equation_refuses: str
    filter: Filtered | None
    filter_refuses: str
    teams: tuple[TeamFigure, ...]


def closer_look(given: Mapping[str, Any], others_kg: Sequence[Decimal] = ()) -> Closer:
    """Both methods on one lift. `given` is the cleaned form, `others_kg` what else is lifted in the same spell."""
    not_for = frozenset(NotFor[name] for name in given["not_for"])
    load_kg = given["load"] * POUND_KG if UNITS[given["units"]] is US else given["load"]
    equation, equation_refuses = _tried(lambda: _equation(given, not_for, others_kg))
    found, filter_refuses = _tried(lambda: filtered(_handling(given, not_for)))
    return Closer(load_kg, equation, equation_refuses, found, filter_refuses, _teams(found, load_kg) if found else ())


def _tried(method: Any) -> tuple[Any, str]:
    try:
        return method(), ""
    except NoFigure as no:
        return None, str(no)


def _equation(given: Mapping[str, Any], not_for: frozenset[NotFor], others_kg: Sequence[Decimal]) -> Equation:
    units = UNITS[given["units"]]
    often = spread(float(given["per_minute"]), float(given["minutes_of_15"]))
    travel = abs(float(given["height_to"]) - float(given["height_from"]))
    same = {
        "travel": travel, "twist": float(given["twist"]), "per_minute": often, "work": given["work"],
        "grip": given["grip"], "not_for": not_for, "units": units, "began": float(given["height_from"]),
    }  # fmt: skip
    refuse(not_for, "The equation")
    ends = [End("at the start", look(Lift(float(given["reach_from"]), same["began"], **same), float(given["load"])))]
    if given["careful"]:
        last = Lift(float(given["reach_to"]), float(given["height_to"]), **same)
        ends.append(End("at the end", look(last, float(given["load"]))))
    counts = worse(*(end.look for end in ends))
    return Equation(tuple(ends), counts, units.mass, _several(given, counts, often, others_kg))


def _several(
    given: Mapping[str, Any], counts: Look, often: float, others_kg: Sequence[Decimal]
) -> tuple[str, float | None] | None:
    """The index of this case and the others lifted the same way in one spell."""
    if not others_kg:
        return None
    units = UNITS[given["units"]]
    share = dict(counts.factors)["how often"]
    once = counts.recommended / share if share else 0.0
    loads = [float(given["load"]), *(float(kg / POUND_KG if units is US else kg) for kg in others_kg)]
    index = composite(
        [(load, once, often) for load in loads], given["work"], high=given["height_from"] >= units.knuckle
    )
    return f"The {len(loads)} of them in one spell: {in_words(index)}", index


def _handling(given: Mapping[str, Any], not_for: frozenset[NotFor]) -> Handling:
    often = Decimal(str(spread(float(given["per_minute"]), float(given["minutes_of_15"]))))
    return Handling(
        Zone[given["zone_from"]], Zone[given["zone_to"]], given["far"], given["figures"], float(given["twist"]), often,
        not_for,
    )  # fmt: skip


def _teams(found: Filtered, load_kg: Decimal) -> tuple[TeamFigure, ...]:
    names = {1: "one person", 2: "two people", 3: "three people"}
    return tuple(
        TeamFigure(name, found.team_kg(people), load_kg <= found.team_kg(people)) for people, name in names.items()
    )
