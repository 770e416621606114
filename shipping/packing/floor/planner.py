"""A deck, planned: at once by hand rules, then row by row with proof, then put in order for axles and balance."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from shipping.packing.floor import reasons
from shipping.packing.floor.axles import front_share, stages, weights
from shipping.packing.floor.carrying import carried
from shipping.packing.floor.chained import chained
from shipping.packing.floor.conflict import smallest
from shipping.packing.floor.cutting import cut
from shipping.packing.floor.deck import LEFT, LENGTH, STACKED, Deck, FloorPlan, Freight, Spot
from shipping.packing.floor.firstfit import rows_at_once, stack_up, within
from shipping.packing.floor.order import Arranging, spots_of
from shipping.packing.floor.pricing import cheapest, settled
from shipping.packing.floor.rows import DECK, Row, Rows
from shipping.packing.floor.stacks import allowed_stacks, kinds_of
from shipping.packing.floor_geometry import judge_floor
from shipping.packing.planner.engines import Stop, highs
from shipping.packing.planner.model import INFINITE, Found, Model
from shipping.packing.wanted import Level

HAND = "first fit"
MANY, TABLES = 40, 0.4  # cases from which tables are asked first, and their share of the time
NOT_FIRST_OFF = "The first-off cases are not all nearest the door: with them there, more would have had to stay behind."
LIGHT_FRONT = 20  # per cent of the whole mass, common practice for steering
FREE_IN_FRONT = "Free room of {} mm at the headboard, for the axles: block it, so that nothing slides forward."

Remaining = Callable[[], float]
Progress = Callable[[str, int, int], None]
Gone = list[tuple[str, str]]


def _quiet(_name: str, _value: int, _bound: int) -> None:
    return None


@dataclass
class Task:
    """One freight made ready: what cannot go at all is set aside, the rest is in kinds and stacks."""

    freight: Freight
    keep_first_off: bool
    earlier: FloorPlan | None = None

    def __post_init__(self) -> None:
        self.deck = self.freight.deck
        said = {cargo.id: reasons.cannot_go(self.deck, cargo) for cargo in self.freight.cargo}
        able = tuple(cargo for cargo in self.freight.cargo if not said[cargo.id])
        self.refused: Gone = [(one.id, said[one.id]) for one in self.freight.cargo if said[one.id]
                              for _ in range(one.count)]  # fmt: skip
        self.kinds = kinds_of(Freight(self.deck, able), self.keep_first_off)
        self.stacks, self.all_stacks = allowed_stacks(self.deck, self.kinds)

    def at_once(self) -> list[Row]:
        """Rows by hand that the deck takes: on the deck alone if few stacks are wanted and all goes on so."""
        ways = [stack_up(self.stacks, self.kinds, high=high) for high in (False, True)]
        made = [*(rows_at_once(self.deck, way) for way in ways), *self._carried()]
        tried = [within(self.deck, rows, self.kinds) for rows in made]
        return min(tried, key=lambda one: (sum(one[1].values()), *self._goals(one[0])))[0]

    def however_long(self) -> list[list[Row]]:
        return [rows_at_once(self.deck, stack_up(self.stacks, self.kinds)), *self._carried()]

    def _carried(self) -> list[list[Row]]:
        return [] if self.earlier is None else [carried(self.deck, self.kinds, self.stacks, self.earlier)]

    def _goals(self, rows: Sequence[Row]) -> tuple[int, int]:
        length, lifted = sum(row.depth for row in rows), sum(stack.lifted for row in rows for stack in row.stacks)
        return (lifted, length) if self.deck.floor_first else (length, lifted)


@dataclass(frozen=True)
class Built:
    """Rows in their order, ids taken off for the axles with their reasons, and what the search says of them."""

    rows: tuple[Row, ...]
    gap: int
    off: tuple[tuple[str, str], ...] = ()


def at_once(freight: Freight, earlier: FloorPlan | None = None) -> FloorPlan:
    """A complete plan without a search, judged: by hand rules, or an earlier one carried over where that is better.

    What it has no place for is left and said.
    """
    plans = [_by_hand(Task(freight, keep, earlier)) for keep in _ways(freight)]
    return _judged(freight, _better(plans))


def _ways(freight: Freight) -> tuple[bool, ...]:
    return (True, False) if any(one.first_off for one in freight.cargo) else (True,)


def _by_hand(task: Task) -> FloorPlan:
    built = _arranged(task, task.at_once())
    behind = sum(one.count for one in task.freight.cargo) - _standing(built.rows)
    levels = (Level(LEFT, behind, len(task.refused), HAND), *_measured(task, built))
    return _plan(task, built, levels, proven=False)


def _standing(rows: Sequence[Row]) -> int:
    return sum(len(stack.kinds) for row in rows for stack in row.stacks)


def _measured(task: Task, built: Built) -> list[Level]:
    """What plain figures say of the rows, with bounds that need no search."""
    length = sum(row.depth for row in built.rows)
    lifted = sum(stack.lifted for row in built.rows for stack in row.stacks)
    stacked = [Level(STACKED, lifted, 0, HAND)] if task.deck.floor_first else []
    return [*stacked, Level(LENGTH, length, min(length, _floor_bound(task, built.rows)), HAND)]


def _floor_bound(task: Task, rows: Sequence[Row]) -> int:
    """No row is shorter than the shorter side of what stands in it."""
    shortest = [min(task.kinds[at].foot[:2]) for row in rows for stack in row.stacks for at in stack.kinds[:1]]
    return max(shortest, default=0)


def _better(plans: Sequence[FloorPlan]) -> FloorPlan:
    """The plan that leaves less behind; of equals the first, which keeps the first-off group."""
    return min(plans, key=lambda plan: sum(one.count for one in plan.left))


def _judged(freight: Freight, plan: FloorPlan) -> FloorPlan:
    return replace(plan, breaches=judge_floor(freight, plan))


def _arranged(task: Task, rows: list[Row]) -> Built:
    """In order; and while an axle would carry too much, one case less."""
    off: Gone = []
    arranging = Arranging(task.deck, rows)
    arranging.run()
    while arranging.now[0] and arranging.rows:
        before = spots_of(task.deck, arranging.rows, arranging.gap, task.kinds)
        stage = max(stages(task.deck, weights(task.freight, before)), key=lambda one: one.over_g)
        reason = reasons.over_axle(stage) if stage.over_g else _light_front(task.deck)
        kind = _relieve(task, arranging)
        off.append((kind, reason))
        arranging = Arranging(task.deck, [row for row in arranging.rows if row.lanes])
        arranging.run()
    return Built(tuple(arranging.rows), arranging.gap, tuple(off))


def _light_front(deck: Deck) -> str:
    return f"With it less than {deck.front_pct} % of the whole mass would be on the front."


def _relieve(task: Task, arranging: Arranging) -> str:
    """Take off the uppermost case whose absence relieves the axles most; of equals the lightest. Returns its id."""
    best: tuple[object, ...] | None = None
    for at, row in enumerate(arranging.rows):
        for lane_at, lane in enumerate(row.lanes):
            for index, stack in enumerate(lane.stacks):
                over = _without(task, arranging, at, lane_at, index)
                key = (over, task.kinds[stack.kinds[-1]].mass_g, at, lane_at, index)
                best = key if best is None or key < best else best
    assert best is not None
    at, lane_at, index = (int(str(one)) for one in best[2:])
    stack = arranging.rows[at].lanes[lane_at].stacks[index]
    _take_top(task, arranging.rows[at], lane_at, index)
    aboard = Counter(k for row in arranging.rows for one in row.stacks for k in one.kinds)
    top = stack.kinds[-1]
    return task.kinds[top].ids[aboard[top]]


def _without(task: Task, arranging: Arranging, at: int, lane_at: int, index: int) -> int:
    row = arranging.rows[at]
    lanes = [(lane, list(lane.stacks)) for lane in row.lanes]
    _take_top(task, row, lane_at, index)
    sums = [*arranging.sums[:at], arranging.scale.sums(row), *arranging.sums[at + 1 :]]
    depths = [one.depth for one in arranging.rows]
    over = arranging.scale.cost(sums, depths, arranging.gap)[0]
    row.lanes = [lane for lane, _ in lanes]
    for lane, stacks in lanes:
        lane.stacks = stacks
    return over


def _take_top(task: Task, row: Row, lane_at: int, index: int) -> None:
    lane = row.lanes[lane_at]
    stack = lane.stacks[index]
    if stack.lifted:
        rest = stack.kinds[:-1]
        lane.stacks[index] = replace(stack, kinds=rest, mass_g=sum(task.kinds[at].mass_g for at in rest))
    else:
        lane.stacks = lane.stacks[:index] + lane.stacks[index + 1 :]
        row.lanes = [one for one in row.lanes if one.stacks]


def _plan(task: Task, built: Built, levels: Sequence[Level], *, proven: bool) -> FloorPlan:
    spots = spots_of(task.deck, built.rows, built.gap, task.kinds)
    aboard = Counter(spot.cargo for spot in spots)
    for ident, _ in built.off:
        aboard[ident] += 1
    loaded = sum(task.freight.by_id[spot.cargo].mass_g or 0 for spot in spots)
    used = max((spot.end_mm for spot in spots), default=0)
    refused = {ident for ident, _ in task.refused}
    no_place = [
        (cargo.id, reasons.no_room(task.freight, cargo, loaded, used, proven))
        for cargo in task.freight.cargo if cargo.id not in refused
        for _ in range(cargo.count - aboard[cargo.id])
    ]  # fmt: skip
    left = reasons.left_of([*task.refused, *no_place, *built.off])
    return FloorPlan(
        spots=spots, left=left, levels=tuple(levels), first_off_kept=task.keep_first_off,
        notes=_notes(task, built, spots), engine=_engines(levels),
    )  # fmt: skip


def _engines(levels: Sequence[Level]) -> str:
    return " and ".join(sorted({one.engine for one in levels} - {HAND, ""})) or HAND


def _notes(task: Task, built: Built, spots: Sequence[Spot]) -> tuple[str, ...]:
    notes = [] if task.keep_first_off else [NOT_FIRST_OFF]
    notes += [FREE_IN_FRONT.format(built.gap)] if built.gap else []
    notes += [] if task.all_stacks else ["Too many stacks are possible to look at: the highest were not tried."]
    notes += reasons.missing_figures(task.deck, task.freight.cargo)
    for stage in stages(task.deck, weights(task.freight, spots)):
        share = front_share(task.deck, stage.axles) if stage.axles else None
        if share is not None and not task.deck.front_pct and share * 100 < LIGHT_FRONT:
            notes.append(
                f"Only {round(share * 100)} % of the whole mass is on the front {stage.when}: "
                f"below {LIGHT_FRONT} % steering gets light (common practice). Ask the driver."
            )
    return tuple(notes)


@dataclass
class FloorPlanner:
    """One run. `remaining` says how many seconds are left (the caller's clock); `progress` hears value and bound."""

    freight: Freight
    remaining: Remaining
    stop: Stop
    progress: Progress = _quiet
    seed: int = 0
    earlier: FloorPlan | None = None

    def run(self) -> FloorPlan:
        """The best plan found that passed the check, with its record."""
        started = self.remaining()
        first = at_once(self.freight, self.earlier)
        plan = self._best(first, self._share(0.8 if _avoidable(self.freight, first) else 1.0))
        if _avoidable(self.freight, plan):
            plan = replace(plan, conflict=smallest(self.freight, self.remaining, self.stop))
        return replace(plan, seed=self.seed, seconds=round(started - self.remaining(), 3))

    def _best(self, first: FloorPlan, remaining: Remaining) -> FloorPlan:
        plans: list[FloorPlan] = []
        ways, mine = _ways(self.freight), replace(self, remaining=remaining)
        for keep in ways:
            part = replace(self, remaining=mine._share(0.6 if keep and len(ways) > 1 else 1.0))
            plans.append(part._searched(Task(self.freight, keep, self.earlier)))
            if not _avoidable(self.freight, plans[-1]):
                break
        plan = _judged(self.freight, _better(plans))
        if plan.breaches or (not first.breaches and _better([plan, first]) is first):
            plan = first
        return plan

    def _searched(self, task: Task) -> FloorPlan:
        model = Rows(task.deck, task.kinds, task.stacks)
        values, levels = self._levels(task, model)
        if values is None:
            return _by_hand(task)
        whole = model.complete and task.all_stacks
        built = _arranged(task, model.rows(values))
        area = self._area_bound(task, model, values)
        said = [_bounded(one, whole, area, built, len(task.refused)) for one in levels]
        plan = _plan(task, built, said, proven=said[0].proven)
        return replace(plan, area_bound_mm=area)

    def _levels(self, task: Task, rows: Rows) -> tuple[list[int] | None, list[Level]]:
        """Goal by goal, each fixed before the next; one that is not proven in its time keeps its value and says so."""
        values, known = self._all_aboard(task, rows)
        model, levels = rows.model, []
        goals = rows.goals()
        for at, (name, goal) in enumerate(goals):
            model.goal = goal
            found = known.get(name) or self._level(rows, values, last=at == len(goals) - 1)
            values = found.values or values
            if values is None:
                return None, []
            value = model.value(goal, values)
            levels.append(Level(name, value, min(value, max(0, found.bound)), found.engine))
            self.progress(name, value, levels[-1].bound)
            self._fix(model, name, goal, value)
        return values, levels

    def _fix(self, model: Model, name: str, goal: dict[int, int], value: int) -> None:
        """No later goal may cost this one. Nought is held at the variables: the engine has lost rows like that."""
        if value:
            model.row(goal, -INFINITE, value, f"goal {name}")
        for var, weight in goal.items() if not value else ():
            model.upper[var] = 0 if weight > 0 else model.upper[var]

    def _all_aboard(self, task: Task, rows: Rows) -> tuple[list[int] | None, dict[str, Found]]:
        """A plan to begin with, and what is known of its goals. The shortest rows for all, however long the deck, say
        whether all can go: that is the easier question."""
        model, values = rows.model, rows.start(task.at_once())
        if values is not None and self.deck_first and model.value(rows.goals()[0][1], values) == 0:
            rows.hold_to_deck()
            return values, {}
        rows.leave_nothing(True)
        model.goal = rows.depths
        starts = [one for made in task.however_long() if (one := rows.start(made)) and model.holds(one)]
        long = min(starts, key=lambda one: model.value(rows.depths, one), default=None)
        fits = long is not None and model.value(rows.depths, long) <= task.deck.length_mm
        whole = fits and not self.deck_first
        found = self._chained(rows) or self._shortest(rows, model, self._share(1.0 if whole else 0.6), long)
        rows.leave_nothing(False)
        rows.hold_to_deck()
        if found.values is not None and model.holds(found.values):
            return found.values, {LENGTH: found} if (whole or settled(model, found)) and not self.deck_first else {}
        if found.values is not None:
            shorter = rows.start(within(task.deck, rows.rows(found.values), task.kinds)[0])
            values = min(
                (one for one in (values, shorter) if one), key=lambda one: model.value(rows.goals()[0][1], one)
            )
        return (values if values is not None and model.holds(values) else None), {}

    @property
    def deck_first(self) -> bool:
        return self.freight.deck.floor_first

    def _share(self, part: float) -> Remaining:
        end = self.remaining() * (1 - part)
        return lambda: max(0.0, self.remaining() - end)

    def _chained(self, rows: Rows) -> Found | None:
        """From tables where there are several turns and many cases; few are quicker asked as one model."""
        many = sum(len(kind.ids) for kind in rows.kinds) >= MANY and len(rows.turns) > 1
        return chained(rows, self._share(TABLES)) if many and not self.deck_first else None

    def _shortest(self, rows: Rows, model: Model, remaining: Remaining, start: list[int] | None) -> Found:
        asked = cut(rows, model, remaining)
        return cheapest(asked, remaining, start=start, stop=self.stop, seed=self.seed)

    def _level(self, rows: Rows, values: list[int] | None, *, last: bool) -> Found:
        model = rows.model
        if values is not None and model.value(model.goal, values) == 0:
            return Found(values, 0, HAND)
        if values is not None and last:
            return self._shortest(rows, _without_deck(model), self._share(1.0), values)
        part = self._share(1.0 if last else 0.7)
        return cheapest(model, part, start=values, stop=self.stop, seed=self.seed)

    def _area_bound(self, task: Task, rows: Rows, values: list[int]) -> int:
        """No layout at all of these cases is shorter: the least floor they can cover, by the width of the deck."""
        model = Model()
        used = [model.var(0, upper) for upper in (rows.model.upper[var] for var in rows.used)]
        for at, kind in enumerate(task.kinds):
            terms = {var: stack.kinds.count(at) for var, stack in zip(used, task.stacks, strict=True)}
            count = len(kind.ids) - values[rows.left[at]]
            if any(terms.values()):
                model.row(terms, count, count, f"cover {at}")
        model.goal = {var: s.foot[0] * s.foot[1] // 100 for var, s in zip(used, task.stacks, strict=True)}
        found = highs(model, min(0.5, max(0.05, self.remaining())), stop=self.stop)
        return max(0, -(-100 * found.bound // task.deck.width_mm)) if abs(found.bound) < INFINITE else 0


def _without_deck(model: Model) -> Model:
    """The shortest rows of all, from a plan that the deck takes: its row says nothing more, and the engine, given a
    start, has claimed optima that are none where a row is the goal itself."""
    return Model(model.lower, model.upper, [row for row in model.rows if row.tag != DECK], model.goal)


def _avoidable(freight: Freight, plan: FloorPlan) -> bool:
    """Does something stay behind that could go alone?"""
    return any(not reasons.cannot_go(freight.deck, freight.by_id[one.gear]) for one in plan.left)


def _bounded(level: Level, whole: bool, area: int, built: Built, refused: int) -> Level:
    """The level as the plan keeps it: what was refused counts, and what was not looked at proves nothing."""
    if level.name == LEFT:
        bound = level.bound if whole else 0
        return replace(level, value=level.value + refused + len(built.off), bound=bound + refused)
    if level.name == LENGTH:
        value = sum(row.depth for row in built.rows)
        return replace(level, value=value, bound=min(value, level.bound if whole else area))
    value = sum(stack.lifted for row in built.rows for stack in row.stacks)
    return replace(level, value=value, bound=min(value, level.bound if whole else 0))
