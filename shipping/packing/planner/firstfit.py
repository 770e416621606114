"""A plan at once: what lives somewhere stays there, the rest goes where it fits best; or first fit decreasing."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable

from shipping.packing.planner import fitting
from shipping.packing.wanted import Air, Content, Gear, Job, Shell, moves

Filled = dict[str, dict[str, int]]


class Filling:
    """Cases being filled; knows what is free in each, and who may share with whom."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.free = {one.id: fitting.limits(one) for one in job.shells}
        self.held: Filled = defaultdict(dict)
        self.left = without_rails(job)
        self._most: dict[tuple[str, str], int] = {}
        self._needs: dict[tuple[str, str], dict[str, int]] = {}

    def needs(self, gear: Gear, shell: Shell) -> dict[str, int]:
        if (gear.id, shell.id) not in self._needs:
            self._needs[gear.id, shell.id] = fitting.needs(gear, shell)
        return self._needs[gear.id, shell.id]

    def fits(self, bundle: Iterable[tuple[Gear, int]], shell: Shell) -> bool:
        taken: dict[str, int] = defaultdict(int)
        for gear, count in bundle:
            if count > self.most(gear, shell) or self.clashes(gear, shell):
                return False
            for name, each in self.needs(gear, shell).items():
                taken[name] += each * count
        air = self.job.air_of(shell)
        if air is not None and not self._may_fly(air, bundle, shell):
            return False
        return all(amount <= self.free[shell.id][name] for name, amount in taken.items())

    def most(self, gear: Gear, shell: Shell) -> int:
        if (gear.id, shell.id) not in self._most:
            self._most[gear.id, shell.id] = fitting.most(gear, shell, self.job)
        return self._most[gear.id, shell.id] - self.held[shell.id].get(gear.id, 0)

    def clashes(self, gear: Gear, shell: Shell) -> bool:
        inside = [self.job.kinds[ident] for ident in self.held[shell.id]]
        mine = set(gear.not_in_one_case)
        if mine and any(mine.intersection(one.not_in_one_case) for one in inside):
            return True
        only_van = len(self.job.vans) == 1 and not shell.off_vans
        if only_van and (parted := set(self.job.not_on_one_van(gear))) and self._aboard(parted):
            return True
        return self.job.split_batteries and any(one.battery != gear.battery for one in inside)

    def _aboard(self, tags: set[str]) -> bool:
        """Is one of those that never share a vehicle packed already?"""
        packed = {ident for case, held in self.held.items() if not self.job.cases[case].off_vans for ident in held}
        return any(tags.intersection(self.job.not_on_one_van(self.job.kinds[ident])) for ident in packed)

    def _may_fly(self, air: Air, bundle: Iterable[tuple[Gear, int]], shell: Shell) -> bool:
        inside = Counter(self.held[shell.id])
        for gear, count in bundle:
            inside[gear.id] += count
        return not fitting.too_many_by_air(air, self.job, inside)

    def put(self, bundle: Iterable[tuple[Gear, int]], shell: Shell) -> None:
        for gear, count in bundle:
            self.held[shell.id][gear.id] = self.held[shell.id].get(gear.id, 0) + count
            for name, each in self.needs(gear, shell).items():
                self.free[shell.id][name] -= each * count

    def take(self, bundle: Iterable[tuple[Gear, int]], shell: Shell) -> None:
        for gear, count in bundle:
            self.held[shell.id][gear.id] -= count
            if not self.held[shell.id][gear.id]:
                del self.held[shell.id][gear.id]
            for name, each in self.needs(gear, shell).items():
                self.free[shell.id][name] += each * count

    @classmethod
    def of(cls, job: Job, contents: dict[str, Content], left: dict[str, int]) -> Filling:
        """An existing plan, to go on from."""
        filling = cls(job)
        filling.left = dict(left)
        for case, content in contents.items():
            filling.put(((job.kinds[ident], count) for ident, count in content), job.cases[case])
        return filling

    def open_cases(self) -> set[str]:
        return {case for case, held in self.held.items() if held}

    def contents(self) -> dict[str, Content]:
        return {case: tuple(sorted(held.items())) for case, held in sorted(self.held.items()) if held}


Bundle = tuple[tuple[Gear, int], ...]


