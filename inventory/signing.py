"""Signing a system: a person's act, kept with the reasons that stood on the screen at that moment."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import datetime

from inventory import ledger
from inventory.answers.loading import live
from inventory.answers.readiness_rows import Readiness
from inventory.ledger import Fact, LedgerRefusal, Witness
from inventory.models import Entry, Item, Kind, System, Verb

RULE = "ready"  # what a signature on a system's frame is about


@dataclass(frozen=True, slots=True)
class Signature:
    answer: str
    text: str
    by: str
    at: datetime


def digest(shown: Readiness) -> str:
    """Changes when the verdict or what it stands on changes, and not with the age of anything."""
    facts = [shown.answer, str(shown.on), *(f"{r.word}|{r.items}|{r.entries}" for r in shown.reasons)]
    return hashlib.sha256("\n".join(facts).encode()).hexdigest()


def carrier(system: System) -> Item | None:
    """The thing that carries a system's signatures in the ledger: its frame, else its first thing."""
    items = Item.objects.in_stock().filter(home_system=system).exclude(type__kind__in=(Kind.CASE, Kind.VEHICLE))
    return items.filter(type__kind=Kind.FRAME).order_by("id").first() or items.order_by("id").first()


def sign(system: System, shown: Readiness, *, words: str, by: Witness, at: datetime) -> Entry:
    """Keep that `by` saw this verdict with these reasons and signed. NOT READY takes words: why it goes anyhow."""
    if shown.answer != "READY" and not words.strip():
        raise LedgerRefusal(f"{system} is NOT READY. Write why you sign it as it stands, or end its reasons first.")
    item = carrier(system)
    if item is None:
        raise LedgerRefusal(f"{system} has no thing to sign for. Give it its parts first.")
    lines = [shown.sentence, *(f"- {reason.sentence}" for reason in shown.reasons)]
    if words.strip():
        lines.append(f"Signed with: {words.strip()}")
    value = f"{system.slug}: {shown.answer}"
    return ledger.record([Fact(Verb.SIGNED, item, rule=RULE, value=value, note="\n".join(lines))], by=by, at=at)[0]


def last_signature(system: System, at: datetime) -> Signature | None:
    """The newest signature on this system, or None."""
    item = carrier(system)
    if item is None:
        return None
    entry = (
        live(at)
        .filter(label__item=item, verb=Verb.SIGNED, rule=RULE, value__startswith=f"{system.slug}: ")
        .order_by("-happened_at", "-id")
        .first()
    )
    if entry is None:
        return None
    return Signature(entry.value.split(": ", 1)[1], entry.note, entry.by, entry.happened_at)
