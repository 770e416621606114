"""Makes and models: what the rows of one type say together, beside what the book says already."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from inventory.exchange.known import Known
from inventory.exchange.lines import Line
from inventory.exchange.measures import Measured, whole
from inventory.exchange.notices import Notices
from inventory.folding import fold
from inventory.models import ContainerType, ItemType, Kind

# Facts that stand on the container of a type, by the field they fill.
CONTAINER = {
    "inner_length_mm": "inner_length_mm", "inner_width_mm": "inner_width_mm", "inner_height_mm": "inner_height_mm",
    "max_gross_kg": "max_gross_kg", "payload_kg": "payload_kg",
}  # fmt: skip
# Of a case, these speak of the room inside.
_OF_A_CASE = {"rack_units": "rack_units", "rack_depth_mm": "usable_depth_mm"}
_MAY_BE_UNSAID = {"needs_rails", "true_sine"}  # of these, "no" is a statement; of other flags it is the default
COMPARTMENTS = ("bays", "slots", "pockets")
# Kinds whose makers give each a serial of its own (common practice); other kinds need none.
SERIALLED = {
    Kind.FRAME, Kind.PANEL, Kind.DRIVE, Kind.POWER_SUPPLY, Kind.UPS, Kind.MONITOR, Kind.CONTROLLER, Kind.COMMS,
    Kind.NETWORK, Kind.LICENCE_KEY,
}  # fmt: skip
HOLDERS = {Kind.CASE, Kind.FRAME, Kind.VEHICLE}
ONE_BY_ONE = {Kind.CASE, Kind.FRAME, Kind.VEHICLE, Kind.DRIVE}
_COUNTS = {"supplies", "battery_count", "inspection_interval_days", "capacity_gb", "rack_units"}
_WORDS = {"mass_kg": "mass", "max_gross_kg": "rating", "replacement_value": "value"}


@dataclass(slots=True)
class TypePlan:
    """One type of the sheet: the book's own, or one to add, and the facts it gains."""

    key: str
    maker: str
    name: str
    kind: str = ""
    known: ItemType | None = None
    is_lot: bool = False
    lines: list[Line] = field(default_factory=list)
    facts: dict[str, Any] = field(default_factory=dict)  # of ItemType
    room: dict[str, Any] = field(default_factory=dict)  # of ContainerType
    compartments: dict[str, tuple[str, ...]] = field(default_factory=dict)
    packs: list[str] = field(default_factory=list)  # keys of the types it is the own packaging of
    changes: dict[str, tuple[Any, Any]] = field(default_factory=dict)  # of a known type: before, after

    @property
    def holds(self) -> bool:
        return self.kind in HOLDERS or bool(self.room) or bool(self.compartments) or bool(self.packs)

    @property
    def called(self) -> str:
        return f"{self.maker} {self.name}".strip()


def plan_types(lines: list[Line], known: Known, notices: Notices) -> dict[str, TypePlan]:
    """Every type the lines name, by key."""
    plans: dict[str, TypePlan] = {}
    for line in lines:
        key = ItemType.make_key(line.text("maker"), line.model)
        if key not in plans:
            existing = known.types.get(key)
            maker, name = (existing.maker, existing.name) if existing else (line.text("maker"), line.model)
            plans[key] = TypePlan(key, maker, name, known=existing)
        plans[key].lines.append(line)
    for plan in plans.values():
        _kind(plan, notices)
        _facts(plan, notices)
        plan.is_lot = any(line.says_lot for line in plan.lines) or bool(plan.known and plan.known.is_lot)
    _packaging(plans, notices)
    return plans


def _packaging(plans: dict[str, TypePlan], notices: Notices) -> None:
    """Which types a case is the own packaging of, by their names in this sheet."""
    named = {fold(words): key for key, plan in plans.items() for words in (plan.name, plan.called)}
    for plan in plans.values():
        for line in plan.lines:
            for words in filter(None, (part.strip() for part in line.text("packaging_for").split(","))):
                if fold(words) not in named:
                    notices.unknown(line.spot("packaging_for"), f"\u201c{words}\u201d is no item of this sheet.")
                elif named[fold(words)] not in plan.packs:
                    plan.packs.append(named[fold(words)])


def _kind(plan: TypePlan, notices: Notices) -> None:
    said = sorted({line.kind for line in plan.lines if line.kind})
    before = plan.known.kind if plan.known and plan.known.kind != Kind.OTHER else ""
    if before:
        plan.kind = before
    elif len(said) > 1:
        choices = [(kind, Kind(kind).label) for kind in said]
        plan.kind = _ask(plan, "kind", "kind", choices, notices)
    else:
        plan.kind = said[0] if said else ""
    if plan.known and plan.kind and plan.kind != plan.known.kind:
        plan.changes["kind"] = (plan.known.kind, plan.kind)