def bundles(job: Job) -> list[tuple[Bundle, int]]:
    """What moves as one: tagged groups once, a frame with its rails, everything else one by one. (bundle, how many)."""
    tagged: dict[str, list[tuple[Gear, int]]] = defaultdict(list)
    found: list[tuple[Bundle, int]] = []
    short = without_rails(job)
    whole = {one.id: one.count - short.get(one.id, 0) for one in job.gear}
    alone = whole | {one: whole[one] - many for one, many in _spoken_for(job, whole).items() if one in whole}
    for gear in job.gear:
        if gear.together and whole[gear.id]:
            tagged[gear.together] += _railed(job, gear, whole[gear.id])
        elif gear.rails and whole[gear.id]:
            found.append((_railed(job, gear, 1), whole[gear.id]))
        elif not gear.rails and alone[gear.id]:
            found.append((((gear, 1),), alone[gear.id]))
    found += [(tuple(group), 1) for _, group in sorted(tagged.items())]
    return sorted(found, key=lambda one: (_turn(job, one[0]), -_bulk(one[0]), one[0][0][0].id))


def _turn(job: Job, bundle: Bundle) -> int:
    """What may not fly is packed first, while cases that ride have room; a battery after the thing that runs on it."""
    if job.air is None:
        return 1
    if any(job.air.keeps_out(gear) for gear, _ in bundle) and any(one.rides for one in job.shells):
        return 0
    return 2 if any(gear.is_loose_lithium for gear, _ in bundle) else 1


def _spoken_for(job: Job, whole: dict[str, int]) -> Counter[str]:
    """How many rails of each kind go with frames."""
    found: Counter[str] = Counter()
    for gear in job.gear:
        if gear.rails:
            found[gear.rails] += whole[gear.id]
    return found


def without_rails(job: Job) -> dict[str, int]:
    """The frames for which there are no rails in the load: they stay behind, and that is said."""
    rails = {one.id: one.count for one in job.gear}
    short = {}
    for gear in job.gear:
        if gear.rails:
            has = min(gear.count, rails.get(gear.rails, 0))
            rails[gear.rails] = rails.get(gear.rails, 0) - has
            if has < gear.count:
                short[gear.id] = gear.count - has
    return short


def _railed(job: Job, gear: Gear, count: int) -> Bundle:
    rails = job.kinds.get(gear.rails)
    return ((gear, count), (rails, count)) if rails else ((gear, count),)


