"""Who and where in the demo world: people, places, shows, and the roads between."""

from __future__ import annotations

from django.contrib.auth import get_user_model
from django.contrib.auth.hashers import make_password

from inventory.ledger import Witness
from inventory.models import (
    ClientReference,
    DayPass,
    Item,
    Mandate,
    MandatePerson,
    Organisation,
    Person,
    Place,
    PlaceKind,
    Role,
)
from inventory.models.places import Purpose
from shipping.demo.world import World
from shipping.models import Booking, Consignment, ConsignmentCase, Leg, Mode, Show

PASSWORD = "lanternfold"
ORGANISATIONS = {
    "ours": ("Lanternfold Field Pictures", "+44 1632 960100"),
    "trust": ("Glasswright Trust", "+44 1632 960121"),
    "club": ("Saltmere Basin Sailing Club", "+44 1632 960133"),
    "circle": ("Fjellmark Chess Circle", "+47 55 50 01 40"),
    "hire": ("Brambleside Hire", "+44 1632 960155"),
}
# name: role, organisation, phone, signs in as
PEOPLE = {
    "Ida Penrake": (Role.KIT_MANAGER, "ours", "+44 7700 900101", "ida"),
    "Tomas Quill": (Role.STAFF, "ours", "+44 7700 900102", "tomas"),
    "Ana Rell": (Role.ROAD_LEAD, "ours", "+44 7700 900103", "ana"),
    "Wes Tarn": (Role.CREW, "ours", "+44 7700 900104", "wes"),
    "Jo Marlow": (Role.CLIENT, "trust", "+44 7700 900121", "jo"),
    "Nell Harrow": (Role.CLIENT, "club", "+44 7700 900133", ""),
    "Odd Varley": (Role.CLIENT, "club", "+44 7700 900134", ""),
    "Runa Eide": (Role.CLIENT, "circle", "+47 99 90 01 40", ""),
}
HERON = [f"HER-{n:02}" for n in range(1, 15)]
CURLEW = [f"CUR-{n:02}" for n in range(1, 15)]
WREN = [f"WRE-{n:02}" for n in range(1, 9)]
POOL = [f"GEN-{n:02}" for n in range(1, 5)]
TO_TEASEL, TO_MEADOWRUE = [*HERON, "GEN-01"], ["GEN-02", "GEN-03", "GEN-04"]
PASS_VERBS = (
    "loaded,unloaded,seen,sealed,seal broken,checked,counted,found,faulted,corrected,packed,placed,fitted,pulled"
)


def make_people(world: World) -> None:
    secret = make_password(PASSWORD)  # all sign in alike, and hashing it is slow on purpose
    for key, (name, phone) in ORGANISATIONS.items():
        world.organisations[key] = Organisation.objects.create(name=name, phone=phone, is_ours=key == "ours")
    for name, (role, organisation, phone, login) in PEOPLE.items():
        user = get_user_model().objects.create(username=login, password=secret) if login else None
        person = Person.objects.create(
            name=name, role=role, phone=phone, user=user, organisation=world.organisations[organisation]
        )
        world.people[name] = person
        world.witnesses[name.split()[0].lower()] = Witness(name=name, role=role, user=user)
        world.places[name] = Place.objects.create(name=name, kind=PlaceKind.PERSON, person=person)
    world.people["Wes Tarn"].deputy = world.people["Ida Penrake"]
    world.people["Wes Tarn"].save(update_fields=["deputy"])
    ClientReference.objects.create(person=world.people["Jo Marlow"], reference="CCA")
    ClientReference.objects.create(person=world.people["Jo Marlow"], reference="CCA-R")