def _ask(plan: TypePlan, name: str, words: str, choices: Iterable[tuple[str, str]], notices: Notices) -> str:
    spots = [line.spot("kind" if name == "kind" else name) for line in plan.lines]
    return notices.ask(
        f"type:{plan.key}:{name}", f"Rows of {plan.called} differ in their {words}. Which is right for the type?",
        spots, choices=list(choices), holds_up=False,
    )  # fmt: skip


def _facts(plan: TypePlan, notices: Notices) -> None:
    names = dict.fromkeys(name for line in plan.lines for name in line.facts)
    for name in names:
        said = [line.facts[name] for line in plan.lines if name in line.facts]
        value = _agreed(plan, name, said, notices)
        if value is not None:
            _keep(plan, name, value)


def _agreed(plan: TypePlan, name: str, said: list[Any], notices: Notices) -> Any:
    """One value for the type: what all rows and the book say, else what a person chose, else None."""
    book = _book_value(plan, name)
    apart = _apart(said + ([book] if book is not None else []))
    if len(apart) == 1:
        return book if book is not None else apart[0]
    ways = {_said(stored(_place_of(plan, name)[1], value)): value for value in apart}
    choices = [(kept, _said(value) + (" (as in the book)" if value is book else "")) for kept, value in ways.items()]
    answer = _ask(
        plan, name, _WORDS.get(name, name.removesuffix("_mm").removesuffix("_kg").replace("_", " ")), choices, notices
    )
    return ways[answer] if answer else book


def _said(value: Any) -> str:
    if isinstance(value, Measured):
        return value.words or str(value.value)
    return (
        "yes"
        if value is True
        else "no"
        if value is False
        else " ".join(value)
        if isinstance(value, tuple)
        else str(value)
    )


def _apart(values: list[Any]) -> list[Any]:
    """The values that differ by more than rounding; the most exact of each group stands for it."""
    groups: list[Any] = []
    exact = sorted(values, key=lambda value: value.slack if isinstance(value, Measured) else 0)
    for value in exact:
        if not any(_same(value, other) for other in groups):
            groups.append(value)
    return groups


def _same(one: Any, other: Any) -> bool:
    if isinstance(one, Measured) and isinstance(other, Measured):
        return one.agrees(other)
    return one == other or (isinstance(one, str) and isinstance(other, str) and fold(one) == fold(other))


def _place_of(plan: TypePlan, name: str) -> tuple[str, str]:
    """('room' or 'facts', field) where a fact is kept."""
    if name in CONTAINER:
        return "room", CONTAINER[name]
    if plan.kind == Kind.CASE and name in _OF_A_CASE:
        return "room", _OF_A_CASE[name]
    return "facts", name


def _book_value(plan: TypePlan, name: str) -> Any:
    """What the book says already, in the form a sheet would say it; None if it says nothing."""
    if plan.known is None:
        return None
    container = getattr(plan.known, "container", None)
    if name in COMPARTMENTS:
        labels = _labels(container, name)
        return labels or None
    where, column = _place_of(plan, name)
    value = getattr(container if where == "room" else plan.known, column, None)
    if value in (None, "") or (value is False and name not in _MAY_BE_UNSAID):
        return None
    if isinstance(value, bool):
        return value
    if isinstance(value, int | Decimal):
        number = Decimal(value)
        return Measured(
            number, Decimal("0.0005") if isinstance(value, Decimal) else Decimal("0.5"), f"{number.normalize():f}"
        )
    return value


def _labels(container: ContainerType | None, name: str) -> tuple[str, ...]:
    if container is None:
        return ()
    return tuple(one.label for one in container.compartments.all() if f"{one.kind}s" == name)


def stored(name: str, value: Any) -> Any:
    """A sheet's value as the field keeps it."""
    if not isinstance(value, Measured):
        return value
    if name.endswith("_mm") or name in _COUNTS:
        return whole(value)
    places = (
        Decimal("0.01") if name == "replacement_value" else Decimal("0.1") if name == "payload_kg" else Decimal("0.001")
    )
    return value.value.quantize(places)


def _keep(plan: TypePlan, name: str, value: Any) -> None:
    if name in COMPARTMENTS:
        if not plan.known or not _labels(getattr(plan.known, "container", None), name):
            plan.compartments[name] = value
        return
    where, column = _place_of(plan, name)
    kept = stored(column, value)
    before = getattr(getattr(plan.known, "container", None) if where == "room" else plan.known, column, None)
    if plan.known is not None and not _is_news(before, kept):
        return
    getattr(plan, where)[column] = kept
    if name == "mass_kg" and plan.kind == Kind.CASE:
        plan.room["tare_kg"] = kept
    if plan.known is not None:
        plan.changes[column] = (before, kept)


def _is_news(before: Any, after: Any) -> bool:
    return before != after and not (before in (None, "", False, 0) and after in (None, "", False, 0))
