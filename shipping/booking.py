"""Promising things to a show, taking them back, cancelling and renaming the show."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db import IntegrityError, transaction

from inventory.answers.blankness import blank_sets as by_the_book
from inventory.answers.values import Reason
from inventory.models import DriveSet, Item, Kind, System
from inventory.unchanged import kept
from shipping.availability import NO_BLANK_SET, BlankSets, Thing, promise
from shipping.models import Booking, Show


class BookingRefusal(ValueError):
    """What was asked for cannot be booked. Carries a sentence to show."""


# Where the gear is when a show is cancelled, and what that means for it.
STAGES = {
    "not packed": "Nothing is packed; the bookings are free again.",
    "packed": "Packed cases stay packed and sealed, re-assignable as they are.",
    "on the road": "The gear is on the road: turn it round, or take it as the start of the next show.",
    "on site": "The gear is at the venue: it comes back as from any show.",
}


def thing_of(booking: Booking) -> Thing:
    return booking.system or booking.drive_set or booking.item


def _field(thing: Thing) -> str:
    return {System: "system", DriveSet: "drive_set", Item: "item"}[type(thing)]


@transaction.atomic
def book(show: Show, thing: Thing, *, by: str, at: datetime, blank_sets: BlankSets = by_the_book) -> list[Reason]:
    """Promise a thing to a show. Returns what stands against it: the book says it now, not at set-up."""
    if show.cancelled_at:
        raise BookingRefusal(f"{show} is cancelled. Book the show that takes its place.")
    if isinstance(thing, Item) and thing.retired_at:
        raise BookingRefusal(f"{thing} is retired. Book what replaced it.")
    findings = findings_for(show, thing, at, blank_sets=blank_sets)
    try:
        with transaction.atomic():
            Booking.objects.create(show=show, booked_at=at, booked_by=by, **{_field(thing): thing})
    except IntegrityError as already:
        raise BookingRefusal(f"{thing} is already booked on {show}.") from already
    return findings


def findings_for(show: Show, thing: Thing, at: datetime, *, blank_sets: BlankSets = by_the_book) -> list[Reason]:
    """What stands against this thing going with this show: another show, no blank set, an open return."""
    return list(promise([thing], show.leaves_at, show.back_at, at, show=show, blank_sets=blank_sets).reasons)


def booked_things(show: Show) -> list[Thing]:
    bookings = show.bookings.select_related("system", "drive_set", "item__type", "item__owner").order_by("id")
    return [thing_of(booking) for booking in bookings]


def booking_findings(show: Show, at: datetime, *, blank_sets: BlankSets = by_the_book) -> list[Reason]:
    """What stands against all that is booked on this show, each said once.

    Whether a set is blank is asked until the show begins: from then on it holds the show.
    """
    return list(kept(("booked", show.pk, blank_sets), at, lambda: tuple(_booking_findings(show.pk, at, blank_sets))))


def _booking_findings(show_id: int, at: datetime, blank_sets: BlankSets) -> list[Reason]:
    show = Show.objects.get(pk=show_id)
    things = booked_things(show)
    if not things or show.cancelled_at:
        return []
    answer = promise(things, show.leaves_at, show.back_at, at, show=show, blank_sets=blank_sets)
    begun = show.starts_at <= at
    told = [reason for reason in answer.reasons if not (begun and reason.word == NO_BLANK_SET)]
    return list({reason.sentence: reason for reason in told}.values())


def unbook(show: Show, booking_id: int) -> Booking:
    """Take one promise back. What has happened with the thing stays in the ledger."""
    booking = show.bookings.filter(pk=booking_id).first()
    if booking is None:
        raise BookingRefusal("That booking is not on this show any more.")
    booking.delete()
    return booking


@transaction.atomic
def cancel(show: Show, *, stage: str, why: str, at: datetime) -> Show:
    """Cancel a show, saying where its gear is now. Bookings stay as history; they no longer hold anything."""
    if show.cancelled_at:
        raise BookingRefusal(f"{show} was cancelled already.")
    if stage not in STAGES:
        raise BookingRefusal("Say where the gear is now: " + ", ".join(STAGES) + ".")
    if not why.strip():
        raise BookingRefusal("Write why the show is cancelled; the next person will ask.")
    show.cancelled_at = at
    show.cancelled_why = f"{stage}: {why.strip()}"[:200]
    show.save(update_fields=["cancelled_at", "cancelled_why"])
    return show


def cases_of(show: Show) -> Iterable[Item]:
    """The cases that go with a show: those of its consignments, and the home cases of what is booked."""
    systems = show.bookings.filter(system__isnull=False).values("system")
    consigned = show.consignments.values("cases__case")
    mine = Item.objects.in_stock().filter(type__kind=Kind.CASE)
    return (mine.filter(home_system__in=systems) | mine.filter(pk__in=consigned)).with_words()