def make_places(world: World) -> None:
    mill = _place(world, "Mill Yard", PlaceKind.STORE, time_zone="Europe/London", is_ours=True, note="Carrowmere")
    for letter in "ABCDEF":
        for n in range(1, 7):
            _place(world, f"shelf {letter}{n}", PlaceKind.SHELF, parent=mill, is_ours=True)
    _place(world, "shelf Q", PlaceKind.SHELF, parent=mill, is_ours=True, purpose=Purpose.QUARANTINE)
    _place(world, "wipe bench W", PlaceKind.SHELF, parent=mill, is_ours=True, purpose=Purpose.BENCH)
    _place(world, "Mill Yard dock", PlaceKind.ROOM, parent=mill, is_ours=True)
    _place(world, "Mill Yard office", PlaceKind.ROOM, parent=mill, is_ours=True)
    _place(world, "Quay Unit", PlaceKind.STORE, time_zone="Europe/London", is_ours=True, note="Port Ellery")
    hall = _place(world, "Fjellmark Hall", PlaceKind.VENUE, time_zone="Europe/Oslo")
    for room in ("Hall dock", "Hall control room", "Hall empties"):
        purpose = Purpose.EMPTIES if room.endswith("empties") else Purpose.STOCK
        _place(world, room, PlaceKind.ROOM, parent=hall, purpose=purpose)
    rooms = _place(world, "The Glasswright Rooms", PlaceKind.VENUE, time_zone="Europe/London")
    for room in ("Rooms gallery", "Rooms rack 3", "Rooms dock"):
        _place(world, room, PlaceKind.ROOM, parent=rooms)
    _place(world, "Saltmere Basin", PlaceKind.VENUE, time_zone="Europe/London")
    _place(world, "Glasswright Trust archive", PlaceKind.VENUE, time_zone="Europe/London")
    _place(world, "Sailing club archive", PlaceKind.VENUE, time_zone="Europe/London")
    _place(world, "gone", PlaceKind.GONE)


def _place(world: World, name: str, kind: str, **fields: object) -> Place:
    world.places[name] = Place.objects.create(name=name, kind=kind, **fields)
    return world.places[name]


def make_shows(world: World) -> None:
    """Three shows, and the repeat that was cancelled this morning."""
    for code, name, client, venue, times, more in (
        ("SBR", "Saltmere Basin Regatta Finals", "club", "Saltmere Basin", ("-16d", "-13d", "-12d", "+2d"), {}),
        ("CCA", "Carrowmere Civic Awards", "trust", "The Glasswright Rooms", ("-76d", "-72d", "-71d", "-65d"), {}),
        ("FMC", "Fjellmark Masters Chess", "circle", "Fjellmark Hall", ("-6d", "-1d", "-1h", "+5d"), {"abroad": True}),
        ("CCA-R", "Civic Awards, repeat", "trust", "The Glasswright Rooms", ("+3d", "+4d", "+5d", "+8d"), {}),
    ):
        leaves, starts, ends, back = (world.when(offset) for offset in times)
        world.shows[code] = Show.objects.create(
            code=code, name=name, client=world.organisations[client], venue=world.places[venue], leaves_at=leaves,
            starts_at=starts, ends_at=ends, back_at=back, discreet=code.startswith("CCA"),
            contact="Ana Rell +44 7700 900103", **more,
        )  # fmt: skip
    _mandates(world)
    _bookings(world)


def _mandates(world: World) -> None:
    for code, owner, person, offset in (
        ("SBR", "club", "Nell Harrow", "-20d"),
        ("CCA", "trust", "Jo Marlow", "-80d"),
        ("FMC", "circle", "Runa Eide", "-10d"),
    ):
        at = world.when(offset)
        mandate = Mandate.objects.create(
            reference=code, content_owner=world.organisations[owner], in_force_from=at, entered_at=at,
            entered_by="Ida Penrake", discreet=code == "CCA",
        )  # fmt: skip
        MandatePerson.objects.create(mandate=mandate, person=world.people[person], why="producer named in the contract")


def _bookings(world: World) -> None:
    for code, systems, sets in (
        ("SBR", ["Wren"], ["WREN-1"]),
        ("CCA", ["Curlew"], ["CURLEW-1", "CURLEW-2"]),
        ("FMC", ["Heron"], ["HERON-1", "HERON-2", "FLOAT-1"]),
        ("CCA-R", ["Curlew"], []),
    ):
        show = world.shows[code]
        common = {
            "show": show,
            "booked_by": "Ida Penrake",
            "booked_at": show.leaves_at - (world.zero - world.when("-9d")),
        }
        Booking.objects.bulk_create(
            [Booking(system=world.systems[name], **common) for name in systems]
            + [Booking(drive_set=world.sets[name], **common) for name in sets]
        )
    Booking.objects.bulk_create(
        Booking(show=world.shows["FMC"], item=world.things[case], booked_by="Ida Penrake", booked_at=world.when("-15d"))
        for case in POOL
    )


