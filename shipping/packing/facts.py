"""What the rules read: small frozen rows of a load, and what they say about it. Pure: no models, no clock.

Masses are kilograms (Decimal), lengths millimetres (int), batteries watt-hours (Decimal); None means nobody has said.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from enum import StrEnum


class Severity(StrEnum):
    BLOCK = "block"
    WARN = "warn"
    ADVISE = "advise"


class State(StrEnum):
    """What a rule says where it does not say good. Only `wrong` ever blocks."""

    WRONG = "wrong"
    NOT_CONFIRMED = "not confirmed"
    NOT_KNOWN = "not known"


@dataclass(frozen=True, slots=True)
class Finding:
    """What one rule says of one subject, and what would end it. `facts` made it: ids and limits, no ages."""

    rule: str
    subject: str
    severity: Severity
    state: State
    sentence: str
    way_out: str = ""
    facts: tuple[tuple[str, str], ...] = ()

    @property
    def blocks(self) -> bool:
        return self.severity == Severity.BLOCK and self.state == State.WRONG

    @property
    def digest(self) -> str:
        """SHA-256 over rule, subject, state and facts: the same facts, the same digest; words do not count."""
        made_of = [self.rule, self.subject, self.state.value, sorted(self.facts)]
        return hashlib.sha256(json.dumps(made_of, ensure_ascii=False).encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class Piece:
    """One thing in a case, at any depth: `within` is the piece it is fitted in, `bay` where it sits."""

    id: int
    name: str
    kind: str = "other"
    type_id: int = 0
    type_name: str = ""
    serial: str = ""
    serials_required: bool = False
    serial_unreadable: bool = False
    is_lot: bool = False
    quantity: int = 1
    mass_kg: Decimal | None = None
    rack_units: int | None = None
    rack_depth_mm: int | None = None
    bay: str = ""
    within: int | None = None
    bays: tuple[str, ...] | None = None
    needs_rails: bool | None = None
    needs_original_packaging: bool = False
    stays_upright: bool = False
    max_on_top_kg: Decimal | None = None
    shock_critical: bool = False
    transport_bracket: bool = False
    supplies: int = 0
    needs_true_sine: bool = False
    true_sine: bool | None = None
    battery_chemistry: str = ""
    battery_wh: Decimal | None = None
    battery_count: int = 0
    value: Decimal | None = None
    currency: str = ""
    inspected: bool = False
    inspection_due: date | None = None
    hired_from: str = ""
    off_hire_on: date | None = None
    owner: str = ""
    system_id: int | None = None
    set_id: int | None = None
    set_bay: str = ""
    home_case: str = ""
    belongs_here: bool | None = None
    fault: str = ""

    @property
    def total_value(self) -> Decimal | None:
        """Of a lot, all of it. None while the type's replacement value is unknown."""
        return None if self.value is None else self.value * self.quantity

    @property
    def total_kg(self) -> Decimal | None:
        """Of a lot, all of it. None while the type's mass is unknown."""
        return None if self.mass_kg is None else self.mass_kg * self.quantity

    @property
    def subject(self) -> str:
        return f"item:{self.id}"


@dataclass(frozen=True, slots=True)
class Expected:
    """A thing that belongs in a case and is not in it; `where` is where the ledger has it, in words."""

    id: int
    name: str
    where: str = ""
    mass_kg: Decimal | None = None
    kind: str = "other"


@dataclass(frozen=True, slots=True)
class Proof:
    """A `checked` entry that still holds. `value` is yes, no, or a measure."""

    value: str
    by: str = ""
    entry: str = ""


@dataclass(frozen=True, slots=True)
class Case:
    """A container that travels, and everything in it."""

    id: int
    number: str
    type_id: int = 0
    pieces: tuple[Piece, ...] = ()
    missing: tuple[Expected, ...] = ()
    tare_kg: Decimal | None = None
    max_gross_kg: Decimal | None = None
    weighed_kg: Decimal | None = None
    length_mm: int | None = None
    width_mm: int | None = None
    height_mm: int | None = None
    slots: tuple[str, ...] = ()
    rack_units: int | None = None
    usable_depth_mm: int | None = None
    for_drives: bool = False
    strict_order: bool = False
    wheels: bool = False
    max_on_top_kg: Decimal | None = None
    packaging_for: frozenset[int] = frozenset()
    fault: str = ""
    seal: str = ""
    old_numbers: tuple[str, ...] = ()
    list_printed: bool = False
    list_current: bool = False
    first_off: bool = False
    proofs: Mapping[str, Proof] = field(default_factory=dict)

    @property
    def subject(self) -> str:
        return f"case:{self.id}"

    @property
    def known_kg(self) -> Decimal:
        """Tare and contents as far as they are known: a floor under the true gross."""
        return (self.tare_kg or Decimal(0)) + sum((p.total_kg or Decimal(0) for p in self.pieces), Decimal(0))

    @property
    def unweighed(self) -> tuple[str, ...]:
        """The names of what has no mass entered, the shell included."""
        shell = () if self.tare_kg is not None else (f"{self.number} empty",)
        return shell + tuple(dict.fromkeys(p.type_name or p.name for p in self.pieces if p.mass_kg is None))

    @property
    def computed_kg(self) -> Decimal | None:
        return None if self.unweighed else self.known_kg

    @property
    def gross_kg(self) -> Decimal | None:
        """What to reckon with: the scale's word first, else the sum; None while neither is known."""
        return self.weighed_kg if self.weighed_kg is not None else self.computed_kg

    @property
    def least_kg(self) -> Decimal:
        """The scale's word, else what is known of the sum: it weighs no less."""
        return self.weighed_kg if self.weighed_kg is not None else self.known_kg

    def of_kind(self, *kinds: str) -> list[Piece]:
        return [piece for piece in self.pieces if piece.kind in kinds]


