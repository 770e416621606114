"""What was ever told of one thing, newest first. What was taken back stays, and says by whom."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from uuid import UUID

from django.utils import timezone
from django.utils.dateparse import parse_date, parse_datetime

from inventory.answers import loading
from inventory.answers.content import NAMES_CONTENT
from inventory.answers.oddities import of_acts
from inventory.answers.things import things_of
from inventory.answers.values import History, HistoryLine, PlaceRef
from inventory.models import Entry, Item, Kind, Place, PlaceKind, Role, Verb
from inventory.models.entries import GONE


def history(item: Item, at: datetime | None = None, *, most: int | None = None) -> History:
    """The timeline of an item up to a moment, corrections as lines of their own. `most` keeps the newest."""
    own = loading.told(at).filter(label__item=item)
    total = own.count()
    newest = own.select_related("place__item__type", "drive_set", "person", "device").order_by("-happened_at", "-id")
    rows = list(newest[:most])
    undone = _corrections({row.act for row in rows})
    undoing = [row for rows in undone.values() for row in rows]
    named = {row.act: row for row in rows}
    lines = [_line(row, _void(row, undone.get(row.act, ()))) for row in rows]
    lines += [_undoing(row, named[row.corrects]) for row in undoing if row.corrects]
    lines.sort(key=lambda line: (line.at, line.entry), reverse=True)
    return History(
        item=things_of([item.pk])[item.pk].ref,
        lines=tuple(lines),
        sentence=_sentence(item, total, lines),
        reasons=tuple(of_acts({row.act for row in rows if row.verb == Verb.COUNTED})),
        total=total,
    )


def _sentence(item: Item, total: int, lines: list[HistoryLine]) -> str:
    if not lines:
        return f"Nothing has been recorded of {item} yet."
    back = sum(line.voided_by is not None for line in lines)
    taken = f", {back} of them taken back" if back else ""
    return f"{total} entr{'y' if total == 1 else 'ies'} about {item}{taken}. Newest: {lines[0].sentence}"


def _corrections(acts: set[UUID]) -> dict[UUID, list[Entry]]:
    found: dict[UUID, list[Entry]] = {}
    for row in Entry.objects.filter(corrects__in=acts).order_by("happened_at", "id"):
        found.setdefault(row.corrects, []).append(row)
    return found


def _void(row: Entry, corrections: Iterable[Entry]) -> UUID | None:
    """The first correction that may take this entry back: its own device's, or a kit manager's without a pass."""
    if row.verb == Verb.AMENDED:
        return None
    for one in corrections:
        own = row.device_id is not None and row.device_id == one.device_id
        if own or (one.role == Role.KIT_MANAGER and one.day_pass_id is None):
            return one.id
    return None


def _line(row: Entry, voided_by: UUID | None) -> HistoryLine:
    place = row.place
    ref = PlaceRef(place.pk, place.kind, _place_name(row), place.item_id) if place else None
    return HistoryLine(
        entry=row.id, act=row.act, at=row.happened_at, verb=row.verb, sentence=sentence_of(row), by=row.by,
        grade=row.grade, voided_by=voided_by, stated=row.stated, place=ref, bay=row.bay, seal=row.seal,
        reference=row.reference, photo=row.photo_id or "", corrects=row.corrects,
    )  # fmt: skip


def _undoing(row: Entry, undone: Entry) -> HistoryLine:
    counts = _void(undone, [row]) is not None
    what = "took back" if counts else "tried to take back, without the right to,"
    why = f": {row.note}" if row.note else ""
    return HistoryLine(
        entry=row.id, act=row.act, at=row.happened_at, verb=row.verb, by=row.by, grade=row.grade, stated=row.stated,
        sentence=f"{row.by} {what} “{sentence_of(undone)}”{why}", corrects=row.corrects,
    )  # fmt: skip


def _place_name(row: Entry) -> str:
    return (str(row.place.item) if row.place.item else row.place.name) if row.place else ""


def sentence_of(row: Entry) -> str:
    """One entry in words: who did what, where, with which numbers."""
    if row.verb == Verb.AMENDED:
        return f"{row.by} {_change(row)}{f': {row.note}' if row.note else ''}"
    parts = [f"{row.by}: {Verb(row.verb).label}", *_where(row), *_numbers(row)]
    return " ".join(parts) + (f" · {row.note}" if row.note else "")


DATED = ("_at", "_due", "_until", "_since")
FIELDS = {"retired_at": "date of writing off", "off_hire_at": "off-hire", "home_set": "drive set"}


def _change(row: Entry) -> str:
    if row.field == NAMES_CONTENT:  # what stood before is the recording's id
        return f"said that a recording without a name is {row.after or 'nobody’s that is known'}"
    name = FIELDS.get(row.field, row.field.replace("_", " "))
    before, after = (_day(value) if row.field.endswith(DATED) else value for value in (row.before, row.after))
    return f"changed {name} from {before or 'nothing'} to {after or 'nothing'}"


def _day(value: str) -> str:
    """A moment or a day as people write it, where the ledger keeps it as computers do."""
    day = parse_date(value)
    if day is not None:
        return f"{day:%-d %b %Y}"
    moment = parse_datetime(value)
    return f"{timezone.localtime(moment):%-d %b %Y %H:%M}" if moment else value


def _where(row: Entry) -> Iterable[str]:
    if row.place is not None and row.verb not in GONE:
        yield f"{_way_in(row.place)}{_place_name(row)}"
    if row.bay:
        yield f"bay {row.bay}"
    if row.drive_set is not None:
        yield f"of {row.drive_set}"
    if row.person is not None and row.verb != Verb.HANDED_OVER:
        yield f"({row.person})"


def _way_in(place: Place) -> str:
    if place.kind == PlaceKind.ROAD:
        return ""  # its name says it already: on the road
    container = place.item
    return "at " if container is None else "on " if container.type.kind == Kind.VEHICLE else "in "


def _numbers(row: Entry) -> Iterable[str]:
    for words, value in (
        ("· seal", row.seal), ("· serial", row.serial), ("· count", row.quantity), ("· condition", row.condition),
        ("· rule", row.rule), ("· found", row.value), ("· for", row.reference),
    ):  # fmt: skip
        if value not in (None, ""):
            yield f"{words} {value}"
    if row.mass_g:
        yield f"· {row.mass_g / 1000:.1f} kg"
