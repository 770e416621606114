"""Which entries' times are doubtful, because their phone's clock turned out to be off at the next contact."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from uuid import UUID

from django.db.models import Max, Min

from inventory.answers.book import Doubt
from inventory.models import Entry

CLOCK_SLACK = timedelta(minutes=5)


def doubts_of(devices: Iterable[UUID], known_at: datetime | None = None) -> dict[UUID, Doubt]:
    """Entries of these devices whose clock was more than 5 minutes off from what the next contact measured."""
    measured = Entry.objects.filter(device__in=set(devices), offset_ms__isnull=False, device_seq__isnull=False)
    if known_at is not None:
        measured = measured.filter(received_at__lte=known_at)
    measured = measured.order_by()
    spread = measured.values("device").annotate(low=Min("offset_ms"), high=Max("offset_ms"))
    wide = [one["device"] for one in spread if timedelta(milliseconds=one["high"] - one["low"]) > CLOCK_SLACK]
    found: dict[UUID, Doubt] = {}
    if wide:
        rows = measured.filter(device__in=wide).order_by("device", "device_seq", "happened_at", "id")
        four = rows.values_list("device", "offset_ms", "id", "stated")
        for run, after, jump in _jumps([(d, offset or 0, pk, said) for d, offset, pk, said in four if d]):
            found |= {entry: Doubt(jump, after) for entry in run}
    return found


def _jumps(rows: list[tuple[UUID, int, UUID, bool]]) -> Iterable[tuple[list[UUID], UUID, timedelta]]:
    """Runs of entries under one offset whose successor differs too much: (the run, the next entry, how much)."""
    run: list[UUID] = []
    for (device, offset, entry, stated), after in zip(rows, rows[1:], strict=False):
        run += [] if stated else [entry]
        if after[0] != device:
            run = []
        elif after[1] != offset:
            jump = timedelta(milliseconds=abs(after[1] - offset))
            if jump > CLOCK_SLACK and run:
                yield run, after[2], jump
            run = []
