"""What goes to a show: by system, then case, then thing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.papers import Draft, Form, moment
from shipping.documents.around import Around, of_each
from shipping.documents.stowage import Stowed, hired_from, tail_of
from shipping.models import ConsignmentCase, Show

FORM = Form("packing-list", "show packing list", "show", ("a4", "letter"))


@dataclass(frozen=True, slots=True)
class PackedThing:
    key: str
    words: str
    code: str
    serial_tail: str
    quantity: int
    owner: str
    connector: str
    software: str
    show_file: str
    show_stopper: bool
    spare: bool
    remark: str
    sure: str


@dataclass(frozen=True, slots=True)
class PackedCase:
    key: str
    label: str
    name: str
    n_of_n: str
    room: str
    gross: str
    seal: str
    things: tuple[PackedThing, ...]


@dataclass(frozen=True, slots=True)
class PackedSystem:
    key: str
    label: str
    colour: str
    cases: tuple[PackedCase, ...]


@dataclass(frozen=True, slots=True)
class PackingList:
    show: str
    code: str
    venue: str
    when: str
    systems: tuple[PackedSystem, ...]
    cases: int
    pieces: int


def _thing(row: Stowed, around: Around) -> PackedThing:
    item = row.item
    part = around.part(item)
    remark = "not in it yet" if not row.here else "fitted" if row.depth else "" if row.expected else "not its case"
    return PackedThing(
        key=str(item.id), words=item.name or str(item.type), code=item.code,
        serial_tail=tail_of(item), quantity=item.quantity, owner=hired_from(item) or "ours",
        connector=item.type.connector, software=around.software(item), show_file=around.show_file(item),
        show_stopper=bool(part and part.show_stopper), spare=bool(part and part.necessity == "spare"), remark=remark,
        sure=around.evidence.sure(item),
    )  # fmt: skip


def _case(trip: ConsignmentCase, rows: Sequence[Stowed], around: Around) -> PackedCase:
    case = trip.case
    things = sorted((_thing(row, around) for row in rows), key=lambda thing: (not thing.show_stopper, thing.spare))
    n_of_n = f"{trip.position} of {around.size_of(trip.consignment_id)}"
    gross = around.gross(case, rows).words
    return PackedCase(str(trip.id), str(case), case.name, n_of_n, trip.to_room, gross, around.seal(case), tuple(things))


def build(show: Show, medium: str, around: Around) -> Draft:
    """Show-stoppers stand first in each case, spares last; hired things name their owner."""
    trips = around.trips(show)
    rows = [around.rows(trip.case, show) for trip in trips]
    by_system: dict[str, list[PackedCase]] = {}
    colours: dict[str, str] = {}
    for trip, held in zip(trips, rows, strict=True):
        system = trip.case.home_system
        name = system.name if system else "Pool"
        colours[name] = system.colour if system else ""
        by_system.setdefault(name, []).append(_case(trip, held, around))
    systems = tuple(PackedSystem(name, name, colours[name], tuple(by_system[name])) for name in sorted(by_system))
    when = f"{moment(show.leaves_at)} to {moment(show.back_at)}"
    venue = str(show.venue or "venue not known")
    body = PackingList(show.name, show.code, venue, when, systems, len({t.case_id for t in trips}), of_each(rows))
    return Draft(FORM, medium, show.code, f"Packing list {show.name}", body, show.code)
