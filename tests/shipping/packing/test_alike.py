"""Kinds thrown together and told apart again: no plan gets lost by it, and what comes back holds thing by thing."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace

import pytest

from shipping.packing.planner.alike import Alike, as_before, told_by_home
from shipping.packing.planner.cases import LEFT, MOVES, Family
from shipping.packing.planner.engines import cp_sat, highs
from shipping.packing.planner.model import INFINITE
from shipping.packing.wanted import Gear, Job, moves
from tests.shipping.packing.loads import trunk

SIZES = ((290, 290, 290), (300, 300, 300), (280, 300, 300), (600, 300, 290), (590, 300, 280))


def drawn(seed: int) -> Job:
    """A few kinds that halve or quarter two sorts of trunk, at home here and there."""
    dice = random.Random(seed)
    cases = [trunk(f"T{at}", inside_mm=((600, 600, 300), (600, 300, 300))[at % 2]) for at in range(3)]
    gear = []
    for at in range(dice.randint(3, 6)):
        homes = Counter(dice.choice(cases).id for _ in range(dice.randint(1, 3)))
        spare = dice.randint(0, 1)
        gear.append(Gear(f"k{at}", f"k{at}", "loose", sum(homes.values()) + spare, 500, size_mm=dice.choice(SIZES),
                         homes=tuple(sorted(homes.items()))))  # fmt: skip
    return Job(tuple(gear), tuple(cases))


def best(job: Job) -> tuple[int, int, dict[str, tuple[tuple[str, int], ...]]]:
    """Fewest left behind, then fewest moves; all cases may be used."""
    family, found = Family(job, {}), []
    goals = {name: (terms, add) for name, terms, add in family.goals()}
    for name in (LEFT, MOVES):
        terms, add = goals[name]
        family.model.goal = terms
        answer = cp_sat(family.model, 30.0)
        assert answer.values is not None and answer.bound == family.model.value(terms, answer.values)
        found.append(answer.bound + add)
        family.model.row(terms, -INFINITE, answer.bound, name)
    return found[0], found[1], family.contents(answer.values)


def every_way(job: Job) -> tuple[int, int]:
    """The same by trying every place for every thing, one after another."""
    things = [gear for gear in job.gear for _ in range(gear.count)]
    family, lives = Family(job, {}), sum(min(g.count, sum(n for _, n in g.homes)) for g in job.gear)

    def tried(at: int, held: dict[str, Counter[str]], left: int) -> tuple[int, int]:
        if at == len(things):
            contents = {case: tuple(inside.items()) for case, inside in held.items()}
            kept = sum(min(n, job.kinds[i].at_home_in(c)) for c, inside in held.items() for i, n in inside.items())
            rest = Counter(gear.id for gear in things)
            for inside in held.values():
                rest.subtract(inside)
            holds = family.model.holds(family.start(contents, dict(+rest)))
            return (left, lives - kept) if holds else (10**6, 0)
        gear = things[at]
        found = [tried(at + 1, held, left + 1)]
        for shell in job.shells:
            held[shell.id][gear.id] += 1
            found.append(tried(at + 1, held, left))
            held[shell.id][gear.id] -= 1
        return min(found)

    return tried(0, {shell.id: Counter() for shell in job.shells}, 0)


@pytest.mark.parametrize("seed", range(40))
def test_the_best_plan_is_as_good_thrown_together_and_told_apart_again(seed):
    job = drawn(seed)
    alike = Alike.of(job)
    left, moved, _ = best(job)
    together = best(alike.job)
    contents = alike.apart(together[2])
    assert together[:2] == (left, moved)
    packed = Counter(ident for content in contents.values() for ident, many in content for _ in range(many))
    behind = {gear.id: gear.count - packed[gear.id] for gear in job.gear}
    family = Family(job, {})
    assert sum(behind.values()) == left and min(behind.values()) >= 0
    assert family.model.holds(family.start(contents, behind))
    if not left:
        assert moves(job, contents) == moved


@pytest.mark.parametrize("seed", range(6))
def test_the_best_plan_of_classes_is_the_best_of_every_way_tried(seed):
    job = drawn(seed)
    few = tuple(replace(one, count=1, homes=one.homes[:1]) for one in job.gear[:5])
    job = replace(job, gear=tuple(replace(one, homes=((one.homes[0][0], 1),)) for one in few))
    assert best(Alike.of(job).job)[:2] == every_way(job)


@pytest.mark.parametrize("seed", range(20))
def test_told_by_what_comes_and_what_stays_the_best_plan_is_the_same(seed):
    job = drawn(seed)
    family = Family(job, {})
    homes = {family.n[cell]: kept for cell, kept in family.kept.items()}
    _, terms, add = next(goal for goal in family.goals() if goal[0] == MOVES)
    family.model.goal = {**terms, **dict.fromkeys(family.left.values(), 1000)}
    found = highs(told_by_home(family.model, homes), 30.0)
    values = as_before(found.values, homes)
    assert family.model.holds(values)
    left, moved, _ = best(job)
    assert found.bound == family.model.value(family.model.goal, values) == 1000 * left + moved - add


def test_some_kinds_are_thrown_together_and_those_that_a_rule_names_are_not():
    plain = [Gear(f"k{at}", f"k{at}", "loose", 2, 500 + at, size_mm=SIZES[at % 2]) for at in range(2)]
    named = [replace(plain[0], id="t", together="x"), replace(plain[0], id="s", count=1, spare="y"),
             replace(plain[0], id="h", stays=True), replace(plain[0], id="b", battery=True)]  # fmt: skip
    alike = Alike.of(Job((*plain, *named), (trunk("T0", inside_mm=(600, 600, 300)),)))
    assert [[one.id for one in same] for same in alike.members.values()] == [["k0", "k1"], ["t"], ["s"], ["h"], ["b"]]
    assert (alike.job.gear[0].count, alike.job.gear[0].mass_g) == (4, 501)