@dataclass(frozen=True, slots=True)
class Vehicle:
    id: int
    name: str
    payload_kg: Decimal | None = None
    length_mm: int | None = None
    width_mm: int | None = None


@dataclass(frozen=True, slots=True)
class Stand:
    """Where a case stands on a deck, as said when loading: row from the headboard, place from the left, tier."""

    row: int
    place: int
    tier: int
    case_id: int


@dataclass(frozen=True, slots=True)
class Leg:
    """One leg; `stands` are the cases whose place on the deck was said.

    `overnight` is None while its times are not planned; `holder` is who goes with the goods, by name; `departs_on` is
    the day whose limits it is judged by.
    """

    id: int
    name: str
    mode: str = "road"
    vehicle: Vehicle | None = None
    passenger_aircraft: bool = False
    baggage: bool = False
    crosses_border: bool = False
    overnight: bool | None = None
    arrived: bool = False
    holder: str = ""
    departs_on: date | None = None
    stands: tuple[Stand, ...] = ()
    proofs: Mapping[str, Proof] = field(default_factory=dict)

    @property
    def subject(self) -> str:
        return f"leg:{self.id}"

    @property
    def stacks(self) -> list[list[int]]:
        """The case ids of each stack, from the deck up."""
        found: dict[tuple[int, int], list[int]] = {}
        for stand in sorted(self.stands, key=lambda one: (one.row, one.place, one.tier, one.case_id)):
            found.setdefault((stand.row, stand.place), []).append(stand.case_id)
        return list(found.values())


@dataclass(frozen=True, slots=True)
class Wanted:
    """So many of a type, or one exact item, that a system needs."""

    name: str
    item_id: int | None = None
    type_id: int | None = None
    quantity: int = 1
    where: str = ""

    def short_by(self, pieces: list[Piece]) -> int:
        """How many of it are not among these pieces."""
        if self.item_id is not None:
            return 0 if any(piece.id == self.item_id for piece in pieces) else 1
        here = sum(piece.quantity for piece in pieces if piece.type_id == self.type_id)
        return max(0, self.quantity - here)


@dataclass(frozen=True, slots=True)
class System:
    id: int
    name: str
    rails: tuple[Wanted, ...] | None = None
    needs_true_sine: bool = False
    stoppers: tuple[Wanted, ...] = ()


@dataclass(frozen=True, slots=True)
class Member:
    item_id: int
    name: str
    bay: str
    where: str = ""


@dataclass(frozen=True, slots=True)
class DriveSet:
    id: int
    name: str
    strict: bool = True
    broken_up: bool = False
    members: tuple[Member, ...] = ()


@dataclass(frozen=True, slots=True)
class Kept:
    """One piece that a drive in a case holds of a show, and where the confirmed copies of it are.

    Copies are counted: in this load, somewhere else, and where nobody has said the place.
    """

    drive_id: int
    case_id: int
    reference: str
    released: bool = False
    copies_aboard: int = 0
    copies_elsewhere: int = 0
    copies_unplaced: int = 0


@dataclass(frozen=True, slots=True)
class Show:
    code: str
    name: str
    ends_on: date
    discreet: bool = False
    abroad: bool = False

    @property
    def subject(self) -> str:
        return f"show:{self.code}"


@dataclass(frozen=True, slots=True)
class BorderLine:
    """One line as it is to be printed; `our_serial` is what the item itself carries."""

    line: int
    description: str
    item_id: int | None = None
    serial: str = ""
    our_serial: str = ""
    pieces: int = 1
    mass_kg: Decimal | None = None
    value: Decimal | None = None
    currency: str = ""
    origin: str = ""
    hired_from: str = ""
    owner_consents: bool = True
    near: str = ""


@dataclass(frozen=True, slots=True)
class BorderList:
    id: int
    number: str
    issued: bool = False
    lines: tuple[BorderLine, ...] = ()

    @property
    def subject(self) -> str:
        return f"border:{self.id}"


@dataclass(frozen=True, slots=True)
class Load:
    """All that is judged together: the cases, and how and for what they travel.

    `on` is the day whose limits count. `packaged_types` are the item types that some case type of ours is the original
    packaging of.
    """

    cases: tuple[Case, ...] = ()
    on: date = date(2000, 1, 1)
    leg: Leg | None = None
    show: Show | None = None
    systems: tuple[System, ...] = ()
    sets: tuple[DriveSet, ...] = ()
    kept: tuple[Kept, ...] = ()
    border: BorderList | None = None
    packaged_types: frozenset[int] = frozenset()
    limits: Mapping[tuple[str, str], Decimal] = field(default_factory=dict)

    def each(self, *kinds: str) -> Iterator[tuple[Case, Piece]]:
        for case in self.cases:
            for piece in case.pieces:
                if not kinds or piece.kind in kinds:
                    yield case, piece

    def holding(self, *kinds: str) -> Iterator[tuple[Case, list[Piece]]]:
        """The cases that hold any of these kinds, with those pieces."""
        for case in self.cases:
            if found := case.of_kind(*kinds):
                yield case, found

    @property
    def pieces(self) -> list[Piece]:
        return [piece for case in self.cases for piece in case.pieces]

    def system(self, ident: int | None) -> System | None:
        return next((system for system in self.systems if system.id == ident), None)

    def drive_set(self, ident: int | None) -> DriveSet | None:
        return next((one for one in self.sets if one.id == ident), None)
