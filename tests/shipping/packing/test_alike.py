"""Kinds thrown together and told apart again: no plan gets lost by it, and what comes back holds thing by thing."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace

import pytest

from shipping.packing.planner.alike import Alike
from shipping.packing.planner.cases import LEFT, MOVES, Family
from shipping.packing.planner.engines import Stop, cp_sat, either, highs
from shipping.packing.planner.model import INFINITE, Model
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


def test_some_kinds_are_thrown_together_and_those_that_a_rule_names_are_not():
    plain = [Gear(f"k{at}", f"k{at}", "loose", 2, 500 + at, size_mm=SIZES[at % 2]) for at in range(2)]
    named = [replace(plain[0], id="t", together="x"), replace(plain[0], id="s", count=1, spare="y"),
             replace(plain[0], id="h", stays=True), replace(plain[0], id="b", battery=True)]  # fmt: skip
    alike = Alike.of(Job((*plain, *named), (trunk("T0", inside_mm=(600, 600, 300)),)))
    assert [[one.id for one in same] for same in alike.members.values()] == [["k0", "k1"], ["t"], ["s"], ["h"], ["b"]]
    assert (alike.job.gear[0].count, alike.job.gear[0].mass_g) == (4, 501)


def hard() -> Model:
    """Twelve things of which seven sum up to exactly half: no engine sees it at a glance."""
    model, dice = Model(), random.Random(1)
    sizes = [dice.randint(10**5, 2 * 10**5) for _ in range(12)]
    half = sum(sizes[at] for at in (0, 2, 3, 5, 8, 9, 11))
    for _ in sizes:
        model.var(0, 1)
    model.row(dict(enumerate(sizes)), half, half, "half")
    return model


def test_of_two_engines_the_answer_is_the_same_each_time():
    """CP-SAT's where so little work is enough, else that of HiGHS, whoever is quicker."""
    model = hard()
    assert {either(model, 60.0, work=60.0).engine for _ in range(3)} == {"CP-SAT"}
    assert [either(model, 60.0, work=0.0) for _ in range(2)] == [highs(model, 60.0)] * 2


def test_two_engines_end_when_they_are_stopped():
    stop = Stop()
    stop.set()
    found = either(hard(), 60.0, work=60.0, stop=stop)
    assert found.values is None or hard().holds(found.values)
