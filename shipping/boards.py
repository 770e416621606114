"""One leg as the dock sees it: what is still to go on, what is on, what has landed. Reads only."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from uuid import UUID

from django.utils import timezone
from django.utils.safestring import SafeString

from inventory.answers.loading import live
from inventory.drawings.face import CaseFace, case_face
from inventory.joblines import place_words
from inventory.models import Entry, Holding, Item, Kind, Verb
from inventory.prepared import Asked, Prepared
from shipping.models import ConsignmentCase, Leg
from shipping.packing.floor.telling import spot_words
from shipping.packing.lifting import PERSON_KG, Band, band


class State(StrEnum):
    TO_GO = "to go"
    ON = "on"
    LANDED = "landed"
    LEFT_BEHIND = "left behind"


Moment = tuple[datetime, UUID]
Masses = dict[int, tuple[Decimal | None, bool]]
Weigh = Callable[[Iterable[int], datetime, Leg], Masses]


class Phase(StrEnum):
    LOADING = "loading"
    ON_THE_ROAD = "on the road"
    ARRIVED = "arrived"


@dataclass(frozen=True, slots=True)
class Face:
    """One case as somebody on the dock looks for it. `by` and `at` are of its newest placing.

    `person_kg` is the mass one person is assumed to take, as set for the day.
    """

    item: Item
    code: str
    state: State
    where: str
    by: str = ""
    at: datetime | None = None
    to_room: str = ""
    first_off: bool = False
    listed: bool = True
    mass_kg: Decimal | None = None
    mass_is_floor: bool = False
    photo: str = ""
    person_kg: Decimal = PERSON_KG
    spot: str = ""  # where the accepted floor plan has it: row.place.tier

    @property
    def spot_words(self) -> str:
        return spot_words(self.spot) if self.spot else ""

    @property
    def picture(self) -> SafeString:
        shell = self.item.type
        return case_face(CaseFace(str(self.item), shell.length_mm, shell.height_mm, self.colour))

    @property
    def colour(self) -> str:
        return self.item.home_system.colour if self.item.home_system else ""

    @property
    def kind(self) -> str:
        return self.item.name or str(self.item.type)

    @property
    def size(self) -> str:
        shell = self.item.type
        sides = (shell.length_mm, shell.width_mm, shell.height_mm)
        return " × ".join(str(side) for side in sides) + " mm" if all(sides) else "size not known"

    @property
    def lift(self) -> Band:
        return band(None if self.mass_is_floor else self.mass_kg, self.person_kg)


@dataclass(frozen=True, slots=True)
class Board:
    """`share` of the payload is planned with, as set for the day, before the crew's own mass."""

    leg: Leg
    phase: Phase
    faces: tuple[Face, ...]
    share: Decimal
    departed: Entry | None = None
    arrived: Entry | None = None

    def of(self, *states: State) -> list[Face]:
        return [face for face in self.faces if face.state in states]

    @property
    def listed(self) -> list[Face]:
        return [face for face in self.faces if face.listed]

    @property
    def to_go(self) -> list[Face]:
        return [face for face in self.of(State.TO_GO) if face.listed]

    @property
    def on(self) -> list[Face]:
        return self.of(State.ON)

    @property
    def landed(self) -> list[Face]:
        return self.of(State.LANDED)

    @property
    def owed(self) -> list[Face]:
        """What left and has not been counted off."""
        return [face for face in self.on if face.listed]

    @property
    def behind(self) -> list[Face]:
        """Listed, and never scanned on before it left."""
        return [face for face in self.of(State.LEFT_BEHIND) if face.listed]

    @property
    def sent(self) -> list[Face]:
        return [face for face in self.listed if face.state != State.LEFT_BEHIND]

    @property
    def strangers(self) -> list[Face]:
        return [face for face in self.faces if not face.listed]

    @property
    def on_kg(self) -> Decimal:
        return sum((face.mass_kg or Decimal(0) for face in self.on), Decimal(0))

    @property
    def unweighed(self) -> list[Face]:
        return [face for face in self.on if face.mass_kg is None or face.mass_is_floor]

    @property
    def payload_kg(self) -> Decimal | None:
        vehicle = self.leg.vehicle
        container = getattr(vehicle.type, "container", None) if vehicle else None
        return container.payload_kg if container else None

    @property
    def limit_kg(self) -> Decimal | None:
        return None if self.payload_kg is None else self.payload_kg * self.share

    @property
    def share_words(self) -> str:
        return f"{(self.share * 100).normalize():f} %"

    @property
    def is_over(self) -> bool:
        return self.limit_kg is not None and self.on_kg > self.limit_kg


def legs() -> object:
    """Legs with all that a board's words need."""
    return Leg.objects.select_related(
        "consignment__show__venue", "vehicle__type__container", "vehicle__inside", "from_place", "to_place", "road"
    )


