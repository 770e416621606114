"""Uploads that wait at the same moment are taken together, in one durable transaction.

Eight phones at a dock send at once. One upload of one scan costs some twenty questions to the database and a wait for
the disk; eight together hardly cost more. Whoever comes first takes what waits by then, and nobody is answered before
the transaction that holds its scans is committed.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from threading import Lock

from inventory.scanning import Answer, Delivery, receive, receive_new

MOST = 100  # scans taken together; more would make everybody wait for the longest


@dataclass(slots=True)
class _Turn:
    """One upload that waits, then its answers or what went wrong."""

    delivery: Delivery
    answers: list[Answer] | None = None
    failed: Exception | None = None

    @property
    def is_over(self) -> bool:
        return self.answers is not None or self.failed is not None


_waiting: deque[_Turn] = deque()
_door = Lock()  # held by the thread that takes what waits


def take(delivery: Delivery) -> list[Answer]:
    """Take an upload, perhaps with others, and answer each of its scans in the order sent."""
    turn = _Turn(delivery)
    _waiting.append(turn)
    with _door:
        while not turn.is_over:
            _take_some(_next())
    if turn.failed is not None:
        raise turn.failed
    return turn.answers or []


def _next() -> list[_Turn]:
    """Those who wait longest, as many as go together; one at least."""
    found = [_waiting.popleft()]
    scans = len(found[0].delivery.upload.scans)
    while _waiting and (scans := scans + len(_waiting[0].delivery.upload.scans)) <= MOST:
        found.append(_waiting.popleft())
    return found


def _take_some(turns: list[_Turn]) -> None:
    """All at once if they can be; else each alone, so that what is wrong with one is nobody else's."""
    if len(turns) == 1 or not _taken_together(turns):
        for turn in turns:
            _take_alone(turn)


def _taken_together(turns: list[_Turn]) -> bool:
    try:
        answers = receive_new([turn.delivery for turn in turns])
    except Exception:  # noqa: BLE001 - each alone then: who is to blame is told so, the others are stored
        return False
    for turn, given in zip(turns, answers, strict=True):
        turn.answers = given
    return True


def _take_alone(turn: _Turn) -> None:
    try:
        turn.answers = receive(turn.delivery.upload, device=turn.delivery.device, at=turn.delivery.at)
    except Exception as why:  # noqa: BLE001 - raised again in the thread that brought it
        turn.failed = why
