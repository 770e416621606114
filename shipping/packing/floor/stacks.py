"""Kinds of cases alike in every rule, and what may stand on what."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from shipping.packing.floor.deck import Cargo, Deck, Freight
from shipping.packing.wanted import Size

MOST_STACKS = 30_000
Foot = tuple[int, int, bool]


@dataclass(frozen=True, slots=True)
class Kind:
    """So many cases that no rule can tell apart: `ids` names each (an id as often as it counts). `turn` gets off first
    where it is lowest: stops in order, and in each the first-off group before the rest."""

    size_mm: Size
    mass_g: int
    known: bool
    turn: int
    on_top_g: int
    turns: bool
    stacks: bool
    ids: tuple[str, ...]

    @property
    def foot(self) -> Foot:
        """The longer side first where it may stand either way, as a square always may."""
        length, width, _ = self.size_mm
        return _foot(length, width, self.turns)


@dataclass(frozen=True, slots=True)
class Stack:
    """Kinds by their number, from the deck up, all of one turn."""

    kinds: tuple[int, ...]
    foot: Foot
    turn: int
    mass_g: int

    @property
    def lifted(self) -> int:
        return len(self.kinds) - 1


def _foot(length: int, width: int, turns: bool) -> Foot:
    return (max(length, width), min(length, width), True) if turns or length == width else (length, width, False)


def goes_in(foot: Foot, room: Foot) -> bool:
    """Does a stack of this foot stand in any room made for the other, whichever way that lies?"""
    if foot[2] or not room[2]:
        ways = [foot[:2], foot[1::-1]] if foot[2] else [foot[:2]]
        return any(along <= room[0] and across <= room[1] for along, across in ways)
    return max(foot[:2]) <= min(room[:2])


def lies(foot: Foot, each: int, across: int) -> tuple[int, int]:
    """(along, across) of a foot in a room that it goes in: the way the room lies if it fits so, else the other."""
    length, width, turns = foot
    ways = [(length, width), (width, length)] if turns else [(length, width)]
    ways.sort(key=lambda way: (way[0] > way[1]) != (each > across))
    return next(way for way in ways if way[0] <= each and way[1] <= across)


def turn_of(cargo: Cargo, keep_first_off: bool) -> int:
    return 2 * cargo.stop + (0 if cargo.first_off and keep_first_off else 1)


def kinds_of(freight: Freight, keep_first_off: bool) -> list[Kind]:
    """In a fixed order, however the cases were listed."""
    groups: dict[tuple[object, ...], list[str]] = {}
    made: dict[tuple[object, ...], Cargo] = {}
    for cargo in sorted(freight.cargo, key=lambda one: one.id):
        key = (cargo.size_mm, cargo.mass_g, turn_of(cargo, keep_first_off), cargo.on_top_g, cargo.turns, cargo.stacks)
        groups.setdefault(key, []).extend([cargo.id] * cargo.count)
        made.setdefault(key, cargo)
    return [_kind(made[key], turn_of(made[key], keep_first_off), ids) for key, ids in groups.items()]


def _kind(cargo: Cargo, turn: int, ids: list[str]) -> Kind:
    return Kind(
        cargo.size_mm or (0, 0, 0), cargo.mass_g or 0, cargo.mass_g is not None, turn, cargo.on_top_g or 0,
        cargo.turns, cargo.stacks, tuple(ids),
    )  # fmt: skip


def stands_on(base: Kind, top: Kind, deck: Deck) -> bool:
    """May one stand right on the other, by size, by mass, and by what both are for? What it carries is asked apart."""
    if base.turn != top.turn or not (top.stacks and top.known and base.known):
        return False
    if top.mass_g > base.mass_g or (deck.lift_g is not None and top.mass_g > deck.lift_g):
        return False
    (length, width, _), (under_length, under_width, _) = top.size_mm, base.size_mm
    along = length <= under_length and width <= under_width
    return along or (top.turns and width <= under_length and length <= under_width)


def allowed_stacks(deck: Deck, kinds: Sequence[Kind]) -> tuple[list[Stack], bool]:
    """Every allowed stack up to the deck's tiers, and whether that is all: higher ones may be too many."""
    level: list[tuple[int, ...]] = [(at,) for at in range(len(kinds))]
    found = list(level)
    for _ in range(deck.tiers - 1):
        level = [(*below, top) for below in level for top in _tops(deck, kinds, below)]
        if len(found) + len(level) > MOST_STACKS:
            return [_stack(kinds, one) for one in found], False
        found += level
    return [_stack(kinds, one) for one in found], True


def _tops(deck: Deck, kinds: Sequence[Kind], below: tuple[int, ...]) -> Iterator[int]:
    height = sum(kinds[at].size_mm[2] for at in below)
    for top, kind in enumerate(kinds):
        if not stands_on(kinds[below[-1]], kind, deck) or height + kind.size_mm[2] > deck.size_mm[2]:
            continue
        if below.count(top) >= len(kind.ids):
            continue
        on_each = [sum(kinds[one].mass_g for one in below[tier + 1 :]) + kind.mass_g for tier in range(len(below))]
        if all(mass <= kinds[at].on_top_g for at, mass in zip(below, on_each, strict=True)):
            yield top


def _stack(kinds: Sequence[Kind], members: tuple[int, ...]) -> Stack:
    """A case in it that may not turn keeps the whole stack from turning."""
    base = kinds[members[0]]
    free = all(kinds[at].turns for at in members)
    foot = base.foot if free else _foot(base.size_mm[0], base.size_mm[1], turns=False)
    return Stack(members, foot, base.turn, sum(kinds[at].mass_g for at in members))
