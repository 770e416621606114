"""What about drives needs somebody now: content without power, sleds to relabel, letters without an answer."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils import timezone

from inventory.answers.content import sled_findings
from inventory.answers.drive_loading import book_for
from inventory.answers.unpowered import Idle, idle, waited_too_long
from inventory.answers.values import ItemRef, Reason
from inventory.answers.wiping import drives_of_set, open_book
from inventory.models import DriveSet, ReleaseRequest
from inventory.unchanged import kept

ANSWER_WITHIN = timedelta(days=3)
MOST_SETS = 60


@dataclass(frozen=True, slots=True)
class Matter:
    """One sentence with a verb, the set whose page it is settled on ('' for none of them), and since when it waits."""

    sentence: str
    slug: str
    since: datetime
    late: bool
    code: str = ""
    why: str = ""


@dataclass(frozen=True, slots=True)
class _Standing:
    """What turns on the book alone: by set, its name, its address and its drives that wait; and sleds to relabel."""

    sets: tuple[tuple[str, str, tuple[Idle, ...]], ...]
    sleds: tuple[tuple[ItemRef, Reason], ...]


def matters(at: datetime) -> list[Matter]:
    """Everything of drives that waits; the sets are read in one go."""
    standing = kept(("drive matters",), at, lambda: _standing(at))
    if standing is None:
        return []
    found = [matter for name, slug, drives in standing.sets for matter in _of_set(name, slug, drives, at)]
    return [*found, *_relabel(standing, at), *_unanswered(at)]


def _standing(at: datetime) -> _Standing | None:
    sets = list(DriveSet.objects.order_by("name")[:MOST_SETS])
    if not sets:
        return None
    wb = open_book(book_for(sets=[one.pk for one in sets]), at)
    drives = sorted(wb.book.drives)
    return _Standing(
        tuple((str(one), one.slug, idle(wb, drives_of_set(wb, one.pk))) for one in sets),
        tuple((wb.book.things[drive].ref, said) for drive in drives for said in sled_findings(wb.content, drive)),
    )


def _of_set(name: str, slug: str, drives: tuple[Idle, ...], at: datetime) -> Iterator[Matter]:
    waiting = waited_too_long(drives, at)
    if waiting:
        oldest, late = waiting[0], any(one.late for one in waiting)
        what = "Power the drives now and tell the owner" if late else "Power and check the drives this week"
        many = f"{len(waiting)} hold" if len(waiting) > 1 else "one holds"
        sentence = f"{what}: {name}, {many} {oldest.holds} without power for {oldest.days} days."
        yield Matter(sentence, slug, oldest.told_at, late, why=oldest.source)


def _relabel(standing: _Standing, at: datetime) -> Iterator[Matter]:
    for ref, reason in standing.sleds:
        yield Matter(f"Relabel a sled: {reason.sentence}", "", at, False, ref.code, reason.way_out)


def _unanswered(at: datetime) -> Iterator[Matter]:
    rows = ReleaseRequest.objects.filter(answers=None, entered_at__lte=at - ANSWER_WITHIN).select_related("person")
    for row in rows.prefetch_related("serials__drive__home_set").order_by("entered_at"):
        days = (at - row.entered_at).days
        slugs = [one.drive.home_set.slug for one in row.serials.all() if one.drive.home_set]
        phone = f", {row.person.phone}" if row.person.phone else ""
        asked = f"{timezone.localtime(row.entered_at):%-d %B}"
        sentence = f"Ask {row.person}{phone} again to release {row.reference}: asked {days} days ago, on {asked}."
        yield Matter(sentence, slugs[0] if slugs else "", row.entered_at + ANSWER_WITHIN, False)
