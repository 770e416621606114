"""Which entries' times are doubtful, because their phone's clock turned out to be off at the next contact."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db.models import OuterRef, QuerySet, Subquery

from inventory.answers.book import Doubt
from inventory.models import Device, Entry
from inventory.prepared import Asked, Prepared

CLOCK_SLACK = timedelta(minutes=5)


def doubts_of(devices: Iterable[UUID], known_at: datetime | None = None) -> dict[UUID, Doubt]:
    """Entries of these devices whose clock was more than 5 minutes off from what the next contact measured."""
    devices = set(devices)
    measured = Entry.objects.filter(device__in=devices, offset_ms__isnull=False, device_seq__isnull=False)
    if known_at is not None:
        measured = measured.filter(received_at__lte=known_at)
    wide = _wide(devices)
    found: dict[UUID, Doubt] = {}
    if wide:
        rows = measured.filter(device__in=wide).order_by("device", "device_seq", "happened_at", "id")
        four = rows.values_list("device", "offset_ms", "id", "stated")
        for run, after, jump in _jumps([(d, offset or 0, pk, said) for d, offset, pk, said in four if d]):
            found |= {entry: Doubt(jump, after) for entry in run}
    return found


def _ask_spread(devices: Any) -> QuerySet[Device, Any]:
    offsets = Entry.objects.filter(device=OuterRef("pk"), offset_ms__isnull=False).values("offset_ms")
    low, high = (Subquery(offsets.order_by(end)[:1]) for end in ("offset_ms", "-offset_ms"))
    spread = Device.objects.filter(pk__in=devices).order_by().annotate(low=low, high=high)
    return spread.values_list("pk", "low", "high")


SPREAD = Prepared(_ask_spread, devices=Asked.UUIDS)


def _wide(devices: set[UUID]) -> list[UUID]:
    """Those whose clock was ever so far off and ever so little that a jump may be among it: read off one index."""
    rows = SPREAD(devices=devices)
    return [device for device, least, most in rows if timedelta(milliseconds=(most or 0) - (least or 0)) > CLOCK_SLACK]


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