def _bulk(bundle: Bundle) -> int:
    volume = sum((g.size_mm[0] * g.size_mm[1] * g.size_mm[2] // 1000 if g.size_mm else 0) * n for g, n in bundle)
    return sum(g.units * n for g, n in bundle) * 10**9 + sum(g.slots * n for g, n in bundle) * 10**9 + volume


def first_fit(job: Job) -> Filling:
    """First fit decreasing: the biggest first, each into the first case, biggest cases first, that takes it."""
    filling = Filling(job)
    order = sorted(job.shells, key=lambda one: (-_holds(one), one.id))
    for bundle, many in bundles(job):
        _fill(filling, bundle, many, order)
    return filling


def _holds(shell: Shell) -> int:
    inside = shell.inside_mm or (0, 0, 0)
    return shell.units * 10**9 + shell.slots * 10**9 + inside[0] * inside[1] * inside[2] // 1000


def _fill(filling: Filling, bundle: Bundle, many: int, order: list[Shell]) -> None:
    """Each of them into the first case that takes it; what no case takes is left."""
    for shell in order:
        while many and filling.fits(bundle, shell):
            filling.put(bundle, shell)
            many -= 1
        if not many:
            return
    for gear, count in bundle:
        filling.left[gear.id] = filling.left.get(gear.id, 0) + count * many


Lived = dict[str, dict[str, int]]


def usual(job: Job) -> Lived:
    """How many of which kind live in each case."""
    lived: Lived = defaultdict(dict)
    for gear in job.gear:
        for case, many in gear.homes:
            lived[case][gear.id] = many
    return lived


def home_first(job: Job, lived: Lived | None = None) -> Filling:
    """Opens the cases that most things live in, keeps those there, then fits the rest into the fullest open case."""
    filling = Filling(job)
    lived = usual(job) if lived is None else lived
    busiest = sorted(lived, key=lambda case: (-sum(lived[case].values()), case))
    opened = [job.cases[one] for one in busiest if one in job.cases]
    rest = [(bundle, _keep(filling, bundle, many, opened, lived)) for bundle, many in bundles(job)]
    others = sorted((one for one in job.shells if one not in opened), key=lambda one: (-_holds(one), one.id))
    for bundle, many in rest:
        if many:
            held = sorted(filling.open_cases(), key=lambda case: (_room_left(filling, bundle, case), case))
            closed = [one for one in [*opened, *others] if one.id not in held]
            _fill(filling, bundle, many, [job.cases[one] for one in held] + closed)
    return filling


def _room_left(filling: Filling, bundle: Bundle, case: str) -> int:
    """How much is free of what the bundle takes most: rack units, slots, or a trunk's room."""
    needs = filling.needs(bundle[0][0], filling.job.cases[case])
    name = next((one for one in needs if one not in ("mass", "top")), "mass")
    return filling.free[case].get(name, 0)


def _keep(filling: Filling, bundle: Bundle, many: int, opened: list[Shell], lived: Lived) -> int:
    """Put what lives in each case back into it; how many of the bundle are still without a place."""
    for shell in opened:
        room = min(lived[shell.id].get(gear.id, 0) // count for gear, count in bundle)
        while many and room and filling.fits(bundle, shell):
            filling.put(bundle, shell)
            many, room = many - 1, room - 1
    return many


def again(job: Job, contents: dict[str, Content]) -> Filling:
    """An earlier plan for a load that may have changed: what still fits stays put, the rest goes where it fits best."""
    return home_first(job, {case: dict(content) for case, content in contents.items()})


def at_once(job: Job) -> Filling:
    """The better of both: less left behind, then fewer cases, then fewer moves."""
    tries = [home_first(job), first_fit(job)]
    return min(tries, key=lambda one: goal(job, one.left, one.contents()))


def goal(job: Job, left: dict[str, int], contents: dict[str, Content]) -> tuple[int, int, int]:
    """What a plan is measured by, smaller is better."""
    count, moved = len(contents), moves(job, contents)
    return (sum(left.values()), *((moved, count) if job.moves_first else (count, moved)))


def squeezed(filling: Filling) -> Filling:
    """What found no place takes the place of something that finds another one; what is not at home makes way first."""
    job = filling.job
    for ident in sorted(filling.left, key=lambda one: (-_bulk(((job.kinds[one], 1),)), one)):
        gear = job.kinds[ident]
        while filling.left[ident] and not (gear.together or gear.rails) and _makes_way(filling, gear):
            filling.left[ident] -= 1
    filling.left = {ident: many for ident, many in filling.left.items() if many}
    return filling


def _makes_way(filling: Filling, gear: Gear) -> bool:
    bundle: Bundle = ((gear, 1),)
    cases = [filling.job.cases[case] for case in sorted(filling.open_cases())]
    swaps = [(other, shell) for shell in cases if filling.most(gear, shell) > 0 for other in loose_in(filling, shell)]
    rank = {gear.id: at for at, gear in enumerate(sorted(filling.job.gear, key=lambda one: _bulk(((one, 1),))))}
    for other, shell in sorted(swaps, key=lambda one: (_at_home(filling, *one), rank[one[0].id], one[1].id)):
        out: Bundle = ((other, 1),)
        filling.take(out, shell)
        if filling.fits(bundle, shell):
            filling.put(bundle, shell)
            if goes := next((one for one in cases if one is not shell and filling.fits(out, one)), None):
                filling.put(out, goes)
                return True
            filling.take(bundle, shell)
        filling.put(out, shell)
    return False


def loose_in(filling: Filling, shell: Shell) -> list[Gear]:
    """What may leave a case by itself."""
    railed = {one.rails for one in filling.job.gear}
    here = [filling.job.kinds[ident] for ident in filling.held[shell.id]]
    kept = {one.id for one in here if one.runs_on} if filling.job.air_of(shell) else set()
    return [one for one in here if not (one.together or one.rails or one.id in railed | kept or one.stays)]


def _at_home(filling: Filling, gear: Gear, shell: Shell) -> bool:
    return filling.held[shell.id].get(gear.id, 0) <= gear.at_home_in(shell.id)
