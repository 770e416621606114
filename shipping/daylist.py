"""The list of a show as a phone keeps it: what each code is, where it goes, where it was put last.

Only what hands on a dock need. No values, no prices, no client; of other shows' things just what a person holding one
must hear: whose it is.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from django.utils import timezone

from inventory import joblines
from inventory.joblines import clock, place_key, place_words
from inventory.models import Holding, Item, Kind, Place, PlaceKind, SystemPart, Verb
from shipping.boards import Moment, Phase, State, moments_of, on_since, phase_at, state_at
from shipping.conflicts import Conflict, conflicts
from shipping.loading import LOAD, UNLOAD, Step, step_of
from shipping.models import ConsignmentCase, Leg, Show
from shipping.packing.lifting import band
from shipping.planning.cases import cases_of, seals_of
from shipping.planning.wholes import limits_on
from shipping.seal_looks import looks_since_sealing
from shipping.spots import by_case

VERSION = 1
DEPTH = 4  # vehicle, case, frame, drive
SOON = timedelta(days=3)
Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Listed:
    """What the list is made from: the legs at their stages, the cases with the legs they travel, the things in them.

    `moments`: when each leg last departed and arrived, by its key.
    """

    legs: tuple[tuple[Leg, Phase], ...]
    moments: Mapping[int, tuple[Moment | None, Moment | None]]
    trips: tuple[ConsignmentCase, ...]
    items: Mapping[int, Item]
    holdings: Mapping[int, joblines.Held]
    ours: frozenset[int]


def shows_at(at: datetime) -> list[Show]:
    """The shows that an account's phone is useful for now: out, or leaving soon."""
    return list(Show.objects.filter(leaves_at__lte=at + SOON, back_at__gte=at, cancelled_at=None))


def day_list(shows: Collection[Show], at: datetime) -> Row:
    """The parts of the list that hang on shows; a number of queries bounded by how deep things are packed."""
    listed = _listed(shows, at)
    return {
        "version": VERSION,
        "made_at": at.isoformat(),
        "legs": [_leg(leg, phase) for leg, phase in listed.legs],
        "cases": _cases(listed, shows, at),
        **_things(listed),
        "stores": _places(Place.objects.filter(kind=PlaceKind.STORE, is_ours=True)),
        "rooms": _places(_rooms(listed)),
    }


def _places(places: Iterable[Place]) -> list[Row]:
    return [{"place": place_key(place), "words": str(place)} for place in places]


def _rooms(listed: Listed) -> list[Place]:
    """The venues, their rooms, and both ends of each leg: where things are found, and left."""
    ends = {leg.from_place_id for leg, _ in listed.legs} | {leg.to_place_id for leg, _ in listed.legs}
    return list(Place.objects.filter(pk__in=ends) | Place.objects.filter(parent__in=ends, kind=PlaceKind.ROOM))


def _listed(shows: Collection[Show], at: datetime) -> Listed:
    trips = ConsignmentCase.objects.filter(consignment__show__in=shows).select_related("consignment__show")
    cases = {trip.case_id for trip in trips}
    ours = _inside(cases)
    items = Item.objects.in_stock().exclude(type__kind=Kind.VEHICLE)
    known = items.filter(pk__in=ours) | items.filter(type__kind__in=(Kind.CASE, Kind.DRIVE, Kind.PANEL))
    rows = known.select_related("type__container", "home_system", "home_case__inside", "home_set", "inside", "owner")
    found = {item.pk: item for item in rows.prefetch_related("labels", "aliases").distinct()}
    holdings = joblines.holdings_of(ours & found.keys())
    return Listed(*_legs(shows, at), tuple(trips), found, holdings, frozenset(ours))


def _inside(cases: set[int]) -> set[int]:
    """These cases, what belongs in them and what is in them now, at any depth."""
    known = cases | set(Item.objects.filter(home_case__in=cases).values_list("pk", flat=True))
    frontier = known
    for _level in range(DEPTH):
        held = Holding.objects.filter(place__item__in=frontier).values_list("item", flat=True)
        frontier = set(held) - known
        if not frontier:
            break
        known = known | frontier
    return known


