"""What the rules say of many cases at once, sorted for a reader: first what is wrong, then what is asked by rule."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from django.urls import reverse

from inventory.models import Item
from inventory.unchanged import kept
from shipping.models import BorderList
from shipping.packing.facts import State
from shipping.packing.rules import RULES
from shipping.piles import Shown, shown_of
from shipping.waiving import Judged


@dataclass(frozen=True, slots=True)
class Spot:
    """What a finding is about, as a link: a case, a border list, or nothing that has a page of its own."""

    words: str
    address: str = ""


@dataclass(frozen=True, slots=True)
class Said:
    """A finding and its place. `times` counts those that say the same, as of each leg that a case travels."""

    judged: Judged
    spot: Spot
    times: int = 1

    @property
    def shown(self) -> Shown:
        """As a page shows it on which it may be set aside."""
        return shown_of(self.judged)


@dataclass(frozen=True, slots=True)
class Asked:
    """One rule, and everything it says or asks of these cases."""

    sentence: str
    said: tuple[Said, ...]

    @property
    def severity(self) -> str:
        return self.said[0].judged.finding.severity


@dataclass(frozen=True, slots=True)
class Verdicts:
    """`blocks` one by one, worst first; what is `wrong` besides, `unconfirmed` and `unknown` rule by rule."""

    blocks: tuple[Said, ...]
    wrong: tuple[Asked, ...]
    unconfirmed: tuple[Asked, ...]
    unknown: tuple[Asked, ...]

    @property
    def in_the_way(self) -> tuple[Said, ...]:
        """The blocks that nobody's word has set aside."""
        return tuple(one for one in self.blocks if one.judged.blocks)

    @property
    def besides(self) -> Verdicts:
        """All but those."""
        return replace(self, blocks=tuple(one for one in self.blocks if not one.judged.blocks))


def verdicts(judged: Sequence[Judged]) -> Verdicts:
    """Sorted by state, in the order they came; one query for the names of the cases."""
    subjects = frozenset(one.finding.subject for one in judged)
    spots = kept(("spots", subjects), None, lambda: _spots(subjects))
    said = _once(Said(one, spots.get(one.finding.subject, Spot(""))) for one in judged)
    by_state = {state: [one for one in said if one.judged.finding.state == state] for state in State}
    blocks = tuple(one for one in by_state[State.WRONG] if one.judged.finding.blocks)
    besides = [one for one in by_state[State.WRONG] if not one.judged.finding.blocks]
    return Verdicts(blocks, *map(_by_rule, (besides, by_state[State.NOT_CONFIRMED], by_state[State.NOT_KNOWN])))


def _once(said: Iterable[Said]) -> list[Said]:
    """What reads the same stands once: a case out and home again breaks one rule on two legs."""
    alike: dict[tuple[object, ...], list[Said]] = {}
    for one in said:
        found = one.judged.finding
        key = (found.rule, found.state, found.sentence, found.way_out, one.spot, one.judged.waiver)
        alike.setdefault(key, []).append(one)
    return [replace(its[0], times=len(its)) for its in alike.values()]


def _by_rule(said: Iterable[Said]) -> tuple[Asked, ...]:
    found: dict[str, list[Said]] = {}
    for one in said:
        found.setdefault(one.judged.finding.rule, []).append(one)
    return tuple(Asked(RULES[rule].sentence, tuple(its)) for rule, its in found.items())


def _spots(subjects: Iterable[str]) -> Mapping[str, Spot]:
    cases = Item.objects.filter(pk__in=_keys(subjects, "case")).with_words()
    lists = BorderList.objects.filter(pk__in=_keys(subjects, "border"))
    return {f"case:{case.pk}": Spot(str(case), reverse("case", args=[case.number or case.code])) for case in cases} | {
        f"border:{one.pk}": Spot(f"border list {one.number}", reverse("border-list", args=[one.pk])) for one in lists
    }


def _keys(subjects: Iterable[str], kind: str) -> list[int]:
    return [int(key) for one, _, key in (subject.partition(":") for subject in subjects) if one == kind]
