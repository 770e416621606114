"""When a set or a frame recorded, and which drives were in it meanwhile, as spans of time with their grounds."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import timedelta
from uuid import UUID

from inventory.answers.drive_rows import ALWAYS, LAST_ID, NEVER, EntryRow, Key, Scene, Stay
from inventory.models import Kind, Verb

MARGIN = timedelta(minutes=10)  # of a start or end: who was in this near may have been in


@dataclass(frozen=True, slots=True)
class Recording:
    """A recording from `start` to `end`; up to `doubt_end` its stated end may be wrong."""

    entry: EntryRow
    frame: int | None
    start: Key
    end: Key = NEVER
    doubt_end: Key = ALWAYS
    stop: EntryRow | None = None

    @property
    def names_nothing(self) -> bool:
        return self.entry.drive_set is None and self.entry.item is None


@dataclass(frozen=True, slots=True)
class Span:
    """From `start` to `end` this drive was where the recording went. `doubtful`: perhaps."""

    drive: int
    start: Key
    end: Key
    grounds: frozenset[str]
    entries: frozenset[UUID]
    doubtful: bool = False
    reconstructed: bool = False
    makers: frozenset[str] = frozenset()
    undone: frozenset[tuple[UUID, str]] = frozenset()


def find_recordings(scene: Scene, starts: list[EntryRow], stops: list[EntryRow]) -> list[Recording]:
    """Pair each start with the stop that ended it; what no stop ended is still recording."""
    going: list[Recording] = []
    ended: list[Recording] = []
    for row in sorted([*starts, *stops], key=lambda row: row.key):
        if row.verb == Verb.RECORDING:
            going.append(Recording(row, _frame_named(scene, row), row.key))
            continue
        for one in _ended_by(row, going):
            going.remove(one)
            ended.append(replace(one, end=row.key, stop=row, doubt_end=(row.told, LAST_ID) if row.stated else ALWAYS))
    return sorted([*ended, *going], key=lambda one: one.start)


def _frame_named(scene: Scene, row: EntryRow) -> int | None:
    thing = scene.book.things.get(row.item) if row.item else None
    return row.item if thing and thing.kind == Kind.FRAME else None


def _ended_by(stop: EntryRow, going: list[Recording]) -> list[Recording]:
    fits = [one for one in going if not stop.reference or stop.reference == one.entry.reference]
    if stop.drive_set is None and stop.item is None:
        return fits[-1:]
    return [one for one in fits if _same_subject(stop, one.entry)]


def _same_subject(stop: EntryRow, start: EntryRow) -> bool:
    same_set = stop.drive_set is not None and stop.drive_set == start.drive_set
    return same_set or (stop.item is not None and stop.item == start.item)


def spans_of(scene: Scene, one: Recording) -> list[Span]:
    """Every drive that was in a recording, surely or perhaps; those only near its start or end last."""
    inside = list(_meanwhile(scene, one, one.start, one.end))
    if one.doubt_end > one.end:
        inside += _after_stated_end(scene, one)
    sure = {span.drive for span in inside}
    first = (one.start[0] - MARGIN, 0)
    last = NEVER if one.end == NEVER else (one.end[0] + MARGIN, LAST_ID)
    near = [
        replace(span, doubtful=True, grounds=span.grounds | {"near its start or end"})
        for start, end in ((first, one.start), (one.end, last))
        if start < end
        for span in _meanwhile(scene, one, start, end)
        if span.drive not in sure
    ]
    return inside + near


def _after_stated_end(scene: Scene, one: Recording) -> list[Span]:
    """A stated stop shortens nothing: until it was told, or the drive's next unstated placing, it may have run on."""
    told = min(one.doubt_end, (scene.at, LAST_ID))
    spans = _meanwhile(scene, one, one.end, told)
    return [
        replace(
            span,
            end=min(span.end, next_unstated_placing(scene, span.drive, one.end)),
            doubtful=True,
            entries=span.entries | {one.stop.id},
            makers=span.makers | {one.stop.by},
        )
        for span in spans
        if one.stop is not None and span.start < next_unstated_placing(scene, span.drive, one.end)
    ]


def next_unstated_placing(scene: Scene, drive: int, after: Key) -> Key:
    return next((row.key for row in scene.placings(drive) if row.key > after and not row.stated), NEVER)


def _meanwhile(scene: Scene, one: Recording, start: Key, end: Key) -> Iterator[Span]:
    """Spans of [start, end) in which a drive was a member, or fitted where the recording went."""
    for stay, ground, since, until in _relevant_stays(scene, one, start, end):
        for span in _spans_of_stay(scene, stay, ground, since, until):
            if scene.book.things[span.drive].kind == Kind.DRIVE:
                yield replace(span, doubtful=True, makers=span.makers | {one.entry.by}) if one.names_nothing else span