def _legs(
    shows: Collection[Show], at: datetime
) -> tuple[tuple[tuple[Leg, Phase], ...], dict[int, tuple[Moment | None, Moment | None]]]:
    rows = Leg.objects.filter(consignment__show__in=shows).select_related(
        "consignment__show", "vehicle__inside", "from_place", "to_place", "road"
    )
    legs = list(rows.order_by("departs_at", "position", "pk"))
    moments = moments_of(legs, at)
    return tuple((leg, phase_at(*moments[leg.pk])) for leg in legs), moments


def _leg(leg: Leg, phase: Phase) -> Row:
    on, off = _loading(leg), step_of(leg, UNLOAD)
    return {
        "pk": leg.pk, "show": leg.consignment.show.code, "mode": leg.mode, "vehicle": str(leg.vehicle or ""),
        "carrier": leg.carrier, "from": str(leg.from_place), "from_place": place_key(leg.from_place),
        "to": str(leg.to_place), "to_place": place_key(leg.to_place), "load_verb": str(on.verb),
        "load_place": place_key(on.place), "unload_verb": str(off.verb), "phase": str(phase),
        "departs_at": leg.departs_at.isoformat() if leg.departs_at else None,
    }  # fmt: skip


def _loading(leg: Leg) -> Step:
    """As step_of says, without asking again for an inside that came with the leg."""
    inside = getattr(leg.vehicle, "inside", None) if leg.vehicle_id else None
    return Step(Verb.LOADED, inside) if inside is not None else step_of(leg, LOAD)


def _cases(listed: Listed, shows: Collection[Show], at: datetime) -> list[Row]:
    """The show's cases in full; of every other case of ours only its number and that it is not on this list."""
    trips: dict[int, list[ConsignmentCase]] = defaultdict(list)
    for trip in listed.trips:
        trips[trip.case_id].append(trip)
    masses, seals = _masses(trips, shows, at), seals_of(trips.keys(), at)
    expected = _expected(listed, trips.keys())
    read = _read_instead(trips.keys() - seals.keys(), at)
    told = {one.item.pk: _stories(one) for one in conflicts(trips.keys(), at)}
    spots = by_case([leg for leg, phase in listed.legs if phase == Phase.LOADING], at)
    person_kg = limits_on(timezone.localdate(at))["lift-band", "person_kg"]
    names = " or ".join(show.code for show in shows)
    rows = []
    for item in sorted(listed.items.values(), key=lambda item: (item.number or "", item.pk)):
        if item.pk in trips:
            case = _case(item, trips[item.pk], listed, masses.get(item.pk), seals.get(item.pk, ""))
            lift = band(masses[item.pk], person_kg).words if item.pk in masses else ""
            case |= {"lift": lift, "expected": expected[item.pk], "others": told.get(item.pk, [])}
            rows.append({**case, "seal_read": read.get(item.pk), "spots": spots.get(item.pk, {})})
        elif item.type.kind == Kind.CASE:
            elsewhere = {"legs": [], "load_place": "nowhere", "leg_words": f"on no vehicle of {names} by the list"}
            rows.append({**_named(item), "number": item.number or "", **elsewhere})
    return rows


def _stories(told: Conflict) -> list[Row]:
    """Two phones, two stories: on what each put it, who and when, the newer first."""
    return [
        {"place": place_key(one.place), "words": f"{one.words} by {one.by} at {clock(one.at)}"}
        for one in (told.newer, told.older)
    ]


def _read_instead(open_cases: Collection[int], at: datetime) -> dict[int, Row]:
    """Of cases that no seal of ours holds: the number that was read on it last, where it was sealed with another."""
    found = {}
    for case, looks in looks_since_sealing(open_cases, at).items():
        other = next((look for look in reversed(looks) if look.differs), None)
        if other:
            day = f"{timezone.localtime(other.at):%-d %b}"
            found[case] = {"was": other.expected, "number": other.found, "by": other.by, "on": day}
    return found