def board(leg: Leg, at: datetime, weigh: Weigh | None = None) -> Board:
    """The leg by present knowledge; a constant number of queries however many cases it has.

    Weighing is most of the work: who asks every second gives a `weigh` that remembers.
    """
    from shipping.planning.wholes import limits_on

    phase, departed, arrived = journey_of(leg, at)
    limits = limits_on(departure_day(leg, departed.happened_at if departed else None, at))
    lines = list(leg.consignment.cases.select_related(*_face_words("case")).prefetch_related("case__labels"))
    holdings = _holdings({line.case_id for line in lines} | _aboard(leg))
    masses = (weigh or masses_of)(holdings.keys() | {line.case_id for line in lines}, at, leg)
    known = {line.case_id for line in lines}
    faces = [_face(line.case, line, holdings.get(line.case_id), leg, (departed, arrived), masses) for line in lines]
    others = _strangers(leg, {pk for pk in holdings if pk not in known})
    faces += [_face(item, None, holdings.get(item.pk), leg, (departed, arrived), masses) for item in others]
    faces = [replace(face, person_kg=limits["lift-band", "person_kg"]) for face in faces]
    share = limits["within-payload", "share"]
    return Board(leg=leg, phase=phase, faces=tuple(faces), share=share, departed=departed, arrived=arrived)


def with_photos(found: Board, at: datetime) -> Board:
    """The same board with each case's newest picture."""
    pictures = photos_of([face.item for face in found.faces], at)
    return replace(found, faces=tuple(replace(face, photo=pictures.get(face.item.pk, "")) for face in found.faces))


def photos_of(cases: Iterable[Item], at: datetime) -> dict[int, str]:
    """The newest picture of each case, by its key; a fault's picture shows the fault and not the case."""
    rows = live(at).filter(label__item__in=[case.pk for case in cases], photo__isnull=False)
    rows = rows.exclude(verb=Verb.FAULTED).order_by("happened_at", "id")
    return dict(rows.values_list("label__item_id", "photo_id"))


def phase_of(leg: Leg, at: datetime) -> Phase:
    return phases_of([leg], at)[leg.pk]


def phases_of(legs: Collection[Leg], at: datetime) -> dict[int, Phase]:
    """How far each of these legs is, by its key, in two queries."""
    return {leg: phase_at(*moments) for leg, moments in moments_of(legs, at).items()}


# Asked by every page that tells of legs: put together once.
MOVES = Prepared(
    lambda codes, at: live(at).filter(verb__in=(Verb.DEPARTED, Verb.ARRIVED), reference__in=codes)
    .order_by("happened_at", "id")
    .values_list("verb", "place_id", "reference", "label__item_id", "happened_at", "id"),
    codes=Asked.TEXTS, at=Asked.MOMENT,
)  # fmt: skip
LISTED = Prepared(
    lambda consignments: ConsignmentCase.objects.filter(consignment__in=consignments).order_by()
    .values_list("consignment_id", "case_id"),
    consignments=Asked.IDS,
)  # fmt: skip


def moments_of(legs: Collection[Leg], at: datetime) -> dict[int, tuple[Moment | None, Moment | None]]:
    """When each of these legs last departed and arrived, by its key, in two queries."""
    told = MOVES(codes={leg.consignment.show.code for leg in legs}, at=at)
    lists: dict[int, set[int]] = defaultdict(set)
    for consignment, case in LISTED(consignments={leg.consignment_id for leg in legs if not leg.vehicle_id}):
        lists[consignment].add(case)
    found = {}
    for leg in legs:
        who = {leg.vehicle_id} if leg.vehicle_id else lists[leg.consignment_id]
        code = leg.consignment.show.code
        mine = {(verb, place): (when, pk) for verb, place, show, item, when, pk in told if show == code and item in who}
        found[leg.pk] = mine.get((Verb.DEPARTED, leg.road_id)), mine.get((Verb.ARRIVED, leg.to_place_id))
    return found


def phase_at(departed: Moment | None, arrived: Moment | None) -> Phase:
    if departed is None:
        return Phase.LOADING
    return Phase.ARRIVED if arrived is not None and arrived > departed else Phase.ON_THE_ROAD


def journey_of(leg: Leg, at: datetime) -> tuple[Phase, Entry | None, Entry | None]:
    """How far the leg is, with its departure and its arrival."""
    departed, arrived = _newest(leg, Verb.DEPARTED, at), _newest(leg, Verb.ARRIVED, at)
    moments = [(one.happened_at, one.pk) if one else None for one in (departed, arrived)]
    phase = phase_at(*moments)
    return phase, departed, None if phase == Phase.ON_THE_ROAD else arrived


