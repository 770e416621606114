"""One sheet for the day: the code that lets a phone in, the times, the vehicles, whom to ring."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.conf import settings
from django.urls import reverse

from inventory import passes
from inventory.models import DayPass, Person, Role
from inventory.papers import Draft, Form, moment
from shipping.documents.around import Around
from shipping.models import Leg, Show

FORM = Form("day-sheet", "day sheet", "show", ("a4", "letter"))


@dataclass(frozen=True, slots=True)
class PassWords:
    """A pass as a crew gets it: a symbol for the camera, a code to type, the same to say."""

    code: str
    qr: str
    spoken: str
    valid: str
    may: str


@dataclass(frozen=True, slots=True)
class DayTime:
    key: str
    when: str
    words: str


@dataclass(frozen=True, slots=True)
class DayVehicle:
    key: str
    words: str
    plate: str
    driver: str
    phone: str
    trip: str
    departs: str
    arrives: str
    cases: int


@dataclass(frozen=True, slots=True)
class Contact:
    key: str
    words: str
    name: str
    phone: str


@dataclass(frozen=True, slots=True)
class DaySheet:
    show: str
    code: str
    venue: str
    day_pass: PassWords | None
    times: tuple[DayTime, ...]
    vehicles: tuple[DayVehicle, ...]
    contacts: tuple[Contact, ...]
    tapes: tuple[str, ...]
    rooms: tuple[str, ...]
    cases: int


def join_address(day_pass: DayPass) -> str:
    """What the camera of a phone opens to let its bearer in."""
    return f"{settings.PUBLIC_URL}{reverse('join', args=[day_pass.code])}"


def _pass_words(day_pass: DayPass | None) -> PassWords | None:
    if day_pass is None:
        return None
    return PassWords(
        code=day_pass.code, qr=join_address(day_pass), spoken=passes.spoken(day_pass.code),
        valid=f"{moment(day_pass.valid_from)} to {moment(day_pass.valid_until)}",
        may=", ".join(verb for verb in passes.PASS_VERBS if verb in day_pass.allowed_verbs),
    )  # fmt: skip


def _times(show: Show) -> tuple[DayTime, ...]:
    """The show's own times; those of the road stand with the vehicles."""
    found = (
        ("prep", show.leaves_at, "prep at the store"),
        ("starts", show.starts_at, f"show starts, {show.venue or 'venue not known'}"),
        ("ends", show.ends_at, "show ends: last look, strike, load-out"),
        ("back", show.back_at, "back, checked in and wiped"),
    )
    return tuple(DayTime(key, moment(when), words) for key, when, words in found)


def _vehicle(leg: Leg, cases: int) -> DayVehicle:
    return DayVehicle(
        key=str(leg.pk), words=str(leg.vehicle) if leg.vehicle else f"{leg.mode}, waybill {leg.waybill or 'not known'}",
        plate=leg.vehicle.registration if leg.vehicle else leg.carrier, driver=leg.driver, phone=leg.driver_phone,
        trip=f"{leg.from_place} to {leg.to_place}", cases=cases,
        departs=moment(leg.departs_at) if leg.departs_at else "",
        arrives=moment(leg.arrives_at) if leg.arrives_at else "",
    )  # fmt: skip


def _contacts(show: Show, leads: Sequence[Person]) -> tuple[Contact, ...]:
    """Road lead first; then who can open the store; the venue; the number on the cases."""
    road = [show.lead] if show.lead else [one for one in leads if one.role == Role.ROAD_LEAD]
    kit = [one for one in leads if one.role == Role.KIT_MANAGER]
    found = [Contact(f"road {one.pk}", "road lead", one.name, one.phone) for one in road]
    found += [Contact(f"kit {one.pk}", "kit manager", one.name, one.phone) for one in kit]
    if show.contact:
        found.append(Contact("venue", "at the venue", show.contact, ""))
    if settings.OWNER_PHONE:
        found.append(Contact("store", "the store", settings.OWNER_NAME, settings.OWNER_PHONE))
    return tuple(found)


def build(show: Show, medium: str, around: Around) -> Draft:
    """No values, no serials, no client: this sheet lies about."""
    trips, legs = around.trips(show), around.legs(show.pk)
    counts = {leg.pk: sum(trip.consignment_id == leg.consignment_id for trip in trips) for leg in legs}
    systems = {trip.case.home_system for trip in trips if trip.case.home_system}
    body = DaySheet(
        show=show.code if show.discreet else show.name, code=show.code, venue=str(show.venue or "venue not known"),
        day_pass=_pass_words(around.day_pass(show)), times=_times(show),
        vehicles=tuple(_vehicle(leg, counts[leg.pk]) for leg in legs), contacts=_contacts(show, around.leads),
        tapes=tuple(sorted(f"{one.colour} {one.name}" for one in systems if one.colour)),
        rooms=tuple(sorted({trip.to_room for trip in trips if trip.to_room})),
        cases=len({trip.case_id for trip in trips}),
    )  # fmt: skip
    return Draft(FORM, medium, show.code, f"Day sheet {body.show}", body, show.code)
