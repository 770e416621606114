"""Getting a system ready for its next show: which show, which day, what was looked at."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from django.utils import timezone

from inventory.answers.loading import live
from inventory.answers.readiness import readiness
from inventory.answers.readiness_rows import Readiness
from inventory.models import Entry, SetupCheck, System, Verb
from shipping.models import Booking, Show


def next_shows(systems: Iterable[System], at: datetime) -> dict[int, Show]:
    """The show each system is booked on next (or is with now), by system id."""
    bookings = (
        Booking.objects.filter(system__in=list(systems), show__cancelled_at=None, show__ends_at__gte=at)
        .select_related("show")
        .order_by("-show__leaves_at", "-show__pk")
    )
    return {booking.system_id: booking.show for booking in bookings if booking.system_id}


def day_for(show: Show | None, at: datetime) -> date:
    """The day a system must hold out to: the end of its next show, else today."""
    return timezone.localdate(show.ends_at if show else at)


@dataclass(frozen=True, slots=True)
class Checked:
    """One set-up check and who looked last."""

    check: SetupCheck
    by: str = ""
    at: datetime | None = None


def check_rule(check: SetupCheck) -> str:
    """The name under which a look is kept as evidence."""
    return f"set-up {check.pk}"


def checks(system: System, at: datetime) -> list[Checked]:
    """The set-up checks in order, each with its newest look."""
    wanted = {check_rule(check): check for check in system.setup_checks.all()}
    entries = live(at).filter(verb=Verb.CHECKED, label__item__home_system=system, rule__in=wanted)
    newest: dict[str, Entry] = {entry.rule: entry for entry in entries.order_by("happened_at", "id")}
    return [
        Checked(check, newest[rule].by, newest[rule].happened_at) if rule in newest else Checked(check)
        for rule, check in wanted.items()
    ]


def system_named(text: str) -> System | None:
    """The system with this name or address."""
    words = text.strip()
    systems = System.objects.all()
    return systems.filter(name__iexact=words).first() or systems.filter(slug__iexact=words).first()


def readiness_for_next(system: System, at: datetime) -> Readiness:
    """The verdict for the end of the system's next show, or for today if it has none."""
    show = next_shows([system], at).get(system.pk)
    return readiness(system, day_for(show, at), at)
