"""The final walk of the empty room: where to look, and what this show's systems leave behind."""

from __future__ import annotations

from dataclasses import dataclass

from inventory.papers import Draft, Form, moment
from shipping.documents.around import Around
from shipping.documents.return_checklist import runs_away
from shipping.models import Show

FORM = Form("last-look", "last-look sheet", "show", ("a5", "a4", "letter"))
# Where things are found afterwards (common practice).
SPOTS = (
    "back of every rack", "under desks and tables", "wall sockets and floor boxes", "lectern and stage edge",
    "store of empties", "dock and ramp", "floor of the vehicle",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Runaway:
    key: str
    words: str
    case: str


@dataclass(frozen=True, slots=True)
class LastLook:
    show: str
    code: str
    venue: str
    ends: str
    rooms: tuple[str, ...]
    spots: tuple[str, ...]
    runaways: tuple[Runaway, ...]


def build(show: Show, medium: str, around: Around) -> Draft:
    trips = around.trips(show)
    runaways = tuple(
        Runaway(str(row.item.id), row.item.name or str(row.item.type), str(trip.case))
        for trip in trips
        for row in around.rows(trip.case, show)
        if runs_away(row, around)
    )
    rooms = tuple(sorted({trip.to_room for trip in trips if trip.to_room}))
    body = LastLook(
        show.name, show.code, str(show.venue or ""), moment(show.ends_at), rooms or ("every room",), SPOTS, runaways
    )
    return Draft(FORM, medium, show.code, f"Last look {show.name}", body, show.code)
