"""Day passes: a code for one show that lets a phone in without an account, and what such a phone may do."""

from __future__ import annotations

import secrets
from collections.abc import Iterable
from datetime import datetime, timedelta
from uuid import uuid4

from django.contrib.auth.models import AbstractBaseUser

from inventory.access import role_of, token_hash
from inventory.codes import ALPHABET
from inventory.models import DayPass, Device, Grade, Role, Verb, WrongCode

SHORTEST, LONGEST = timedelta(hours=24), timedelta(hours=72)
LATE = timedelta(days=30)
WRONG_CODES, WITHIN = 20, timedelta(minutes=10)
GROUPS, GROUP = 2, 4  # 19 ** 8: 17 thousand million codes, and guessing is slowed

# What a pass may do unless its maker says otherwise. Undoing one's own acts always goes with it.
USUAL_VERBS = (
    Verb.SEEN, Verb.LOADED, Verb.UNLOADED, Verb.PACKED, Verb.FITTED, Verb.PULLED, Verb.PLACED, Verb.ARRIVED,
    Verb.RECEIVED, Verb.SEALED, Verb.SEAL_BROKEN, Verb.CHECKED, Verb.FAULTED, Verb.FOUND, Verb.MISSED, Verb.LEFT,
)  # fmt: skip
FURTHER_VERBS = (Verb.DEPARTED, Verb.COUNTED, Verb.HANDED_OVER, Verb.WEIGHED)
PASS_VERBS = USUAL_VERBS + FURTHER_VERBS
ALWAYS = {Verb.CORRECTED}
GRADES = {Grade.SCAN, Grade.TICK, Grade.SAID}

# What only a kit manager's own phone may add without being asked: all of it ends or clears something.
KIT_ONLY = {
    Verb.WRITTEN_OFF, Verb.DECLARED_BLANK, Verb.CONTENT_GIVEN, Verb.BROKEN_UP, Verb.ERASED, Verb.MENDED,
    Verb.INSPECTED, Verb.CONSUMED,
}  # fmt: skip

SPELLING = {
    "A": "Alfa", "C": "Charlie", "E": "Echo", "F": "Foxtrot", "H": "Hotel", "J": "Juliett", "K": "Kilo", "M": "Mike",
    "N": "November", "P": "Papa", "R": "Romeo", "T": "Tango", "W": "Whiskey", "X": "X-ray", "Y": "Yankee",
    "3": "three", "4": "four", "7": "seven", "9": "nine",
}  # fmt: skip


class PassRefused(ValueError):
    """The pass cannot be made or joined as asked. Carries a sentence to show."""


def spoken(code: str) -> str:
    """A pass's code as said on a radio, in the spelling words of ICAO Annex 10 (from memory)."""
    return ", ".join(" ".join(SPELLING.get(letter, letter) for letter in group) for group in code.split("-"))


def new_code() -> str:
    letters = ["".join(secrets.choice(ALPHABET) for _ in range(GROUP)) for _ in range(GROUPS)]
    return "-".join(letters)


def read_code(text: str) -> str:
    """A typed code as it is kept: upper case, one dash in the middle, however it was typed."""
    plain = "".join(letter for letter in text.upper() if letter.isalnum())
    return "-".join(plain[n : n + GROUP] for n in range(0, len(plain), GROUP))


def find(text: str) -> DayPass | None:
    """The pass of a code as typed, said or followed, in any case and with whatever between its groups."""
    upper = text.strip().upper()
    return DayPass.objects.filter(code__in={upper, "-".join(upper.split()), read_code(text)}).first()


def count_wrong(address: str, at: datetime) -> None:
    """Remember that a code nobody issued was tried from this address. In the database: every worker counts alike."""
    WrongCode.objects.filter(tried_at__lte=at - WITHIN).delete()
    WrongCode.objects.create(address=address, tried_at=at)


def wait(address: str, at: datetime) -> timedelta:
    """How long this address must wait before it may try a code again; nothing below 20 wrong ones in ten minutes."""
    tried = WrongCode.objects.filter(address=address, tried_at__gt=at - WITHIN).order_by("-tried_at")
    oldest = tried.values_list("tried_at", flat=True)[WRONG_CODES - 1 : WRONG_CODES].first()
    return oldest + WITHIN - at if oldest else timedelta()