def departure_day(leg: Leg, departed: datetime | None, at: datetime) -> date:
    """The day whose limits a leg is judged by: when it left, else when it is to leave, or today if it is late."""
    if departed is not None:
        return _day(departed)
    return max(_day(leg.departs_at), _day(at)) if leg.departs_at else _day(at)


def _day(moment: datetime) -> date:
    return timezone.localdate(moment, timezone.get_default_timezone())


def is_on(row: Holding | None, leg: Leg) -> bool:
    """Is it on the leg's vehicle, or by waybill on its way?"""
    place = row.place if row else None
    if place is None:
        return False
    return place.pk == leg.road_id or (leg.vehicle_id is not None and place.item_id == leg.vehicle_id)


def _newest(leg: Leg, verb: str, at: datetime) -> Entry | None:
    """The leg's newest departure, or its newest arrival; by waybill any of its cases stands for all."""
    entries = live(at).filter(verb=verb, reference=leg.consignment.show.code)
    entries = entries.filter(place=leg.road if verb == Verb.DEPARTED else leg.to_place)
    if leg.vehicle_id:
        entries = entries.filter(label__item=leg.vehicle_id)
    else:
        entries = entries.filter(label__item__consignments__consignment=leg.consignment_id)
    return entries.order_by("-happened_at", "-id").first()


def _face_words(prefix: str) -> tuple[str, ...]:
    return (f"{prefix}__type__container", f"{prefix}__home_system", f"{prefix}__inside")


def _aboard(leg: Leg) -> set[int]:
    """Cases and other containers on the vehicle, listed or not."""
    if not leg.vehicle_id:
        return set()
    rows = Holding.objects.filter(place__item=leg.vehicle_id, item__type__container__isnull=False)
    return set(rows.exclude(item__type__kind=Kind.VEHICLE).values_list("item_id", flat=True))


def _holdings(items: Iterable[int]) -> dict[int, Holding]:
    rows = Holding.objects.filter(item__in=items).select_related("entry", "place__item__type")
    return {row.item_id: row for row in rows}


def _strangers(leg: Leg, ids: set[int]) -> list[Item]:
    """What stands on the vehicle and is on no list of a leg that shares the ride."""
    if not ids:
        return []
    shared = ConsignmentCase.objects.filter(
        consignment__legs__vehicle=leg.vehicle_id, consignment__legs__from_place=leg.from_place_id, case__in=ids
    ).values_list("case_id", flat=True)
    items = Item.objects.filter(pk__in=ids - set(shared)).select_related("type__container", "home_system", "inside")
    return list(items.prefetch_related("labels").order_by("number", "pk"))


def _face(
    item: Item,
    line: ConsignmentCase | None,
    row: Holding | None,
    leg: Leg,
    journey: tuple[Entry | None, Entry | None],
    masses: dict[int, tuple[Decimal | None, bool]],
) -> Face:
    mass, floor = masses.get(item.pk, (None, False))
    entry = row.entry if row else None
    return Face(
        item=item, code=item.code, state=_state(row, leg, *journey), where=_where(row),
        by=entry.by if entry else "", at=entry.happened_at if entry else None,
        to_room=line.to_room if line else "", first_off=bool(line and line.first_off), listed=line is not None,
        mass_kg=mass, mass_is_floor=floor,
    )  # fmt: skip


def _state(row: Holding | None, leg: Leg, departed: Entry | None, arrived: Entry | None) -> State:
    put = row.entry.happened_at if row is not None and row.entry is not None else None
    on = is_on(row, leg) and not on_since(put, arrived.happened_at if arrived else None)
    return state_at(on, put, departed.happened_at if departed else None)


def on_since(put: datetime | None, arrived: datetime | None) -> bool:
    """Put on after the leg had arrived: it came off meanwhile, and goes with what the vehicle does next."""
    return put is not None and arrived is not None and put > arrived


def state_at(on: bool, put: datetime | None, departed: datetime | None) -> State:
    """How far a case is that is on the leg's vehicle or not, `put` where it is then, of a leg that left then."""
    if on:
        return State.ON
    if departed is None:
        return State.TO_GO
    return State.LANDED if put is not None and put > departed else State.LEFT_BEHIND


def _where(row: Holding | None) -> str:
    if row is None or row.place is None:
        return "never placed"
    words = place_words(row.place)
    if row.place.item is None:
        return words
    return f"on {words}" if row.place.item.type.kind == Kind.VEHICLE else f"in {words}"


def masses_of(ids: Iterable[int], at: datetime, leg: Leg) -> Masses:
    """Gross mass of each case, and whether it is only a floor because something in it has no mass entered."""
    from shipping.planning.cases import cases_of

    found = {}
    for case in cases_of(sorted(ids), at, leg.consignment.show):
        gross = case.gross_kg
        found[case.id] = (gross if gross is not None else case.known_kg or None, gross is None)
    return found
