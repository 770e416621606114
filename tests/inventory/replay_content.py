"""Sets and content, the slow and obvious way: cut time at every entry and look who was in where.

Written from the rules alone, for tests; it shares no code with the answers it judges. Nothing in it is told late, so
content is sure or *near*: in within ten minutes of a start or an end, with no other part in the recording.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

NEAR = timedelta(minutes=10)


@dataclass(frozen=True)
class Said:
    """One entry about drives, sets and frames. `corrects` names the act of another."""

    id: UUID
    verb: str
    at: datetime
    drive: str = ""
    set: str = ""
    frame: str = ""
    reference: str = ""
    corrects: UUID | None = None


class Content:
    """`hosts`: each set's own frame."""

    def __init__(self, told: list[Said], hosts: dict[str, str], at: datetime) -> None:
        undone = {one.corrects for one in told if one.corrects}
        live = [one for one in told if one.id not in undone and not one.corrects and one.at <= at]
        self.live = sorted(live, key=lambda one: (one.at, one.id))
        self.hosts, self.at = hosts, at

    def before(self, moment: datetime) -> list[Said]:
        return [one for one in self.live if one.at <= moment]

    def members(self, name: str, moment: datetime) -> set[str]:
        found: set[str] = set()
        for one in self.before(moment):
            if one.set == name and one.verb == "joined":
                found.add(one.drive)
            if one.set == name and one.verb == "dropped":
                found.discard(one.drive)
        return found

    def fitted(self, moment: datetime) -> dict[str, str]:
        """Each drive that is in a frame, and the frame."""
        found: dict[str, str] = {}
        for one in self.before(moment):
            if one.verb == "fitted":
                found[one.drive] = one.frame
            if one.verb == "pulled":
                found.pop(one.drive, None)
        return found

    def recordings(self) -> list[tuple[Said, datetime | None]]:
        """Each recording with the moment that ended it."""
        going: list[Said] = []
        ended: list[tuple[Said, datetime | None]] = []
        for one in self.live:
            if one.verb == "recording":
                going.append(one)
            if one.verb == "stopped":
                fits = [r for r in going if one.reference in ("", r.reference)]
                if one.set or one.frame:
                    fits = [r for r in fits if (one.set and r.set == one.set) or (one.frame and r.frame == one.frame)]
                else:
                    fits = fits[-1:]
                ended += [(r, one.at) for r in fits]
                going = [r for r in going if r not in fits]
        return ended + [(r, None) for r in going]

    def taken_in(self, recording: Said, moment: datetime) -> set[str]:
        """Who was in where this recording went, at a moment."""
        fitted, found = self.fitted(moment), set()
        everybody = {member for name in self.hosts for member in self.members(name, moment)}
        if not recording.set and not recording.frame:
            return everybody | set(fitted)
        frames = {recording.frame} if recording.frame else set()
        if recording.set:
            found |= self.members(recording.set, moment)
            frames |= {self.hosts[recording.set]} | {fitted[one] for one in found if one in fitted}
        else:
            for name, host in self.hosts.items():
                found |= self.members(name, moment) if host == recording.frame else set()
        return found | {drive for drive, frame in fitted.items() if frame in frames}

    def during(self, recording: Said, start: datetime, end: datetime) -> set[str]:
        """Who was in at some time from start to before end."""
        cuts = sorted({start, *(one.at for one in self.live if start < one.at < end)})
        return {drive for moment in cuts if moment < end for drive in self.taken_in(recording, moment)}

    def holds(self) -> Iterator[tuple[str, UUID, bool]]:
        """(drive, the recording's entry, is it sure)."""
        later = self.at + timedelta(days=1)
        for recording, stopped in self.recordings():
            end = stopped or later
            sure = self.during(recording, recording.at, end)
            near = self.during(recording, recording.at - NEAR, recording.at)
            if stopped:
                near |= self.during(recording, end, end + NEAR)
            named = bool(recording.set or recording.frame)
            yield from ((drive, recording.id, named) for drive in sure)
            yield from ((drive, recording.id, False) for drive in near - sure)