def make(reference: str, *, verbs: Iterable[str], start: datetime, hours: int, by: str, at: datetime) -> DayPass:
    """Make a pass of 24 to 72 hours for one show."""
    if not SHORTEST <= timedelta(hours=hours) <= LONGEST:
        raise PassRefused("A pass lasts 24 to 72 hours. Make another one for a longer job.")
    chosen = [verb for verb in PASS_VERBS if verb in set(verbs)]
    if not chosen:
        raise PassRefused("Tick at least one thing that the pass may do.")
    return DayPass.objects.create(
        reference=reference, code=new_code(), verbs=",".join(chosen), valid_from=start,
        valid_until=start + timedelta(hours=hours), made_by=by, made_at=at,
    )  # fmt: skip


def revoke(day_pass: DayPass, *, by: str, at: datetime) -> None:
    """End a pass at once. What its phones did before stays; what they do from now on is held."""
    if day_pass.revoked_at is None:
        day_pass.revoked_at, day_pass.revoked_by = at, by
        day_pass.save(update_fields=["revoked_at", "revoked_by"])


def why_not_in_force(day_pass: DayPass, at: datetime) -> str:
    """ "" while the pass is in force at that moment, else a sentence."""
    if day_pass.revoked_at is not None and at >= day_pass.revoked_at:
        return f"This pass was ended by {day_pass.revoked_by or 'the kit manager'}."
    if at < day_pass.valid_from:
        return "This pass has not begun yet."
    if at >= day_pass.valid_until:
        return "This pass has run out."
    return ""


def may_upload(device: Device, at: datetime) -> bool:
    """Is this device's upload still taken? A pass's for 30 days after its end, an account's while it is active."""
    day_pass = device.day_pass
    if day_pass is None:
        return device.user is not None and device.user.is_active
    end = min(day_pass.valid_until, day_pass.revoked_at or day_pass.valid_until)
    return at < end + LATE


def join(day_pass: DayPass, name: str, *, at: datetime) -> tuple[Device, str]:
    """Let a phone in under the name its bearer gave. Returns the device and its token, which is not kept."""
    name = " ".join(name.split())
    if not name or len(name) > 120 or not name.isprintable():
        raise PassRefused("Write the name people call you by. It stands beside everything you scan.")
    if why := why_not_in_force(day_pass, at):
        raise PassRefused(f"{why} Ask the kit manager for today's code.")
    return _new_device(name, at, day_pass=day_pass)


def join_as(user: AbstractBaseUser, name: str, *, at: datetime) -> tuple[Device, str]:
    """A device for somebody with an account."""
    return _new_device(name, at, user=user)


def _new_device(name: str, at: datetime, **whose: object) -> tuple[Device, str]:
    token = secrets.token_urlsafe(32)
    device = Device.objects.create(id=uuid4(), name=name, token_hash=token_hash(token), joined_at=at, **whose)
    return device, token


def why_held(maker: Device, *, verb: str, grade: str, reference: str, happened_at: datetime) -> str:
    """ "" where this device may record this, then; else why a kit manager is asked first."""
    if maker.day_pass is None:
        return _why_account_asks(role_of(maker.user), verb, grade)
    day_pass = maker.day_pass
    if why := why_not_in_force(day_pass, happened_at):
        return why
    if reference not in ("", day_pass.reference):
        return f"This pass is for {day_pass.reference}, not for {reference}."
    if verb not in day_pass.allowed_verbs | ALWAYS:
        return f"This pass does not cover: {verb}."
    return "" if grade in GRADES else "A pass imports nothing."


def _why_account_asks(role: str | None, verb: str, grade: str) -> str:
    if role == Role.KIT_MANAGER:
        return ""
    if role not in (Role.ROAD_LEAD, Role.CREW):
        return "This account's role does not scan."
    if verb in KIT_ONLY or grade == Grade.IMPORT:
        return f"Only a kit manager records: {verb if verb in KIT_ONLY else 'imports'}."
    return ""
