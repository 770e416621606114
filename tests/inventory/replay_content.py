"""Sets and content, the slow and obvious way: say after every entry who is in where, then look along them.

Written from the rules alone, for tests; it shares no code with the answers it judges. Nothing in it is told late, so
content is sure or *near*: in within ten minutes of a start or an end (ten to the second still counts, the safe side),
with no other part in the recording.
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


@dataclass(frozen=True)
class State:
    """Who is in where from one entry until the next, both moments included."""

    since: datetime
    until: datetime
    members: dict[str, frozenset[str]]
    fitted: dict[str, str]


@dataclass(frozen=True)
class Ran:
    """A recording: the entry that began it, and which states it began and ended with; None: it goes on."""

    said: Said
    first: int
    end: int | None = None


class Content:
    """`hosts`: each set's own frame."""

    def __init__(self, told: list[Said], hosts: dict[str, str], at: datetime) -> None:
        undone = {one.corrects for one in told if one.corrects}
        live = [one for one in told if one.id not in undone and not one.corrects and one.at <= at]
        self.live = sorted(live, key=lambda one: (one.at, one.id))
        self.hosts, self.at = hosts, at
        self.states = list(self._states())

    def _states(self) -> Iterator[State]:
        """One state after each entry."""
        members: dict[str, frozenset[str]] = {name: frozenset() for name in self.hosts}
        fitted: dict[str, str] = {}
        ends = [one.at for one in self.live[1:]] + [self.at + timedelta(days=1)]
        for one, until in zip(self.live, ends, strict=True):
            if one.verb == "joined":
                members = members | {one.set: members[one.set] | {one.drive}}
            if one.verb == "dropped":
                members = members | {one.set: members[one.set] - {one.drive}}
            if one.verb == "fitted":
                fitted = fitted | {one.drive: one.frame}
            if one.verb == "pulled":
                fitted = {drive: frame for drive, frame in fitted.items() if drive != one.drive}
            yield State(one.at, until, members, fitted)

    def members(self, name: str) -> frozenset[str]:
        return self.states[-1].members[name] if self.states else frozenset()

    def recordings(self) -> list[Ran]:
        """Each recording, ended by a stop of its set or frame; one of neither ends the newest that goes on."""
        going: list[Ran] = []
        ended: list[Ran] = []
        for number, one in enumerate(self.live):
            if one.verb == "recording":
                going.append(Ran(one, number))
            if one.verb == "stopped":
                fits = [r for r in going if one.reference in ("", r.said.reference)]
                if one.set or one.frame:
                    fits = [
                        r for r in fits
                        if (one.set and r.said.set == one.set) or (one.frame and r.said.frame == one.frame)
                    ]  # fmt: skip
                else:
                    fits = fits[-1:]
                ended += [Ran(r.said, r.first, number) for r in fits]
                going = [r for r in going if r not in fits]
        return ended + going

    def taken_in(self, recording: Said, state: State) -> set[str]:
        """Who was in where this recording went, in that state."""
        if not recording.set and not recording.frame:
            return set().union(*state.members.values()) | set(state.fitted)
        found: set[str] = set()
        frames = {recording.frame} if recording.frame else set()
        if recording.set:
            found |= state.members[recording.set]
            frames |= {self.hosts[recording.set]} | {state.fitted[one] for one in found if one in state.fitted}
        else:
            for name, host in self.hosts.items():
                found |= state.members[name] if host == recording.frame else set()
        return found | {drive for drive, frame in state.fitted.items() if frame in frames}

    def during(self, recording: Said, states: list[State]) -> set[str]:
        """Who was in in any of these states."""
        return set().union(*(self.taken_in(recording, state) for state in states))

    def holds(self) -> Iterator[tuple[str, UUID, bool]]:
        """(drive, the recording's entry, is it sure)."""
        for ran in self.recordings():
            said, start = ran.said, ran.said.at
            sure = self.during(said, self.states[ran.first : ran.end])
            near = self.during(said, [one for one in self.states[: ran.first] if one.until >= start - NEAR])
            if ran.end is not None:
                end = self.live[ran.end].at
                near |= self.during(said, [one for one in self.states[ran.end :] if one.since <= end + NEAR])
            named = bool(said.set or said.frame)
            yield from ((drive, said.id, named) for drive in sure)
            yield from ((drive, said.id, False) for drive in near - sure)
