"""Where each case is to stand on the deck: by the floor plan that a person accepted, while it is still of this load."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import replace
from datetime import datetime

from inventory.unchanged import kept
from shipping.boards import Board
from shipping.decks import Drawn, drawn_for, together
from shipping.documents.around import Around
from shipping.models import DeckAcceptance, Leg
from shipping.packing.floor.telling import spot_words

LAST = (999,)  # what has no place by the plan stands after all that has


def drawn_of(leg: Leg, at: datetime) -> Drawn | None:
    """The accepted plan of the drive that this leg is of, as it is drawn; None if nobody has accepted one."""
    around = Around([leg], at)
    return drawn_for(together(leg, around), around)


def spots_of(legs: Collection[Leg], at: datetime) -> dict[int, dict[int, str]]:
    """By leg, by case: "3.2.1". Legs without an accepted plan, or with one of another load, are left out."""
    shows = {leg.consignment.show_id for leg in legs}
    accepted = DeckAcceptance.objects.filter(plan__leg__consignment__show__in=shows)
    planned = set(accepted.order_by().values_list("plan__leg__consignment__show", flat=True).distinct())
    found = {leg.pk: _spots(leg, at) for leg in legs if leg.vehicle_id and leg.consignment.show_id in planned}
    return {leg: spots for leg, spots in found.items() if spots}


def _spots(leg: Leg, at: datetime) -> dict[int, str]:
    def made() -> dict[int, str]:
        drawn = drawn_of(leg, at)
        return dict(drawn.places) if drawn else {}

    return kept(("spots", leg.pk), at, made)


def by_case(legs: Collection[Leg], at: datetime) -> dict[int, dict[str, str]]:
    """By case, by leg: "row 3, place 2", as a phone takes it along."""
    found: dict[int, dict[str, str]] = defaultdict(dict)
    for leg, spots in spots_of(legs, at).items():
        for case, spot in spots.items():
            found[case][str(leg)] = spot_words(spot)
    return found


def with_spots(board: Board, at: datetime) -> Board:
    """The same board in the order of loading: rows from the headboard, each from the left, from the deck up."""
    spots = spots_of([board.leg], at).get(board.leg.pk, {})
    faces = [replace(face, spot=spots.get(face.item.pk, "")) for face in board.faces]
    return replace(board, faces=tuple(sorted(faces, key=lambda face: _turn(face.spot)))) if spots else board


def _turn(spot: str) -> tuple[int, ...]:
    return tuple(map(int, spot.split("."))) if spot else LAST
