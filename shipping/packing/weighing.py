"""Weigh to check: what a scale says against the sum of the contents, and the fewest changes that would explain it.

Kilograms (Decimal) throughout. A change moves the scale: something listed is not in it, something else is in it
besides, or another one of its kind is in its place. Pure.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from itertools import combinations

from shipping.packing.facts import Case, Expected, Piece

MOST = 4  # changes in one explanation: beyond that a mass tells nothing
DEEP = 60  # suspects tried for three changes and more, the doubtful and the heavy first
SHOWN = 5
COUNTED = 100  # explanations counted before the count is given up
NUMBERS = {1: "One thing", 2: "Two things", 3: "Three things", 4: "Four things"}


class Way(StrEnum):
    MISSING = "not in it"
    EXTRA = "in it besides"
    WRONG = "another one in its place"


@dataclass(frozen=True, slots=True)
class Suspect:
    """One change that may have happened. `kg` is what it does to the scale; a `why` makes it likelier."""

    ids: frozenset[int]
    name: str
    kg: Decimal
    way: Way
    why: str = ""
    alike: str = ""
    pieces: int = 1

    @property
    def kind(self) -> tuple[str, str, Decimal]:
        """What two suspects share if a scale cannot tell one from the other by name."""
        return self.way.value, self.alike or self.name, self.kg

    @property
    def words(self) -> str:
        why = f"; {self.why}" if self.why else ""
        return f"{self.name}, {masses(abs(self.kg))} kg {'less' if self.kg < 0 else 'more'}: {self.way}{why}"


@dataclass(frozen=True, slots=True)
class Explanation:
    """Changes that together bring the sum to the scale, but for `off_kg`. `alike`: how many could stand for each."""

    changes: tuple[Suspect, ...]
    off_kg: Decimal
    alike: tuple[int, ...] = ()

    @property
    def sentence(self) -> str:
        said = []
        for change, count in zip(self.changes, self.alike or (1,) * len(self.changes), strict=True):
            said.append(change.words + (f" (or one of {count - 1} alike)" if count > 1 else ""))
        rest = masses(abs(self.off_kg))
        return f"{'; and '.join(said)}." + (f" {rest} kg would stay unexplained." if rest != "0.0" else "")


@dataclass(frozen=True, slots=True)
class Weighing:
    """A scale reading beside the sum. `answer` is agrees, differs or not known; `explained` is best first."""

    answer: str
    sentence: str
    weighed_kg: Decimal
    computed_kg: Decimal | None
    difference_kg: Decimal | None
    explained: tuple[Explanation, ...] = ()
    count: int = 0
    verdict: str = ""
    way_out: str = ""


def weighing(case: Case, suspects: Sequence[Suspect], *, tolerance_pct: Decimal, scale_kg: Decimal) -> Weighing | None:
    """Compare, and name the fewest changes that explain the difference to within `scale_kg`. None: not weighed."""
    if case.weighed_kg is None:
        return None
    if case.computed_kg is None:
        return _without_sum(case, scale_kg)
    difference = case.weighed_kg - case.computed_kg
    share = difference / case.computed_kg * 100 if case.computed_kg else Decimal(0)
    scale, reckoned = masses(case.weighed_kg), masses(case.computed_kg)
    said = f"{case.number} weighs {scale} kg against {reckoned} kg computed ({share:+.0f} %)."
    agrees = abs(share) <= tolerance_pct or abs(difference) <= scale_kg
    answer = "agrees" if agrees else "differs"
    if abs(difference) <= scale_kg:
        return Weighing(answer, said, case.weighed_kg, case.computed_kg, difference)
    found, count = explain(difference, suspects, scale_kg)
    verdict, way_out = _verdict(found, count, difference, scale_kg)
    return Weighing(
        answer, said, case.weighed_kg, case.computed_kg, difference, tuple(found[:SHOWN]), count, verdict, way_out
    )


def _without_sum(case: Case, scale_kg: Decimal) -> Weighing:
    """Some masses are not entered: the scale still says what is left for those, or that something known is gone."""
    weighed, names = case.weighed_kg or Decimal(0), ", ".join(case.unweighed[:3])
    left = weighed - case.known_kg
    said = f"{case.number} weighs {masses(weighed)} kg. What it should weigh is not known: no mass for {names}."
    if left < -scale_kg:
        verdict = f"It is {masses(-left)} kg lighter than what is known of it alone: something listed is not in it."
        return Weighing("differs", said, weighed, None, None, (), 0, verdict, "Open it and check every line.")
    verdict = f"What is known of it weighs {masses(case.known_kg)} kg; {masses(max(left, Decimal(0)))} kg are left."
    return Weighing("not known", said, weighed, None, None, (), 0, verdict, "Enter the masses.")


def _verdict(found: Sequence[Explanation], count: int, difference: Decimal, scale_kg: Decimal) -> tuple[str, str]:
    amount = f"{masses(abs(difference))} kg {'short' if difference < 0 else 'over'}"
    if not found:
        none = f"{amount}; no set of up to {MOST} things in the book explains it to within {masses(scale_kg)} kg."
        return none, "Open it and check every line; a mass in the book may be wrong too."
    of = NUMBERS[len(found[0].changes)].lower()
    if count == 1:
        return f"{amount}; {of} would explain it, and nothing smaller.", "Open it and look for that first."
    many = f"more than {COUNTED}" if count > COUNTED else str(count)
    equal = f"{amount}; {many} explanations of {of} fit equally well: the mass alone does not say which."
    return equal, "Open it and look for these, the first first."


def suspects_in(case: Case, loose: Collection[Expected], doubts: Mapping[int, str], gap_kg: Decimal) -> list[Suspect]:
    """All that could have happened to this case: each thing gone, each loose thing in it, one taken for another."""
    extra = [one for one in (*case.missing, *loose) if one.mass_kg]
    gone = [_gone(piece, case, doubts) for piece in case.pieces]
    parts = [part for piece in case.pieces if (part := _part_of_lot(piece, gap_kg)) is not None]
    more = [_besides(one, belongs=one in case.missing) for one in extra]
    swaps = [swap for piece in case.pieces for swap in _swaps(piece, extra, doubts)]
    return [one for one in (*gone, *parts, *more, *swaps) if one.kg]


def _gone(piece: Piece, case: Case, doubts: Mapping[int, str]) -> Suspect:
    """This thing, with all that is fitted in it, is not there."""
    fitted = [other for other in case.pieces if other.within == piece.id]
    mass = sum((one.total_kg or Decimal(0) for one in (piece, *fitted)), Decimal(0))
    why = piece.fault or doubts.get(piece.id, "")
    ids = frozenset(one.id for one in (piece, *fitted))
    name = f"{piece.name} ({piece.quantity})" if piece.quantity > 1 else piece.name
    return Suspect(ids, name, -mass, Way.MISSING, why, piece.type_name)


def _part_of_lot(piece: Piece, gap_kg: Decimal) -> Suspect | None:
    """So many of a lot are gone as come nearest to the gap, if that is some and not all."""
    if piece.quantity < 2 or not piece.mass_kg or gap_kg >= 0:
        return None
    count = int((-gap_kg / piece.mass_kg).to_integral_value())
    if not 0 < count < piece.quantity:
        return None
    words = f"{count} of the {piece.quantity} {piece.name}"
    return Suspect(frozenset({piece.id}), words, -count * piece.mass_kg, Way.MISSING, "", piece.type_name, count)


def _besides(one: Expected, *, belongs: bool) -> Suspect:
    where = f"the book has it {one.where}" if one.where else "nobody has said where it is"
    why = f"it belongs here, {where}" if belongs else ("" if one.where else where)
    return Suspect(frozenset({one.id}), one.name, one.mass_kg or Decimal(0), Way.EXTRA, why)


def _swaps(piece: Piece, extra: Sequence[Expected], doubts: Mapping[int, str]) -> Iterator[Suspect]:
    for one in extra:
        if one.kind == piece.kind and one.kind != "other" and piece.mass_kg and one.mass_kg != piece.mass_kg:
            name = f"{one.name} for {piece.name}"
            ids, change = frozenset({piece.id, one.id}), (one.mass_kg or Decimal(0)) - piece.mass_kg
            yield Suspect(ids, name, change, Way.WRONG, doubts.get(piece.id, ""))


def explain(gap_kg: Decimal, suspects: Sequence[Suspect], slack_kg: Decimal) -> tuple[list[Explanation], int]:
    """Every smallest set of changes that comes within the slack of the gap, likeliest first, and how many there are.

    Exact for one and two changes; for three and four among the `DEEP` likeliest. Changes that only differ in which of
    several alike things they name count as one. No set holds the same thing twice.
    """
    alike = Counter(one.kind for one in suspects)
    pool = _thinned(suspects)
    for size in range(1, MOST + 1):
        found: dict[tuple[tuple[str, str, Decimal], ...], Explanation] = {}
        for some in _sets(gap_kg, pool if size < 3 else pool[:DEEP], slack_kg, size):
            one = Explanation(some, gap_kg - _sum(some), tuple(alike[change.kind] for change in some))
            signature = tuple(sorted(change.kind for change in some))
            found[signature] = min(one, found.get(signature, one), key=_rank)
            if len(found) > COUNTED:
                break
        if found:
            return sorted(found.values(), key=_rank), len(found)
    return [], 0


def _sum(some: Sequence[Suspect]) -> Decimal:
    return sum((one.kg for one in some), Decimal(0))


def _thinned(suspects: Sequence[Suspect]) -> list[Suspect]:
    """The doubtful and the heavy first; of things alike no more than one set can hold."""
    kept: Counter[tuple[str, str, Decimal]] = Counter()
    found = []
    for one in sorted(suspects, key=lambda one: (not one.why, -abs(one.kg), one.name, sorted(one.ids))):
        kept[one.kind] += 1
        if kept[one.kind] <= MOST:
            found.append(one)
    return found


def _sets(gap: Decimal, pool: Sequence[Suspect], slack: Decimal, size: int) -> Iterator[tuple[Suspect, ...]]:
    """All sets of this size that come within the slack: all but the last chosen in turn, the last looked up."""
    ordered = sorted(enumerate(pool), key=lambda pair: pair[1].kg)
    masses_up = [one.kg for _, one in ordered]
    for chosen in combinations(range(len(pool)), size - 1):
        some = tuple(pool[i] for i in chosen)
        if not _apart(some):
            continue
        rest, last = gap - _sum(some), chosen[-1] if chosen else -1
        for at in range(bisect_left(masses_up, rest - slack), len(ordered)):
            if masses_up[at] > rest + slack:
                break
            index, one = ordered[at]
            if index > last and _apart((*some, one)):
                yield (*some, one)


def _apart(some: Sequence[Suspect]) -> bool:
    """Does no thing stand in two of these changes?"""
    return sum(len(one.ids) for one in some) == len(frozenset().union(*(one.ids for one in some)))


def _rank(one: Explanation) -> tuple[int, int, Decimal, tuple[str, ...]]:
    """Those with a reason first, then of few pieces, then the closest."""
    plain, pieces = sum(not change.why for change in one.changes), sum(change.pieces for change in one.changes)
    return plain, pieces, abs(one.off_kg), tuple(change.name for change in one.changes)


def masses(mass: Decimal) -> str:
    """Kilograms to the tenth."""
    return f"{mass.quantize(Decimal('0.1')):f}"
