"""What a dangerous-goods person's recorded decision lets fly: which things, in the case that the decision names.

A decision stands while the rule says the same of the same case, as everywhere. So the rule is asked of each thing in
that case, on each flight to come of it, and what it says is looked for among the decisions. Nothing here approves.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from inventory.models import Holding, Item, Kind
from shipping.models import Leg, Show, Waiver
from shipping.packing import facts
from shipping.packing.engine import judge
from shipping.packing.facts import Finding, State
from shipping.packing.rules import RULES
from shipping.planning import LEG_WORDS, cases_on, legs, wholes
from shipping.planning.pieces import Held, Known, piece_of

ALONE, TOGETHER = "lithium-alone-by-air", "lithium-with-equipment-by-air"
BY_THING = (ALONE, "lithium-in-equipment-by-air", "lead-acid-by-air")
OF_ONE_LEG = {"leg", "passenger", "limit"}  # these tell flights apart in a finding, not things
Key = tuple[str, str, tuple[tuple[str, str], ...]]


def key_of(finding: Finding) -> Key:
    """What a finding says, whatever flight it says it of."""
    return finding.rule, finding.subject, tuple(one for one in finding.facts if one[0] not in OF_ONE_LEG)


@dataclass(frozen=True, slots=True)
class Decided:
    """`things`: item id to the cases it may fly in, `alone` those of them that fly with nothing that runs on them.

    `together`: cases whose usual batteries fly with what runs on them there, as they are. `words` tell each decision.
    """

    things: Mapping[int, frozenset[int]]
    alone: frozenset[int] = frozenset()
    together: frozenset[int] = frozenset()
    keys: frozenset[Key] = frozenset()
    words: tuple[str, ...] = ()

    def covers(self, finding: Finding) -> bool:
        return key_of(finding) in self.keys


NOTHING = Decided({})
Told = tuple[Waiver, Finding, tuple[Item, ...]]


def decided(show: Show, cases: Sequence[Item], items: Sequence[Item], at: datetime) -> Decided:
    """Of these cases and things. One query where nothing was decided."""
    given = Waiver.objects.filter(is_decision=True, rule__in=(*BY_THING, TOGETHER))
    standing = {one.digest: one for one in given.filter(subject__in={f"case:{case.pk}" for case in cases})}
    named = {one.subject for one in standing.values()}
    mine = [case for case in cases if f"case:{case.pk}" in named]
    if not mine:
        return NOTHING
    ours = {case.pk for case in mine}
    flights = [(leg, cases_on(leg) & ours) for leg in _flights(show)]
    said = {leg.pk: _of_flight(leg, [c for c in mine if c.pk in on], items, standing, at) for leg, on in flights if on}
    return _of_all(mine, [(leg.pk, on) for leg, on in flights if on], said)


def _flights(show: Show) -> Iterable[Leg]:
    return Leg.objects.filter(consignment__show=show, mode="air").select_related(*LEG_WORDS)


def _of_flight(
    leg: Leg, cases: Sequence[Item], items: Sequence[Item], standing: Mapping[str, Waiver], at: datetime
) -> list[Told] | None:
    """What was decided of these cases for one flight; None for one that is over."""
    flies = legs.leg_facts(leg, legs.rides_of([leg], at)[leg.pk], (), at)
    if flies.arrived:
        return None
    limits = wholes.limits_on(flies.departs_on)
    found = []
    for case in cases:
        for rules, inside in _askings(case, items):
            load = facts.Load(cases=(_case(case, inside),), on=flies.departs_on, leg=flies, limits=limits)
            wrong = [one for one in judge(load, [RULES[name] for name in rules]) if one.state == State.WRONG]
            found += [(standing[one.digest], one, inside) for one in wrong if one.digest in standing]
    return found


def _askings(case: Item, items: Sequence[Item]) -> Iterator[tuple[tuple[str, ...], tuple[Item, ...]]]:
    """Each thing with a battery by itself; and all that lives in the case together."""
    for item in items:
        if is_of_batteries(item):
            yield BY_THING, (item,)
    yield (TOGETHER,), tuple(item for item in items if item.home_case_id == case.pk)


def is_of_batteries(item: Item) -> bool:
    kind = item.type
    return bool(kind.battery_count or kind.battery_chemistry or kind.kind in (Kind.BATTERY, Kind.UPS))


def _case(case: Item, inside: Iterable[Item]) -> facts.Case:
    held, known = Held(case_of={item.pk: case.pk for item in inside}), Known({}, {}, {})
    return facts.Case(case.pk, str(case), pieces=tuple(piece_of(Holding(item=item), held, known) for item in inside))


def _of_all(
    cases: Sequence[Item], flights: Sequence[tuple[int, set[int]]], said: Mapping[int, list[Told] | None]
) -> Decided:
    """What was decided for every flight to come of the case; one flight without it keeps the thing on the ground."""
    things: dict[int, set[int]] = defaultdict(set)
    alone, together, keys, words = set(), set(), set(), dict[str, None]()
    for case in cases:
        told = [said[leg] for leg, on in flights if case.pk in on]
        coming = [[one for one in rows if one[1].subject == f"case:{case.pk}"] for rows in told if rows is not None]
        common = set.intersection(*({key_of(one) for _, one, _ in rows} for rows in coming)) if coming else set()
        for waiver, finding, inside in (one for rows in coming for one in rows if key_of(one[1]) in common):
            keys.add(key_of(finding))
            words[_words(case, inside, waiver, finding)] = None
            if finding.rule == TOGETHER:
                together.add(case.pk)
                continue
            things[inside[0].pk].add(case.pk)
            alone |= {inside[0].pk} if finding.rule == ALONE else set()
    where = {item: frozenset(of) for item, of in things.items()}
    return Decided(where, frozenset(alone), frozenset(together), frozenset(keys), tuple(words))


def _words(case: Item, inside: Sequence[Item], waiver: Waiver, finding: Finding) -> str:
    what = f"{inside[0].called} flies in {case}" if finding.rule != TOGETHER else f"The batteries of {case} fly in it"
    document = f" ({waiver.document})" if waiver.document else ""
    return f"{what}, and in no other case: {waiver.reason}{document}. Recorded by {waiver.by}."
