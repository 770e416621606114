"""The word and sentence for each scan of one upload, in the order the scans happened."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any

from inventory import codes, joblines
from inventory.joblines import Asked, Held, Placing
from inventory.models import Entry, Item, Kind, Label, Verb
from inventory.saying import Doing, Line, Said, Says, says

BOUNCE = timedelta(seconds=3)  # a scanner's trigger that fired twice
BAY_WALK = {Verb.FITTED, Verb.PACKED}


@dataclass(slots=True)
class Job:
    """What is known about the things of one upload, kept up to date scan by scan."""

    items: dict[int, Item]
    holdings: dict[int, Held]
    lines: dict[int, Line]
    plans: dict[Asked, tuple[str, str]]
    sets: dict[int, tuple[str, ...]]
    last: dict[tuple[Any, ...], tuple[datetime, Said]] = field(default_factory=dict)


def tell(arrived: list[Any]) -> None:
    """Give each stored scan its word. Each of `arrived` has an `entry` and takes a `said`."""
    ordered = sorted(arrived, key=lambda each: (each.entry.happened_at, each.entry.id))
    job = _job([each.entry for each in ordered])
    for each in ordered:
        each.said = _say(each.entry, job)


def say_one(entry: Entry) -> Said:
    """The word for one entry about to be recorded; ask before it is, or it is already done."""
    return _say(entry, _job([entry]))


def _job(entries: list[Entry]) -> Job:
    items = {entry.label.item_id: entry.label.item for entry in entries if entry.label and entry.label.item_id}
    holdings = joblines.holdings_of(items)
    lines = {pk: joblines.line_of(item, holdings.get(pk)) for pk, item in items.items()}
    walked = [entry for entry in entries if entry.bay and entry.verb in BAY_WALK and entry.place]
    drives = {pk for pk, item in items.items() if item.type.kind == Kind.DRIVE}
    for pk, (name, bay) in (joblines.home_bays(drives) if walked and drives else {}).items():
        lines[pk] = replace(lines[pk], drive_set=name, bay=bay)
    return Job(
        items=items,
        holdings=holdings,
        lines=lines,
        plans=joblines.plans_for({asked_of(entry) for entry in entries if entry.label and entry.label.item_id}),
        sets=joblines.sets_at_home([entry.place for entry in walked]) if walked else {},
    )


def asked_of(entry: Entry) -> Asked:
    return Asked(entry.label.item_id, entry.verb, entry.place_id, entry.reference)


def _say(entry: Entry, job: Job) -> Said:
    if entry.label is None:
        return Said(Says.GOOD, f"Recorded: {entry.verb}.")
    doing = joblines.doing_of(entry.verb, entry.place, entry.bay, job.sets.get(entry.place_id, ()))
    before = job.last.get(_step(entry))
    bounced = before is not None and entry.happened_at - before[0] <= BOUNCE
    said = before[1] if bounced else _look_up(entry, doing, job)
    job.last[_step(entry)] = (entry.happened_at, said)
    return said


def _step(entry: Entry | Placing) -> tuple[Any, ...]:
    return (entry.device_id, entry.label_id, entry.verb, entry.place_id, entry.bay)


def _look_up(entry: Entry, doing: Doing, job: Job) -> Said:
    item_id = entry.label.item_id
    if item_id is None:
        return _unknown(entry.label, doing)
    known = job.lines[item_id]
    if _is_bounce(entry, job.holdings.get(item_id)):
        known = replace(known, done_place="")
    line = joblines.with_plans(known, asked_of(entry), job.items[item_id], job.plans)
    job.lines[item_id] = joblines.after(job.lines[item_id], doing, entry.happened_at, entry.by)
    return says(doing, line, entry.label.code)


def _is_bounce(entry: Entry, row: Held | None) -> bool:
    """Did the same device put it there less than three seconds before? Then it is told the same as then."""
    before = row.entry if row is not None else None
    if before is None or entry.device_id is None or _step(before) != _step(entry):
        return False
    return timedelta(0) <= entry.happened_at - before.happened_at <= BOUNCE


def _unknown(label: Label, doing: Doing) -> Said:
    said = says(doing, None, label.code)
    if len(label.code) == codes.LENGTH and not codes.is_whole(label.code):
        return Said(said.word, f"{label.code} does not read right: its last character does not fit. Scan it again.")
    return said
