"""Which of a phone's scans have not come in, told by what it scanned before and after them."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Iterator, Mapping
from itertools import pairwise
from uuid import UUID

from django.utils import timezone

from inventory.models import Entry, SetAside

MOST = 3  # gaps that are told one by one
Run = tuple[int, int]


def gap_words(devices: Collection[UUID]) -> dict[UUID, str]:
    """For each of these phones: "3 are missing between HER-05 at 23:31 and GEN-02 at 23:40."

    Three queries however many phones there are, none without phones.
    """
    if not devices:
        return {}
    runs = {device: list(_runs(steps)) for device, steps in _came(devices).items()}
    edges = {step for found in runs.values() for first, last in found for step in (first - 1, last + 1)}
    entries = Entry.objects.filter(device__in=devices, device_seq__in=edges).select_related("label__item__type")
    beside = {(row.device_id, row.device_seq): _told(row) for row in entries}
    return {device: _sentence(found, _at_edges(device, beside)) for device, found in runs.items()}


def _came(devices: Collection[UUID]) -> dict[UUID, set[int]]:
    """The steps of each phone that are here, as entries or kept aside."""
    came: dict[UUID, set[int]] = {device: {0} for device in devices}
    stored = Entry.objects.filter(device__in=devices, device_seq__isnull=False)
    for device, step in stored.order_by().values_list("device", "device_seq"):
        came[device].add(step)
    for device, body in SetAside.objects.filter(device__in=devices).order_by().values_list("device", "body"):
        came[device] |= _step_in(body)
    return came


def _step_in(body: str) -> set[int]:
    """What was kept aside need not be readable, so its step may not be either."""
    try:
        step = json.loads(body).get("device_seq")
    except (ValueError, AttributeError):
        return set()
    return {step} if isinstance(step, int) else set()


def _runs(steps: Iterable[int]) -> Iterator[Run]:
    """First and last of what is missing between the steps that came."""
    for one, other in pairwise(sorted(steps)):
        if other - one > 1:
            yield one + 1, other - 1


def _told(row: Entry) -> str:
    thing = (row.label.item or row.label.code) if row.label else row.verb
    return f"{thing} at {timezone.localtime(row.happened_at):%H:%M}"


def _at_edges(device: UUID, beside: Mapping[tuple[UUID, int], str]) -> Mapping[int, str]:
    return {step: words for (whose, step), words in beside.items() if whose == device}


def _sentence(runs: list[Run], beside: Mapping[int, str]) -> str:
    told = [_run_words(run, beside) for run in runs[:MOST]]
    if len(runs) > MOST:
        told.append(f"and {sum(last - first + 1 for first, last in runs[MOST:])} in later gaps")
    return f"{'; '.join(told)}."


def _run_words(run: Run, beside: Mapping[int, str]) -> str:
    first, last = run
    count = last - first + 1
    words = "1 is missing" if count == 1 else f"{count} are missing"
    after = beside.get(last + 1, f"scan {last + 1}")
    if first == 1:
        return f"{words} before {after}"
    return f"{words} between {beside.get(first - 1, f'scan {first - 1}')} and {after}"
