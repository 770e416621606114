"""Shows, as the search box finds them: by code, by name, by client, by venue; and what is wanted on the next one."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from datetime import datetime, timedelta

from django.urls import reverse
from django.utils import timezone

from inventory.answers.search import Named, Near
from inventory.models import Item, Person
from shipping.models import Booking, Show

SOON = timedelta(days=30)
ON_NOW, NEXT, LED = 4, 2, 1  # added up: a show that is on beats one to come, and of two alike one's own


def shows() -> Iterator[Named]:
    """Every show; a discreet one is not found by its client's name."""
    for show in Show.objects.select_related("client", "venue"):
        client = str(show.client or "") if not show.discreet else ""
        when = f"{show.starts_at:%-d %b %Y}, {show.venue or 'no venue'}"
        yield Named("show", show.code, show.name, (show.code, show.name, client, str(show.venue or "")), when)


def on_now_or_next(items: Collection[int], at: datetime, person: Person | None) -> dict[int, Near]:
    """Of these things, those whose system, set or self is booked on a show that is on or comes within a month."""
    booked = _booked(at, person)
    if not booked:
        return {}
    found = {}
    for pk, system, drive_set in Item.objects.filter(pk__in=items).values_list("pk", "home_system", "home_set"):
        of = [booked[key] for key in (("item", pk), ("set", drive_set), ("system", system)) if key in booked]
        if of:
            found[pk] = max(of, key=lambda one: one.rank)
    return found


def _booked(at: datetime, person: Person | None) -> dict[tuple[str, int], Near]:
    """What is booked now or soon, each with the nearest of its shows."""
    soon = Booking.objects.filter(show__cancelled_at=None, show__back_at__gte=at, show__leaves_at__lte=at + SOON)
    booked: dict[tuple[str, int], Near] = {}
    for row in soon.select_related("show"):
        near = _near(row.show, at, person)
        for kind, key in (("system", row.system_id), ("set", row.drive_set_id), ("item", row.item_id)):
            if key is not None:
                booked[kind, key] = max(booked.get((kind, key), near), near, key=lambda one: one.rank)
    return booked


def _near(show: Show, at: datetime, person: Person | None) -> Near:
    on = show.leaves_at <= at
    own = person is not None and show.lead_id == person.pk
    when = "on now" if on else f"next, from {timezone.localtime(show.leaves_at):%-d %b}"
    words = f"booked on {show.code}, {when}" + (", yours to lead" if own else "")
    return Near((ON_NOW if on else NEXT) + LED * own, words)


def show_address(named: Named) -> str:
    return reverse("show", args=[named.key])
