"""The rules of the wipe bench, as people read them, and the limits among them that may be set. The answers apply them.

They are kept by the wipe answer and the bench themselves, so nothing here judges: `applied` says where. Dated limits
come from whoever keeps them (`readers`); without one each rule's own figure counts.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal

from django.utils import timezone

Dated = tuple[str, str, date, Decimal]  # rule, name, from which day, value


@dataclass(frozen=True, slots=True)
class BenchLimit:
    """A number of a bench rule. `least`: nobody may set it lower, only the owner's document does; None: free."""

    value: Decimal
    unit: str
    words: str
    least: Decimal | None = None


@dataclass(frozen=True, slots=True)
class BenchRule:
    """One rule as the Rules page shows it."""

    id: str
    number: str
    sentence: str
    severity: str
    source: str
    applied: str
    asks: str
    limits: Mapping[str, BenchLimit] = field(default_factory=dict)
    lasts: str = "for that drive and that content"
    decision_only: bool = True


COPIES = "copies-confirmed"
UNPOWERED = "unpowered-content"
_RULES = (
    BenchRule(
        "wipe-needs-release", "W1",
        "A drive with content is wiped only once somebody with authority released it, by serial.",
        "block", "custody practice of post-production; common practice", "in the wipe answer and when a wipe begins",
        "the release, by serial, from a person with authority",
    ),
    BenchRule(
        "second-person", "W2",
        "Who enters a release does not operate the wipe, and who operates it does not verify it.",
        "block", "common practice; the sample record of NIST SP 800-88 has two signatures",
        "when a wipe begins and when it is verified",
        "a second person",
    ),
    BenchRule(
        COPIES, "W3", "Enough copies are verified, on enough kinds of media, one of them elsewhere, before a wipe.",
        "block", "3-2-1 (US-CERT, Data Backup Options, 2012; from memory), applied to a set", "in the wipe answer",
        "a verified copy",
        {
            "copies": BenchLimit(Decimal(2), "copies", "verified, besides the drives", Decimal(2)),
            "media": BenchLimit(Decimal(2), "media", "kinds of media they are on", Decimal(2)),
            "elsewhere": BenchLimit(Decimal(1), "copies", "of them at another place", Decimal(1)),
        },
    ),
    BenchRule(
        "no-hold", "W4", "Nothing on hold is wiped: not the drive, not its set, not the show it holds.",
        "block", "common practice", "in the wipe answer", "the lifting of the hold, by who set it or a kit manager",

    ),
    BenchRule(
        UNPOWERED, "W5", "A solid-state drive with content does not lie without power for long.",
        "warn", "advice after JEDEC JESD218, from a secondary page", "on Today and on the drive's page",
        "power: a check, a read, a copy",
        {
            "warn_days": BenchLimit(Decimal(60), "days", "without power before somebody is told"),
            "late_days": BenchLimit(Decimal(90), "days", "without power before the owner is told too"),
        },
        decision_only=False,
    ),
)  # fmt: skip
BENCH_RULES = {one.id: one for one in _RULES}
readers: list[Callable[[], Iterable[Dated]]] = []


@dataclass(frozen=True, slots=True)
class BenchLimits:
    """The dated limits of the bench rules, oldest first."""

    rows: tuple[Dated, ...] = ()

    def on(self, at: datetime, rule: str, name: str) -> int:
        """The limit that counts at a moment: the newest row not after its day, else the rule's own."""
        day = timezone.localdate(at) if at.tzinfo and at.year < 9000 else at.date()
        found = [value for r, n, since, value in self.rows if (r, n) == (rule, name) and since <= day]
        return int(found[-1] if found else BENCH_RULES[rule].limits[name].value)


def dated() -> BenchLimits:
    """The limits as they are kept now, one query for each reader."""
    return BenchLimits(tuple(row for reader in readers for row in reader()))
