"""What is still out, and what became of everything that left: one outcome each, with where to look."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from inventory.answers.likely import SWAPPED, Point, ranked_by_name
from inventory.answers.places import Room, rooms_around
from inventory.answers.refs import refs_of
from inventory.answers.values import Evidence, ItemRef, Reason, Strength, Whereabouts
from inventory.answers.whereabouts import then_and_now
from inventory.models import Kind, SystemPart, Verb
from inventory.prepared import Asked, Prepared
from inventory.unchanged import kept
from shipping.following import Leaving
from shipping.models import Show
from shipping.outcomes import (
    UNSEEN,
    Gone,
    Line,
    Now,
    Outcome,
    Spot,
    called,
    likely_places,
    outcome_of,
    sentence_of,
)
from shipping.trips import Followed, Goods, followed


@dataclass(frozen=True, slots=True)
class Stranger:
    """A thing that nobody listed, found in a case of this show."""

    item: ItemRef
    case: ItemRef
    sentence: str


@dataclass(frozen=True, slots=True)
class CaseLines:
    """One case as it left: what it is now, and the lines of what was in it. `case` is None for what left loose."""

    case: ItemRef | None
    line: Line | None
    lines: tuple[Line, ...]

    @property
    def to_look_at(self) -> int:
        """How many things could still be in it, unseen."""
        return sum(line.outcome in UNSEEN for line in self.lines)


@dataclass(frozen=True, slots=True)
class Reconciliation:
    """`answer`: all back · owed · not gone yet. Every item that left stands in exactly one line."""

    answer: str
    sentence: str
    reference: str
    at: datetime
    reasons: tuple[Reason, ...] = ()
    lines: tuple[Line, ...] = ()
    strangers: tuple[Stranger, ...] = ()

    @property
    def counts(self) -> dict[Outcome, int]:
        counted = Counter(line.outcome for line in self.lines)
        counted.update(line.other_outcome for line in self.lines if line.other_outcome)
        return {outcome: counted[outcome] for outcome in Outcome if counted[outcome]}

    @property
    def owed(self) -> tuple[Line, ...]:
        return tuple(line for line in self.lines if not line.settled)

    def by_case(self) -> list[CaseLines]:
        """Cases in the order of their numbers, each with what left in it; loose things last."""
        own = {line.item.id: line for line in self.lines}
        inside: dict[int | None, list[Line]] = defaultdict(list)
        refs: dict[int, ItemRef] = {}
        for line in self.lines:
            if line.is_case:
                refs.setdefault(line.item.id, line.item)
            elif line.left_in is not None:
                refs.setdefault(line.left_in.id, line.left_in)
                inside[line.left_in.id].append(line)
            else:
                inside[None].append(line)
        groups = [CaseLines(ref, own.get(pk), tuple(inside[pk])) for pk, ref in refs.items()]
        groups.sort(key=lambda group: group.case.words)
        return groups + ([CaseLines(None, None, tuple(inside[None]))] if inside[None] else [])


def reconcile(show: Show, at: datetime) -> Reconciliation:
    """One outcome for every item that left a store with this show, by what is known at `at`."""
    return reconcile_reference(show.code, at)


def still_out(reference: str, at: datetime) -> tuple[Line, ...]:
    """What left with this reference and is not back: nobody scanned or ticked it in a store since."""
    return reconcile_reference(reference, at).owed


def reconcile_reference(reference: str, at: datetime) -> Reconciliation:
    told = kept(("reconcile", reference), at, lambda: _reconcile(reference, at))
    return replace(told, at=at)


def _reconcile(reference: str, at: datetime) -> Reconciliation:
    trip = followed(reference, at)
    left = {} if trip is None else {pk: how for pk, how in trip.state.left.items() if _counts(trip.items.get(pk))}
    if trip is None or not left:
        return Reconciliation("not gone yet", f"Nothing has left a store with {reference} yet.", reference, at)
    wheres = then_and_now(_moments(left), list(left), at)
    gone = _gone(trip, left, wheres.then)
    now = _now(trip, left, wheres.now)
    lines = [_line(one, _since(trip, left, one.item.id), now[one.item.id], reference) for one in gone]
    lines = _with_swaps(lines, gone, trip, left)
    return _told(reference, at, lines, _strangers(trip, left, lines))


def _counts(item: Goods | None) -> bool:
    """Vehicles come back by arriving; they are not goods."""
    return item is not None and item.kind != Kind.VEHICLE


def _since(trip: Followed, left: Mapping[int, Leaving], pk: int) -> tuple[Spot, ...]:
    """Its own entries after it last left."""
    key = left[pk].step.key
    return tuple(spot for spot in trip.state.spots[pk] if (spot.at, spot.entry.int) > key)


def _gone(trip: Followed, left: Mapping[int, Leaving], strengths: Mapping[int, Strength]) -> list[Gone]:
    prone = _left_behind_prone(trip, left)
    refs = {pk: item.ref for pk, item in trip.items.items()}
    return [
        _one_gone(trip.items[pk], leaving, strengths[pk], refs, pk in prone)
        for pk, leaving in sorted(left.items(), key=lambda pair: (refs[pair[0]].words, pair[0]))
    ]


def _one_gone(item: Goods, leaving: Leaving, strength: Strength, refs: Mapping[int, ItemRef], prone: bool) -> Gone:
    step = leaving.step
    return Gone(
        item=item.ref,
        type_id=item.type_id,
        type_name=item.type_name,
        system=item.system,
        departed=Evidence(step.id, step.verb, step.grade, step.by, step.at),
        road=step.place,
        left_from=leaving.store.store or leaving.store.id,
        left_from_name=leaving.store.name,
        mover=refs[step.item],
        case=refs.get(leaving.around) if leaving.around else None,
        strength=strength,
        count=item.count,
        is_lot=item.is_lot,
        is_case=item.kind == Kind.CASE,
        home_case=item.home_case,
        prone=prone,
        hired_from=item.hired_from,
        off_hire_at=item.off_hire_at,
    )


def _moments(left: Mapping[int, Leaving]) -> dict[datetime, list[int]]:
    """What left at each moment that something left."""
    found: dict[datetime, list[int]] = defaultdict(list)
    for pk, leaving in left.items():
        found[leaving.step.at].append(pk)
    return found


PRONE = Prepared(
    lambda systems: SystemPart.objects.filter(system__in=systems, left_behind_prone=True).order_by()
    .values_list("system", "item", "type"),
    systems=Asked.IDS,
)  # fmt: skip


def _left_behind_prone(trip: Followed, left: Mapping[int, Leaving]) -> set[int]:
    """Things that some system lists as left behind often, by exact item or by type."""
    systems = {trip.items[pk].system_id for pk in left}
    parts = PRONE(systems=systems)
    exact = {item for _system, item, _type in parts if item}
    kinds = {(system, type_id) for system, _item, type_id in parts if type_id}
    return {pk for pk in left if pk in exact or (trip.items[pk].system_id, trip.items[pk].type_id) in kinds}


def _now(trip: Followed, left: Mapping[int, Leaving], wheres: Mapping[int, Whereabouts]) -> dict[int, Now]:
    """Where each is by present knowledge, and whether the case it left in is back."""
    rooms = rooms_around(wheres.values())
    containers = {room.container for room in rooms.values() if room.container}
    cases = refs_of(containers)
    back = {pk for pk in left if any(spot.own_look and spot.in_store for spot in _since(trip, left, pk))}
    stayed = _left_in_place(trip, left)
    return {pk: _one_now(wheres[pk], rooms, cases, leaving.around in back, stayed) for pk, leaving in left.items()}


def _left_in_place(trip: Followed, left: Mapping[int, Leaving]) -> dict[int, Spot]:
    """Cases that were agreed to stay where they are, by the newest word of where each is."""
    newest = {pk: [spot for spot in _since(trip, left, pk) if spot.places][-1:] for pk in left}
    return {pk: spots[0] for pk, spots in newest.items() if spots and spots[0].verb == Verb.LEFT}


def _one_now(
    where: Whereabouts, rooms: Mapping[int, Room], cases: Mapping[int, ItemRef], case_is_back: bool,
    stayed: Mapping[int, Spot],
) -> Now:  # fmt: skip
    chain = [rooms[link.place.id] for link in where.links if link.place]
    last = chain[-1] if chain else None
    around = next((room.container for room in chain if room.container), None)
    return Now(
        strength=where.strength,
        sentence=where.sentence,
        place=last.id if last else None,
        kind=last.kind if last else "",
        name=_place_words(chain),
        in_store=bool(last and last.is_store),
        store=(last.store or last.id) if last else None,
        person_is_ours=last.person_is_ours if last else True,
        case=cases.get(around) if around else None,
        case_is_back=case_is_back,
        case_left=next((stayed[room.container] for room in chain if room.container in stayed), None),
        evidence=next((link.evidence or link.placing for link in where.links), None),
    )


def _place_words(chain: Sequence[Room]) -> str:
    """HER-03, Teasel, on the road: innermost first."""
    return ", ".join(room.person or room.name for room in chain)


def _line(gone: Gone, since: Sequence[Spot], now: Now, reference: str) -> Line:
    outcome, by = outcome_of(gone, since, now, reference)
    return Line(
        item=gone.item,
        outcome=outcome,
        sentence=sentence_of(gone, outcome, by, now),
        left_in=gone.case,
        is_case=gone.is_case,
        strength_then=gone.strength,
        where_now=now.name,
        evidence=Evidence(by.entry, by.verb, by.grade, by.by, by.at, note=by.note) if by else now.evidence,
        condition=next((spot.condition for spot in reversed(since) if spot.condition), ""),
        due_at=by.due_at if by else None,
        person=by.person if by else "",
        likely=likely_places(gone, outcome, since, now),
        remarks=tuple(_remarks(gone, outcome, by)),
        hired_from=gone.hired_from,
        runaway=gone.prone,
    )


def _remarks(gone: Gone, outcome: Outcome, by: Spot | None) -> Iterable[str]:
    if outcome == Outcome.BACK and by is not None and by.store not in (None, gone.left_from):
        yield f"It came back to {by.fixed_name}, not to {gone.left_from_name}: a transfer is owed."
    if outcome == Outcome.MISSED and gone.strength in (Strength.SAID, Strength.PLANNED_ONLY):
        yield "Nobody saw it packed: it may never have left."
    if gone.hired_from:
        until = f" until {gone.off_hire_at:%-d %B}" if gone.off_hire_at else ""
        yield f"Hired from {gone.hired_from}{until}: it goes back first."


def _with_swaps(
    lines: Sequence[Line], gone: Sequence[Gone], trip: Followed, left: Mapping[int, Leaving]
) -> tuple[Line, ...]:
    """Pair what left and is not in its case with the alike thing that came in that case: one line, two serials."""
    seen_in = _seen_in(trip, left)
    arrivals = defaultdict(list)
    for pk, case in seen_in.items():
        if trip.items[pk].ref.serial and (pk not in left or left[pk].around != case):
            arrivals[trip.items[pk].type_id, case].append(pk)
    pairs: dict[int, int] = {}
    for one in gone:
        if one.case is None or not one.item.serial or one.is_lot or one.item.id in pairs.values():
            continue
        others = [pk for pk in arrivals[one.type_id, one.case.id] if pk not in (*pairs, *pairs.values())]
        if others and seen_in.get(one.item.id) != one.case.id:
            pairs[one.item.id] = others[0]
    by_id = {line.item.id: line for line in lines}
    swapped = set(pairs.values())
    return tuple(
        _swap_line(line, trip.items[pairs[line.item.id]], by_id.get(pairs[line.item.id]))
        if line.item.id in pairs
        else line
        for line in lines
        if line.item.id not in swapped
    )


def _seen_in(trip: Followed, left: Mapping[int, Leaving]) -> dict[int, int]:
    """The case that each thing was last seen in by somebody in a store, since this show left."""
    first = min(leaving.step.key for leaving in left.values())
    found = {}
    for pk, spots in trip.state.spots.items():
        after = left[pk].step.key if pk in left else first
        looks = [s for s in spots if s.own_look and s.in_store and s.holder and (s.at, s.entry.int) > after]
        if looks and pk in trip.items:
            found[pk] = looks[-1].holder
    return found


def _swap_line(line: Line, other: Goods, others_line: Line | None) -> Line:
    """What left and what came in its place; where the other belongs is the first place to look."""
    ref, home = other.ref, other.home_case or other.system or "its own system"
    swapped = (home, Point(SWAPPED, f"{called(ref)} from there came back in its place"))
    sentence = f"{line.sentence} {called(ref)} lies in {line.left_in.words} in its place."
    known = [(look.name, point) for look in line.likely for point in look.points]
    likely = () if line.settled else ranked_by_name([swapped, *known])
    return replace(
        line, other=ref, other_outcome=others_line.outcome if others_line else None, sentence=sentence, likely=likely
    )


def _strangers(trip: Followed, left: Mapping[int, Leaving], lines: Sequence[Line]) -> tuple[Stranger, ...]:
    """Things nobody listed: seen in a case of this show on its return, and never left with it."""
    paired = {line.other.id for line in lines if line.other}
    refs = {line.item.id: line.item for line in lines}
    return tuple(
        Stranger(trip.items[pk].ref, refs[case], f"{trip.items[pk].ref.words} was found in {refs[case].words}.")
        for pk, case in sorted(_seen_in(trip, left).items())
        if pk not in left and pk not in paired and case in refs
    )


def _told(reference: str, at: datetime, lines: tuple[Line, ...], strangers: tuple[Stranger, ...]) -> Reconciliation:
    owed = [line for line in lines if not line.settled]
    cases = [line for line in lines if line.is_case]
    back = sum(line.settled for line in cases)
    things = [line for line in lines if not line.is_case]
    sentence = (
        f"{back} of {len(cases)} cases and {sum(line.settled for line in things)} of {len(things)} things are back"
    )
    if owed:
        counts = Counter(line.outcome for line in owed)
        sentence += "; " + ", ".join(f"{count} {outcome}" for outcome, count in counts.items())
    return Reconciliation(
        answer="owed" if owed else "all back",
        sentence=f"{sentence}.",
        reference=reference,
        at=at,
        reasons=tuple(_reason(line) for line in owed),
        lines=lines,
        strangers=strangers,
    )


def _reason(line: Line) -> Reason:
    look = f"Look in {line.likely[0].name}: {line.likely[0].why}." if line.likely else ""
    entries = (line.evidence.entry,) if line.evidence else ()
    return Reason(str(line.outcome), line.sentence, look, entries, (line.item.id,))


def show_named(text: str) -> Show | None:
    return Show.objects.filter(code__iexact=text.strip()).first()