def _masses(trips: Collection[int], shows: Collection[Show], at: datetime) -> dict[int, Decimal]:
    show = next(iter(shows)) if len(shows) == 1 else None
    return {case.id: case.gross_kg for case in cases_of(sorted(trips), at, show) if case.gross_kg is not None}


def _expected(listed: Listed, cases: Collection[int]) -> dict[int, int]:
    counts = dict.fromkeys(cases, 0)
    for item in listed.items.values():
        if item.home_case_id in counts:
            counts[item.home_case_id] += 1
    return counts


def _case(item: Item, trips: list[ConsignmentCase], listed: Listed, mass: Decimal | None, seal: str) -> Row:
    consignments = {trip.consignment_id for trip in trips}
    legs = [(leg, phase) for leg, phase in listed.legs if leg.consignment_id in consignments]
    rides = [leg for leg, phase in legs if phase == Phase.LOADING]
    goes = _ride(rides[0]) if rides else {"load_place": "", "leg_words": ""}
    shell = item.type
    sides = (shell.length_mm, shell.width_mm, shell.height_mm)
    return {
        **_named(item), "number": item.number or "", "name": item.name, "show": trips[0].consignment.show.code,
        "legs": [leg.pk for leg, _ in legs], "leg": rides[0].pk if rides else None, **goes,
        "behind": [leg.pk for leg, phase in legs if _state(item, leg, phase, listed) == State.LEFT_BEHIND],
        "off": [leg.pk for leg, phase in legs if _state(item, leg, phase, listed) == State.LANDED],
        "tape": item.home_system.colour if item.home_system else "", "place": place_key(getattr(item, "inside", None)),
        "kg": float(mass) if mass is not None else None,
        "size": " × ".join(map(str, sides)) + " mm" if all(sides) else "", "room": trips[-1].to_room,
        "first_off": trips[-1].first_off, "seal": seal, **_done(item, listed),
    }  # fmt: skip


def _state(item: Item, leg: Leg, phase: Phase, listed: Listed) -> State:
    """How far the case is on this leg, as the dock has it."""
    departed, arrived = listed.moments[leg.pk]
    row, inside = listed.holdings.get(item.pk), getattr(leg.vehicle, "inside", None)
    on = row is not None and (row.place_id == leg.road_id or (inside is not None and row.place_id == inside.pk))
    put = row.entry.happened_at if row is not None and row.entry else None
    again = on_since(put, arrived[0] if arrived and phase == Phase.ARRIVED else None)
    return state_at(on and not again, put, departed[0] if departed else None)


def _ride(leg: Leg) -> Row:
    """A leg whose vehicle and carrier nobody named is called by how it goes, as on the phone's own list of legs."""
    who = leg.vehicle or leg.carrier
    return {"load_place": place_key(_loading(leg).place), "leg_words": f"on {who}" if who else f"by {leg.mode}"}


def _named(item: Item) -> Row:
    codes = [label.code for label in item.labels.all()]
    return {
        "code": item.code, "codes": codes, "aliases": [alias.number for alias in item.aliases.all()],
        "words": str(item), "system": str(item.home_system or ""),
    }  # fmt: skip


def _done(item: Item, listed: Listed) -> Row:
    line = joblines.line_of(item, listed.holdings.get(item.pk))
    return {"done_place": line.done_place, "done_bay": line.done_bay, "done_at": line.done_at, "done_by": line.done_by}


def _home(item: Item) -> Row:
    inside = getattr(item.home_case, "inside", None) if item.home_case else None
    return {"home": str(item.home_case or ""), "home_place": place_key(inside)}


