"""Rows at once, by hand rules: small on large, then row by row the fill that leaves least floor free."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence

from shipping.packing.floor.deck import Deck
from shipping.packing.floor.patterns import LaneKind, lane_kinds
from shipping.packing.floor.rows import Lane, Row, in_turn
from shipping.packing.floor.stacks import Foot, Kind, Stack

Supply = dict[Foot, list[Stack]]


def stack_up(stacks: Sequence[Stack], kinds: Sequence[Kind], *, high: bool = True) -> list[Stack]:
    """Cases into stacks: for each not yet standing the stack that hides the most floor. Not high: all on the deck."""
    waiting = Counter({at: len(kind.ids) for at, kind in enumerate(kinds)})
    found = []
    for stack in sorted(stacks, key=lambda one: (-_hidden(one, kinds), one.kinds)):
        need = Counter(stack.kinds)
        if stack.lifted and not high:
            continue
        while all(waiting[at] >= many for at, many in need.items()):
            waiting -= need
            found.append(stack)
    return found


def _hidden(stack: Stack, kinds: Sequence[Kind]) -> int:
    return sum(kinds[at].foot[0] * kinds[at].foot[1] for at in stack.kinds[1:])


def rows_at_once(deck: Deck, stacks: Sequence[Stack]) -> list[Row]:
    """All stacks in rows, however long; what a row of one turn leaves free across, the next turn may use."""
    found: list[Row] = []
    for turn in sorted({stack.turn for stack in stacks}, reverse=True):
        supply = _supply([stack for stack in stacks if stack.turn == turn])
        if found and len(found[-1].zone) == 1:
            _top_up(deck, found[-1], supply)
        while any(supply.values()):
            found.append(_best_row(deck, supply, turn))
    return in_turn(found)


def _supply(stacks: Sequence[Stack]) -> Supply:
    supply: Supply = defaultdict(list)
    for stack in sorted(stacks, key=lambda one: (-one.mass_g, one.kinds)):
        supply[stack.foot].append(stack)
    return supply


def _top_up(deck: Deck, row: Row, supply: Supply) -> None:
    free = deck.width_mm - sum(lane.across for lane in row.lanes)
    for kind, many in _fill(free, row.depth, supply):
        row.lanes.append(_take(kind, many, supply))
    row.zone = tuple(sorted({stack.turn for stack in row.stacks}))


def _best_row(deck: Deck, supply: Supply, turn: int) -> Row:
    """The depth whose greedy fill covers most of its own floor; of equals the deeper."""
    depths = {lane.each for foot, stacks in supply.items() if stacks for lane in lane_kinds(foot)
              if lane.across <= deck.width_mm}  # fmt: skip
    choices = [(depth, _fill(deck.width_mm, depth, supply)) for depth in sorted(depths)]
    depth, taken = max(choices, key=lambda one: (_covered(one[1]) / (one[0] * deck.width_mm), one[0]))
    return Row((turn,), [_take(kind, many, supply) for kind, many in taken])


def _covered(taken: Sequence[tuple[LaneKind, int]]) -> int:
    return sum(kind.across * kind.each * many for kind, many in taken)


def _fill(free: int, depth: int, supply: Supply) -> list[tuple[LaneKind, int]]:
    """Lanes for this depth: the most floor for the width first."""
    left = {foot: len(stacks) for foot, stacks in supply.items()}
    kinds = [lane for foot in supply for lane in lane_kinds(foot) if lane.each <= depth]
    taken: list[tuple[LaneKind, int]] = []
    while True:
        fits = [one for one in kinds if one.across <= free and left[one.foot]]
        if not fits:
            return taken
        best = max(fits, key=lambda one: (min(depth // one.each, left[one.foot]) * one.each, one.across, one.foot))
        many = min(depth // best.each, left[best.foot])
        taken.append((best, many))
        free -= best.across
        left[best.foot] -= many


def _take(kind: LaneKind, many: int, supply: Supply) -> Lane:
    queue = supply[kind.foot]
    lane = Lane(kind.across, kind.each, queue[:many])
    del queue[:many]
    return lane


def within(deck: Deck, rows: list[Row], kinds: Sequence[Kind]) -> tuple[list[Row], Counter[int]]:
    """Take off what is too much: first whole stacks until the payload holds, then rows until the deck is long enough.

    Returns the rows that stay and how many of each kind go.
    """
    out: Counter[int] = Counter()
    if deck.payload_g is not None:
        while sum(stack.mass_g for row in rows for stack in row.stacks) > deck.payload_g:
            _drop_heaviest(rows, out)
            rows = [row for row in rows if row.lanes]
    while sum(row.depth for row in rows) > deck.length_mm:
        gone = min(rows, key=lambda row: (sum(len(stack.kinds) for stack in row.stacks), -row.depth, row.zone))
        rows = [row for row in rows if row is not gone]
        out.update(at for stack in gone.stacks for at in stack.kinds)
    return rows, out


def _drop_heaviest(rows: Sequence[Row], out: Counter[int]) -> None:
    lane, stack = max(
        ((lane, stack) for row in rows for lane in row.lanes for stack in lane.stacks),
        key=lambda one: (one[1].mass_g, one[1].kinds),
    )
    lane.stacks.remove(stack)
    out.update(stack.kinds)
    for row in rows:
        row.lanes[:] = [one for one in row.lanes if one.stacks]