def make_roads(world: World) -> None:
    """Consignments and legs as they were planned."""
    teasel, meadowrue = world.things["Teasel"], world.things["Meadowrue"]
    hall, rooms, basin = "Fjellmark Hall", "The Glasswright Rooms", "Saltmere Basin"
    for key, code, cases in (
        ("regatta", "SBR", WREN),
        ("awards", "CCA", CURLEW),
        ("on Teasel", "FMC", TO_TEASEL),
        ("on Meadowrue", "FMC", TO_MEADOWRUE),
        ("repeat", "CCA-R", CURLEW),
    ):
        _consignment(world, key, code, cases)
    _consignment(world, "monitors to Quay Unit", "SBR", ["WRE-05"], split_from="regatta")
    _consignment(world, "intercom later", "SBR", ["WRE-07"], split_from="regatta")
    _leg(world, "regatta out", "regatta", meadowrue, "Mill Yard", basin, "-15d3h", "-15d")
    _leg(world, "regatta back", "regatta", meadowrue, basin, "Mill Yard", "-11d", "-10d20h")
    _leg(world, "monitors", "monitors to Quay Unit", None, basin, "Quay Unit", "-10d", "-8d", mode=Mode.COURIER)
    _leg(world, "intercom", "intercom later", None, basin, "Mill Yard", "-1d", "+2d", mode=Mode.COURIER)
    _leg(world, "awards out", "awards", teasel, "Mill Yard", rooms, "-75d", "-74d22h")
    _leg(world, "awards back", "awards", teasel, rooms, "Mill Yard", "-70d22h", "-70d20h")
    border = {"crosses_border": True, "driver": "Wes Tarn", "driver_phone": "+44 7700 900104"}
    _leg(world, "Teasel out", "on Teasel", teasel, "Mill Yard", hall, "-5d", "-4d", **border)
    _leg(world, "Teasel tonight", "on Teasel", teasel, hall, "Mill Yard", "+30m", "+1d12h", **border)
    _leg(world, "Meadowrue out", "on Meadowrue", meadowrue, "Mill Yard", hall, "-5d", "-4d", crosses_border=True)
    _leg(
        world, "Meadowrue tonight", "on Meadowrue", meadowrue, hall, "Mill Yard", "+40m", "+1d12h", crosses_border=True
    )
    _leg(world, "repeat out", "repeat", teasel, "Mill Yard", rooms, "+3d", "+3d2h")


def _consignment(world: World, key: str, code: str, cases: list[str], split_from: str = "") -> None:
    consignment = Consignment.objects.create(
        show=world.shows[code], name=key, split_from=world.consignments.get(split_from)
    )
    room = {"FMC": "Hall control room", "CCA": "Rooms gallery", "CCA-R": "Rooms gallery"}.get(code, "")
    ConsignmentCase.objects.bulk_create(
        ConsignmentCase(
            consignment=consignment, case=world.things[case], position=position, first_off=case.endswith(("01", "10")),
            to_room=room if case.endswith(("01", "02")) else "",
        )
        for position, case in enumerate(cases, 1)
    )  # fmt: skip
    world.consignments[key] = consignment


def _leg(
    world: World, key: str, consignment: str, vehicle: Item | None, *road: str, mode: str = Mode.ROAD, **more: object
) -> None:
    """`road` is from, to, departs, arrives."""
    start, end, departs, arrives = road
    owner = world.consignments[consignment]
    position = owner.legs.count() + 1
    place = _place(world, f"on the road: {key}", PlaceKind.ROAD)
    world.legs[key] = Leg.objects.create(
        consignment=owner, position=position, mode=mode, vehicle=vehicle, from_place=world.places[start],
        to_place=world.places[end], road=place, departs_at=world.when(departs), arrives_at=world.when(arrives),
        waybill="" if vehicle else f"WB-{owner.pk:03}{position}", **more,
    )  # fmt: skip


def make_pass(world: World) -> DayPass:
    """Tonight's pass for the chess crew."""
    at = world.when("-10h")
    return DayPass.objects.create(
        reference="FMC", code="HERON-KESTREL-47", verbs=PASS_VERBS, valid_from=at, valid_until=world.when("+2d"),
        made_by="Ana Rell", made_at=at,
    )  # fmt: skip