def _relevant_stays(scene: Scene, one: Recording, start: Key, end: Key) -> Iterator[tuple[Stay, str, Key, Key]]:
    members = list(_member_stays(scene, one))
    yield from ((stay, f"member of {scene.book.sets[stay.where].name}", start, end) for stay in members)
    if one.entry.item is not None and one.frame is None:
        yield from ((stay, "named itself", start, end) for stay in _named_drive(scene, one))
    active = list(_active_frames(scene, one, members, start, end))
    for stay in scene.fitted():
        frame = scene.frame_of(stay)
        ground = f"fitted in {scene.book.words(frame)}"
        if one.names_nothing:
            yield stay, ground, start, end
        yield from ((stay, ground, since, until) for number, since, until in active if number == frame)


def _named_drive(scene: Scene, one: Recording) -> list[Stay]:
    """A recording that names a drive is on that drive, wherever it was."""
    return [Stay(one.entry.item or 0, 0, ALWAYS, NEVER, one.entry)]


def _member_stays(scene: Scene, one: Recording) -> Iterator[Stay]:
    book = scene.book
    at_home = set()
    if one.frame is not None and one.entry.drive_set is None:
        at_home = book.sets_of(book.things[one.frame].system)
    for stay in scene.membership:
        if one.names_nothing or stay.where == one.entry.drive_set or stay.where in at_home:
            yield stay


def _active_frames(
    scene: Scene, one: Recording, members: list[Stay], start: Key, end: Key
) -> Iterator[tuple[int, Key, Key]]:
    """Frames that the recording went to: the named one, the set's host, and any that a member was in, while it was."""
    book = scene.book
    named = {one.frame} if one.frame is not None else set()
    if one.entry.drive_set is not None:
        named |= book.frames_of(book.sets[one.entry.drive_set].host)
    yield from ((frame, start, end) for frame in named)
    if one.entry.drive_set is None:
        return
    for member in members:
        for stay in scene.fitted(member.item):
            since, until = max(start, member.start, stay.start), min(end, member.end, stay.end)
            if since < until:
                yield scene.frame_of(stay) or 0, since, until


def _spans_of_stay(scene: Scene, stay: Stay, ground: str, start: Key, end: Key) -> Iterator[Span]:
    since, until = max(stay.start, start), min(stay.end, end)
    undone = frozenset((one.entry, one.by) for one in stay.first.undone)
    base = Span(stay.item, since, until, frozenset({ground}), frozenset({stay.first.id}), undone=undone)
    if since < until:
        late_word = stay.first.stated and (stay.first.told, LAST_ID) > since
        yield replace(base, reconstructed=late_word)
    if stay.last is None or not stay.last.stated:
        return
    told = min((stay.last.told, LAST_ID), next_unstated_placing(scene, stay.item, stay.end))
    since, until = max(stay.end, start), min(told, end)
    if since < until:
        yield replace(
            base, start=since, end=until, doubtful=True,
            entries=base.entries | {stay.last.id}, makers=frozenset({stay.last.by}),
        )  # fmt: skip


def merge(spans: Iterable[Span]) -> list[Span]:
    """Join spans of one drive that touch, sure ones with sure ones and doubtful ones with doubtful ones."""
    merged: list[Span] = []
    for span in sorted(spans, key=lambda span: (span.drive, span.doubtful, span.start, span.end)):
        last = merged[-1] if merged else None
        if last and (last.drive, last.doubtful) == (span.drive, span.doubtful) and span.start <= last.end:
            merged[-1] = _joined(last, span)
        else:
            merged.append(span)
    return merged


def _joined(one: Span, two: Span) -> Span:
    return replace(
        one,
        end=max(one.end, two.end),
        grounds=one.grounds | two.grounds,
        entries=one.entries | two.entries,
        reconstructed=one.reconstructed or two.reconstructed,
        makers=one.makers | two.makers,
        undone=one.undone | two.undone,
    )


def without(spans: Iterable[Span], covered: Iterable[tuple[Key, Key]]) -> list[Span]:
    """What of these spans lies outside the covered times."""
    left = list(spans)
    for start, end in covered:
        left = [part for span in left for part in _cut(span, start, end)]
    return left


def _cut(span: Span, start: Key, end: Key) -> list[Span]:
    if end <= span.start or start >= span.end:
        return [span]
    before = [replace(span, end=start)] if span.start < start else []
    after = [replace(span, start=end)] if end < span.end else []
    return before + after
