"""A plan made to go in: every trunk is laid out, and what finds no place in one is put into another."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

from shipping.packing.planner import boxes, fitting
from shipping.packing.planner.firstfit import Bundle, Filling, bundles, goal, home_first, squeezed, usual
from shipping.packing.planner.fitting import share, takes_room
from shipping.packing.wanted import Content, Job, Shell

Layouts = dict[str, boxes.Layout]
PATIENCE = 4


@dataclass(frozen=True)
class Held:
    """What each case holds, how each trunk is laid out, what stays behind. Every trunk of it goes in."""

    contents: dict[str, Content] = field(default_factory=dict)
    left: dict[str, int] = field(default_factory=dict)
    layouts: Layouts = field(default_factory=dict)

    def goal(self, job: Job) -> tuple[int, int, int]:
        return goal(job, self.left, self.contents)


def drafted(job: Job, for_batteries: frozenset[str]) -> Held:
    """Only the cases given; which of them are for batteries is settled beforehand, where any are."""
    lived = usual(job)
    if for_batteries:
        lived = {
            case: {ident: many for ident, many in held.items() if job.kinds[ident].battery == (case in for_batteries)}
            for case, held in lived.items()
        }
    filling = squeezed(home_first(job, lived))
    return Held(filling.contents(), filling.left)


def has_room_gear(job: Job, content: Content) -> bool:
    return any(takes_room(job.kinds[ident]) for ident, _ in content)


def laid_out(job: Job, contents: dict[str, Content], ways: int = boxes.WAYS) -> tuple[Layouts, dict[str, Counter[str]]]:
    """A layout for each trunk, and for those that do not go in, what found no place."""
    layouts, over = {}, {}
    for case, content in contents.items():
        if has_room_gear(job, content):
            layouts[case], out = boxes.as_many(job, job.cases[case], content, ways)
            if out:
                over[case] = out
    return layouts, over


def went_in(job: Job, case: str, content: Content, over: Counter[str]) -> int:
    """How much of a trunk's room, in parts of SHARE, was used by what the best try could lay out."""
    shell = job.cases[case]
    kinds = [(job.kinds[ident], count - over[ident]) for ident, count in content]
    return sum(share(gear, shell) * count for gear, count in kinds if takes_room(gear))


def made_to_fit(job: Job, contents: dict[str, Content], left: dict[str, int], ways: int = boxes.QUICK) -> Held:
    """What goes in stays; the rest into the emptiest other case where a layout shows it, else an unused one.

    A trunk with less in it may be laid out otherwise and fail again: after some rounds the rest is left behind.
    """
    filling = Filling.of(job, contents, left)
    for turn in range(sum(count for content in contents.values() for _, count in content) + 1):
        layouts, over = laid_out(job, filling.contents(), ways)
        if not over and job.air is not None:
            over = _may_not_fly(job, filling)
        if not over:
            return Held(filling.contents(), filling.left, layouts)
        waiting = [bundle for case, out in over.items() for bundle in _taken_out(filling, job, case, out)]
        for bundle in sorted(waiting, key=lambda one: -sum(_volume(job, gear.id) * n for gear, n in one)):
            if turn >= PATIENCE or not _put_elsewhere(filling, bundle, ways):
                for gear, count in bundle:
                    filling.left[gear.id] = filling.left.get(gear.id, 0) + count
    raise AssertionError("every round takes something out, so an empty trunk comes before this")


def _may_not_fly(job: Job, filling: Filling) -> dict[str, Counter[str]]:
    """What went out of a trunk may have been what batteries need: those that are then too many, case by case."""
    found: dict[str, Counter[str]] = {}
    for case, held in filling.held.items():
        air = job.air_of(job.cases[case])
        many = fitting.too_many_by_air(air, job, held) if air is not None else 0
        packs = sorted((ident for ident in held if job.kinds[ident].is_loose_lithium), key=lambda one: held[one])
        for ident in packs:
            if out := min(many, held[ident]):
                found.setdefault(case, Counter())[ident] = out
                many -= out
    return found


def _volume(job: Job, ident: str) -> int:
    length, width, height = job.kinds[ident].size_mm or (0, 0, 0)
    return length * width * height


def _taken_out(filling: Filling, job: Job, case: str, out: Counter[str]) -> Iterator[Bundle]:
    """What found no place leaves the case, and with it all that must be where it is."""
    whole = [bundle for bundle, _ in bundles(job)]
    for ident, count in sorted(out.items()):
        bundle = next(one for one in whole if any(gear.id == ident for gear, _ in one))
        each = next(many for gear, many in bundle if gear.id == ident)
        for _ in range(-(-count // each)):
            if filling.held[case].get(ident, 0):
                filling.take(bundle, job.cases[case])
                yield bundle


def _put_elsewhere(filling: Filling, bundle: Bundle, ways: int) -> bool:
    job = filling.job
    opened = filling.open_cases()
    room = {case: filling.free[case]["room"] for case in job.cases}
    order = sorted(job.shells, key=lambda one: (one.id not in opened, -room[one.id], one.id))
    for shell in order:
        if filling.fits(bundle, shell):
            filling.put(bundle, shell)
            if goes_in(job, shell, filling.held[shell.id], ways):
                return True
            filling.take(bundle, shell)
    return False


def goes_in(job: Job, shell: Shell, held: dict[str, int], ways: int) -> bool:
    content = tuple(sorted(held.items()))
    return not has_room_gear(job, content) or boxes.lay_out(job, shell, content, ways) is not None
