"""Where each case stands on the vehicle of a leg: what is to go on, the plan of it, and the plan as it was kept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.utils.safestring import SafeString

from inventory.drawings.floor import Floor, FloorAxle, FloorCase, floor_lines, floor_plan
from inventory.models import Axle as Row
from inventory.models import Item
from inventory.papers import moment
from shipping.documents.around import Around
from shipping.models import ConsignmentCase, Leg
from shipping.packing.floor.axles import Stage
from shipping.packing.floor.deck import Axle, Cargo, Deck, FloorPlan, Freight
from shipping.packing.floor.kept import digest_of, plan_of
from shipping.packing.floor.lists import axle_words
from shipping.packing.floor.restraint import CAUTION, lashing_words
from shipping.packing.floor.telling import metres, offset_words, stages_of
from shipping.packing.rules.vehicles import plannable_kg
from shipping.planning.drive import DeckQuestion

Limits = Mapping[tuple[str, str], Decimal]


PLAIN = DeckQuestion()


class NoDeck(ValueError):
    """The leg has no deck that could be planned. Carries a sentence that says what to do."""


class NoPlan(ValueError):
    """The search found no plan that passed the check, and nothing was kept. Carries a sentence to show."""


def together(leg: Leg, around: Around) -> list[Leg]:
    """The legs of one drive of one vehicle, in the order of their stops; a leg without a vehicle goes alone."""
    if leg.vehicle_id is None:
        return [leg]
    same = [
        one for one in around.legs(leg.consignment.show_id)
        if (one.vehicle_id, one.from_place_id) == (leg.vehicle_id, leg.from_place_id)
        and _day(one) == _day(leg)
    ]  # fmt: skip
    return sorted(same, key=lambda one: (one.arrives_at is None, one.arrives_at or one.pk, one.pk)) or [leg]


def _day(leg: Leg) -> str:
    return f"{leg.departs_at:%Y-%m-%d}" if leg.departs_at else ""


def stops_of(legs: Sequence[Leg]) -> list[str]:
    """Where the vehicle stops, in order."""
    return list(dict.fromkeys(str(leg.to_place) for leg in legs))


def freight_of(legs: Sequence[Leg], around: Around, question: DeckQuestion = PLAIN) -> Freight:
    """All that rides together, as the planner reads it: outer sizes, gross masses, stops. Raises NoDeck."""
    stops, show = question.ordered(stops_of(legs)), legs[0].consignment.show
    deck = _deck(_vehicle(legs[0], question), stops, around.limits_for(legs[0]))
    by_consignment = {leg.consignment_id: leg for leg in legs}
    found: dict[int, Cargo] = {}
    for trip in around.trips(show):
        if (leg := by_consignment.get(trip.consignment_id)) and trip.case_id not in question.stay:
            kg = around.gross(trip.case, around.rows(trip.case, show)).kg
            found.setdefault(trip.case_id, _cargo(trip, stops.index(str(leg.to_place)) + 1, kg))
    if not found:
        raise NoDeck("No case is in this consignment yet: add cases on the show's page, then plan the floor.")
    return Freight(deck, tuple(found.values()))


def cases_of(legs: Sequence[Leg], around: Around) -> dict[str, int]:
    """Every case that rides with these legs, by its number."""
    mine = {leg.consignment_id for leg in legs}
    trips = around.trips(legs[0].consignment.show)
    return {str(trip.case): trip.case_id for trip in trips if trip.consignment_id in mine}


def _vehicle(leg: Leg, question: DeckQuestion) -> Item | None:
    if question.vehicle is None:
        return leg.vehicle
    rows = Item.objects.select_related("type__container").prefetch_related("type__container__axles")
    return rows.filter(pk=question.vehicle).first()


def _deck(vehicle: Item | None, stops: Sequence[str], limits: Limits) -> Deck:
    if vehicle is None:
        raise NoDeck("This leg has no vehicle of ours, so there is no deck to plan. Name a vehicle on the leg.")
    held = getattr(vehicle.type, "container", None)
    size = held and (held.inner_length_mm, held.inner_width_mm, held.inner_height_mm)
    if held is None or not size or None in size:
        raise NoDeck(
            f"Nobody has entered how long, wide and high the deck of {vehicle} is inside. Enter it, then plan."
        )
    return Deck(
        id=str(vehicle.pk), name=str(vehicle), size_mm=size, payload_g=_payload_g(held.payload_kg, limits),
        door_mm=(held.door_width_mm, held.door_height_mm) if held.door_width_mm and held.door_height_mm else None,
        axles=_axles(list(held.axles.all())), stops=tuple(stops),
        floor_first=True,
    )  # fmt: skip


def _axles(rows: Sequence[Row]) -> tuple[Axle, ...]:
    """From front to back; two have names, more have numbers."""
    names = ["front axle", "rear axle"] if len(rows) == 2 else [f"axle {number}" for number in range(1, len(rows) + 1)]
    return tuple(
        Axle(name, one.behind_headboard_mm, _grams(one.limit_kg), _grams(one.empty_kg))
        for name, one in zip(names, rows, strict=True)
    )


def _grams(kg: int | None) -> int | None:
    return None if kg is None else kg * 1000


def _payload_g(payload_kg: Decimal | None, limits: Limits) -> int | None:
    """What may be planned for by the limits in force: the share of the entered payload, less the crew."""
    return None if payload_kg is None else int(plannable_kg(payload_kg, limits) * 1000)


def _cargo(trip: ConsignmentCase, stop: int, kg: Decimal | None) -> Cargo:
    shell = trip.case.type
    length, width, height = shell.length_mm, shell.width_mm, shell.height_mm
    size = None if length is None or width is None or height is None else (length, width, height)
    on_top = shell.max_on_top_kg
    return Cargo(
        id=str(trip.case_id), name=str(trip.case), size_mm=size, mass_g=None if kg is None else int(kg * 1000),
        stop=stop, first_off=trip.first_off, on_top_g=None if on_top is None else int(on_top * 1000),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Drawn:
    """An accepted plan for paper: the drawing, the planned place of each case by its key, and what to mind, a sentence
    or two each. Stale: only words."""

    words: str
    floor: Floor | None = None
    places: tuple[tuple[int, str], ...] = ()
    advice: tuple[str, ...] = ()

    @property
    def drawing(self) -> SafeString | str:
        return floor_plan(self.floor) if self.floor else ""

    @property
    def below(self) -> list[str]:
        return floor_lines(self.floor) if self.floor else []


def drawn_for(legs: Sequence[Leg], around: Around) -> Drawn | None:
    """The plan that somebody had made for this drive of the vehicle; None if nobody has."""
    kept = around.deck_plan(legs)
    if kept is None:
        return None
    made = f"{moment(kept.made_at)} by {kept.made_by}"
    try:
        freight = freight_of(legs, around)
    except NoDeck as why:
        return Drawn(str(why))
    if digest_of(freight) != kept.input_digest:
        return Drawn(f"A floor plan was made {made}; cases, masses or limits have changed since. Plan the floor again.")
    plan = plan_of(kept.plan)
    places = tuple((int(one.cargo), one.label) for one in plan.spots)
    left = "".join(f" {freight.by_id[one.gear].name} stays behind: {one.reason}" for one in plan.left)
    mass = sum(freight.by_id[one.cargo].mass_g or 0 for one in plan.spots)
    advice = (*plan.notes, *([lashing_words(mass), CAUTION] if mass else []))
    return Drawn(f"Planned {made}. {plan.words}{left}", floor_of(freight, plan), places, advice)


def floor_of(freight: Freight, plan: FloorPlan) -> Floor:
    """The plan as it is drawn, on page and paper."""
    return Floor(
        freight.deck.name, freight.deck.size_mm, tuple(
            FloorCase(
                freight.by_id[one.cargo].name, one.at_mm, one.size_mm, one.row, one.place, one.tier,
                freight.by_id[one.cargo].stop, freight.by_id[one.cargo].first_off, one.cargo,
            )
            for one in plan.spots
        ),
        tuple(FloorAxle(*one) for one in axle_words(freight, plan)),
        freight.deck.stops if len(freight.deck.stops) > 1 else (),
        (_used_words(freight, plan),),
    )  # fmt: skip


def _used_words(freight: Freight, plan: FloorPlan) -> str:
    deck = freight.deck
    stages = stages_of(freight, plan)
    middle = f"; the load's middle is {_where(stages[0])}" if stages else ""
    return f"{plan.used_mm:,} mm of {deck.length_mm:,} mm, {metres(plan):g} loading metres{middle}."


def _where(stage: Stage) -> str:
    return "in the middle of the deck" if not stage.offset_mm else offset_words(stage.offset_mm)
