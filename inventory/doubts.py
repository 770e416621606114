"""What ends a doubt about a drive: a kit manager's acceptance, a named health check, a name for its content."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.db import transaction

from inventory import ledger
from inventory.answers.content import NAMES_CONTENT
from inventory.answers.custody import HEALTH
from inventory.answers.wiping import wipe_answer
from inventory.deciding import Refused, lock, must_be_drives, said
from inventory.ledger import Fact, Witness
from inventory.models import Acceptance, Entry, Item, Role, Verb


@transaction.atomic
def accept(drive: Item, digest: str, why: str, *, by: Witness, at: datetime) -> Acceptance:
    """Accept one doubt exactly as it stands now. Never a bare piece, never an unsure release, never one's own."""
    _must_be_manager(by)
    must_be_drives([drive])
    moment = lock([drive], at)
    doubt = next((one for one in wipe_answer(drive, moment).doubts if one.digest == digest), None)
    if doubt is None:
        raise Refused("This doubt no longer stands as you saw it. Look at the drive again, then decide.")
    if by.name in doubt.makers:
        raise Refused("You made this doubt yourself. Another kit manager must look into it and accept it.")
    reason = said(why, "what you looked at, and why it may be accepted")
    return Acceptance.objects.create(
        drive=drive, doubt=doubt.word[:60], digest=digest, why=reason, entered_by=by.name, entered_at=moment
    )


def check_health(drive: Item, result: str, note: str, *, by: Witness, at: datetime) -> Entry:
    """Record a named health check: "good" ends suspect, anything else keeps it."""
    must_be_drives([drive])
    fact = Fact(Verb.CHECKED, drive, rule=HEALTH, value=said(result, "what the health check found")[:200], note=note)
    return ledger.record([fact], by=by, at=at)[0]


@transaction.atomic
def name_content(recording: UUID, drive: Item, reference: str, why: str, *, by: Witness, at: datetime) -> Entry:
    """Say whose a recording is that named no show. Only then can it be released."""
    _must_be_manager(by)
    entry = Entry.objects.filter(pk=recording, verb=Verb.RECORDING).first()
    if entry is None or entry.reference:
        raise Refused("That recording is not known, or it names its show already.")
    fact = Fact(
        Verb.AMENDED, drive, field=NAMES_CONTENT, before=str(recording), after=said(reference, "the show's code"),
        note=said(why, "how you know whose it is"),
    )  # fmt: skip
    return ledger.record([fact], by=by, at=at)[0]


def _must_be_manager(by: Witness) -> None:
    if by.role != Role.KIT_MANAGER:
        raise Refused("Only a kit manager may say that. Ask one.")