def _things(listed: Listed) -> Row:
    """Drives and their bays; everything else that belongs to the show or lies in its cases."""
    drives = [item for item in listed.items.values() if item.type.kind == Kind.DRIVE]
    sets = joblines.home_bays(item.pk for item in drives)
    frames = [item for item in listed.items.values() if item.type.kind == Kind.FRAME and item.pk in listed.ours]
    twins, prone = _twins(listed), _prone(listed)
    others = [
        item for item in listed.items.values()
        if item.type.kind not in (Kind.DRIVE, Kind.CASE) and (item.pk in listed.ours or item.pk in twins)
    ]  # fmt: skip
    return {
        "drives": [_drive(item, sets.get(item.pk, ("", "")), listed) for item in drives],
        "bays": _bays(frames, drives, sets),
        "items": [_item(item, item.pk in twins, item.pk in prone, listed) for item in others],
    }


def _drive(item: Item, joined: tuple[str, str], listed: Listed) -> Row:
    name, bay = joined
    serial = item.serial if item.pk in listed.ours else ""
    return {**_named(item), "serial": serial, "set": name or "", "bay": bay, **_home(item), **_done(item, listed)}


def _item(item: Item, twin: bool, prone: bool, listed: Listed) -> Row:
    hired = "" if item.owner.is_ours else f", hired from {item.owner}"
    return {
        **_named(item), "words": f"{item.number or item.called}{hired}", "number": item.number or "",
        "serial": item.serial, "twin": twin, "runaway": prone, "lot": item.type.is_lot, "quantity": item.quantity,
        **_home(item), **_done(item, listed),
    }  # fmt: skip


def _twins(listed: Listed) -> set[int]:
    """Panels and other told-apart things of which two systems on the list have one each."""
    systems: dict[int, set[int]] = defaultdict(set)
    for item in listed.items.values():
        if item.home_system_id and item.serial and item.type.kind not in (Kind.DRIVE, Kind.CASE):
            systems[item.type_id].add(item.home_system_id)
    return {
        item.pk for item in listed.items.values()
        if len(systems[item.type_id]) > 1 and item.home_system_id and item.serial
    }  # fmt: skip


def _prone(listed: Listed) -> set[int]:
    """What some system marks as easily left behind."""
    parts = SystemPart.objects.filter(left_behind_prone=True).values_list("item", "type", "system")
    exact = {item for item, _, _ in parts if item}
    kinds = {(type_, system) for _, type_, system in parts if type_}
    mine = (item for item in listed.items.values() if item.pk in listed.ours)
    return {item.pk for item in mine if item.pk in exact or (item.type_id, item.home_system_id) in kinds}


def _bays(frames: list[Item], drives: list[Item], sets: Mapping[int, tuple[str, str]]) -> list[Row]:
    """The bays of each frame in their real order, and which drives are due in each."""
    containers = {item.pk: item for item in _with_bays(frames)}
    places = [item.inside for item in containers.values() if getattr(item, "inside", None)]
    at_home = joblines.sets_at_home(places)
    due: dict[tuple[str, str], list[Item]] = defaultdict(list)
    for drive in drives:
        due[sets.get(drive.pk, ("", ""))].append(drive)
    return [
        _bay(item, slot.label, at_home.get(item.inside.pk, ()), due)
        for item in containers.values()
        for slot in item.type.container.compartments.all()
        if slot.kind == slot.CompartmentKind.BAY
    ]


def _with_bays(frames: list[Item]) -> Iterable[Item]:
    rows = Item.objects.filter(pk__in=[frame.pk for frame in frames], type__container__isnull=False)
    rows = rows.select_related("type__container", "home_system", "inside__item__type")
    return rows.prefetch_related("labels", "aliases", "type__container__compartments").order_by("pk")


def _bay(frame: Item, label: str, names: tuple[str, ...], due: Mapping[tuple[str, str], list[Item]]) -> Row:
    wanted = [drive for name in names for drive in due.get((name, label), ())]
    boxes = [drive.home_case for drive in wanted if drive.home_case and getattr(drive.home_case, "inside", None)]
    box = boxes[0] if boxes else None
    return {
        **_named(frame), "words": place_words(frame.inside), "place": place_key(frame.inside), "bay": label,
        "sets": list(names), "expects": [drive.code for drive in wanted],
        "box": place_key(box.inside) if box else "", "box_words": str(box or ""),
    }  # fmt: skip
