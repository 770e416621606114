"""Phones' clocks and counts, in words. Findings only: no scan is refused for its clock."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.db.models import Count, F, Max, Min, Q

from inventory.gaps import gap_words
from inventory.models import Device, Entry, SetAside

DOUBTFUL = timedelta(minutes=5)


@dataclass(frozen=True, slots=True)
class PhoneWords:
    """One phone that scans for a show, and every sentence there is about it."""

    device: UUID
    name: str
    unsent: int
    last_heard_at: datetime | None
    sentences: tuple[str, ...]


def length(span: timedelta) -> str:
    """A span as people say it: "40 s", "47 min", "3 h 5 min", "2 days"."""
    seconds = abs(int(span.total_seconds()))
    if seconds < 60:
        return f"{seconds} s"
    minutes = round(seconds / 60)
    if minutes < 60:
        return f"{minutes} min"
    if minutes < 2 * 24 * 60:
        return f"{minutes // 60} h {minutes % 60} min" if minutes % 60 else f"{minutes // 60} h"
    return f"{round(minutes / 1440)} days"


def skew_words(name: str, offset_ms: int | None) -> str:
    """How a phone's clock stands: a positive offset (server less phone) is a slow clock. "" below a minute."""
    if offset_ms is None:
        return f"{name}'s phone has not said how its clock stands; its times are taken as they are."
    span = timedelta(milliseconds=max(-(10**14), min(offset_ms, 10**14)))
    if abs(span) < timedelta(minutes=1):
        return ""
    direction = "slow" if span > timedelta(0) else "fast"
    return f"{name}'s clock is {length(span)} {direction}; the times of its scans are put right by that."


def phones_of(devices: Iterable[Device]) -> list[PhoneWords]:
    """Each phone with its unsent scans, its clock, and the gaps and twins in its own count."""
    devices = list(devices)
    rows = {row["device"]: row for row in _counts(devices)}
    for device, count in _aside(devices):
        rows.setdefault(device, {})["aside"] = count
    for device, words in gap_words([device for device, row in rows.items() if _missing(row) > 0]).items():
        rows[device]["gaps"] = words
    return [_words(device, rows.get(device.pk, {})) for device in devices]


def _counts(devices: list[Device]) -> Iterable[dict]:
    counted = Entry.objects.filter(device__in=devices, device_seq__isnull=False)
    return (
        counted.order_by()
        .values("device")
        .annotate(
            entries=Count("pk"), steps=Count("device_seq", distinct=True), highest=Max("device_seq"),
            least=Min("offset_ms"), most=Max("offset_ms"), unmeasured=Count("pk", filter=Q(offset_ms=None)),
            future=Count("pk", filter=Q(taken_at__gt=F("received_at") + timedelta(minutes=5), offset_ms=None)),
        )
    )  # fmt: skip


def _aside(devices: list[Device]) -> Iterable[tuple[UUID, int]]:
    """How many of each phone's scans came in and are kept aside: not lost, though no entry carries their number."""
    rows = SetAside.objects.filter(device__in=devices, entry_id__isnull=False).exclude(accepted=True)
    return rows.exclude(why=SetAside.Why.ID_REUSED).order_by().values_list("device").annotate(Count("pk"))


def _words(device: Device, row: dict) -> PhoneWords:
    found = [skew_words(device.name, device.offset_ms), _jump(device, row), _future(device, row), *_steps(device, row)]
    if device.unsent:
        held = "1 scan" if device.unsent == 1 else f"{device.unsent} scans"
        found.insert(0, f"{device.name}'s phone still holds {held}.")
    sentences = tuple(sentence for sentence in found if sentence)
    return PhoneWords(device.pk, device.name, device.unsent, device.last_heard_at, sentences)


def _jump(device: Device, row: dict) -> str:
    least, most = row.get("least"), row.get("most")
    if least is None or timedelta(milliseconds=min(most - least, 10**14)) <= DOUBTFUL:
        return ""
    jump = length(timedelta(milliseconds=min(most - least, 10**14)))
    return f"{device.name}'s clock was set anew by {jump} between scans; times around then are doubtful."


def _future(device: Device, row: dict) -> str:
    if not row.get("future"):
        return ""
    return f"{device.name}'s phone sent {row['future']} from the future; they count from when they came in."


def _missing(row: dict) -> int:
    return row["highest"] - row["steps"] - row.get("aside", 0) if "highest" in row else 0


def _steps(device: Device, row: dict) -> list[str]:
    """The phone counts its own scans 1, 2, 3: what is missing was lost or is still on it; twins came from a copy."""
    if "highest" not in row:
        return []
    found = []
    if (missing := _missing(row)) > 0:
        found.append(f"{missing} of {device.name}'s scans 1 to {row['highest']} have not come in.")
        found.append(f"{row['gaps']} That phone may still hold them: open its scan page near a signal.")
    twins = row["entries"] - row["steps"]
    if twins > 0:
        found.append(f"{twins} of {device.name}'s scans share a number with another: a copied or restored phone?")
    return found
