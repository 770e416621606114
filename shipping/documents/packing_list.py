"""What goes to a show: by system, then case, then thing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from inventory.models import Item, SystemPart
from inventory.papers import Draft, Form, moment
from shipping.documents.case_label import mass_words
from shipping.documents.stowage import Stowed, code_of, computed_kg, hired_from, stowed, tail_of
from shipping.models import ConsignmentCase, Show

FORM = Form("packing-list", "show packing list", "show", ("a4", "letter"))


Parts = dict[tuple[str, int], SystemPart]


@dataclass(frozen=True, slots=True)
class PackedThing:
    key: str
    words: str
    code: str
    serial_tail: str
    quantity: int
    owner: str
    connector: str
    show_stopper: bool
    spare: bool
    remark: str


@dataclass(frozen=True, slots=True)
class PackedCase:
    key: str
    label: str
    name: str
    n_of_n: str
    room: str
    gross: str
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


def travelling(show: Show) -> list[ConsignmentCase]:
    """The cases of a show, consignment by consignment."""
    return list(
        ConsignmentCase.objects.filter(consignment__show=show)
        .select_related("consignment", "case__type__container", "case__home_system", "case__owner")
        .prefetch_related("case__labels")
        .order_by("consignment_id", "position")
    )


def _parts() -> Parts:
    """Each system part by the exact item or the type it names."""
    parts = SystemPart.objects.all()
    return {("item", p.item_id) if p.item_id else ("type", p.type_id): p for p in parts}


def _thing(row: Stowed, parts: Parts) -> PackedThing:
    item = row.item
    part = parts.get(("item", item.id)) or parts.get(("type", item.type_id))
    remark = "not in it yet" if not row.here else "fitted" if row.depth else "" if row.expected else "not its case"
    return PackedThing(
        key=str(item.id), words=item.name or str(item.type), code=code_of(item),
        serial_tail=tail_of(item), quantity=item.quantity, owner=hired_from(item) or "ours",
        connector=item.type.connector, show_stopper=bool(part and part.show_stopper),
        spare=bool(part and part.necessity == "spare"), remark=remark,
    )  # fmt: skip


def _case(trip: ConsignmentCase, rows: Sequence[Stowed], of: int, parts: Parts) -> PackedCase:
    case: Item = trip.case
    things = sorted((_thing(row, parts) for row in rows), key=lambda thing: (not thing.show_stopper, thing.spare))
    return PackedCase(
        str(case.id), str(case), case.name, f"{trip.position} of {of}", trip.to_room,
        mass_words(computed_kg(case, rows)), tuple(things),
    )  # fmt: skip


def build(show: Show, medium: str, at: datetime) -> Draft:
    """Show-stoppers stand first in each case, spares last; hired things name their owner."""
    trips, parts = travelling(show), _parts()
    rows = stowed([trip.case for trip in trips], show)
    counts: dict[int, int] = {}
    for trip in trips:
        counts[trip.consignment_id] = counts.get(trip.consignment_id, 0) + 1
    by_system: dict[str, list[PackedCase]] = {}
    colours: dict[str, str] = {}
    for trip in trips:
        system = trip.case.home_system
        name = system.name if system else "Pool"
        colours[name] = system.colour if system else ""
        by_system.setdefault(name, []).append(_case(trip, rows[trip.case_id], counts[trip.consignment_id], parts))
    systems = tuple(PackedSystem(name, name, colours[name], tuple(by_system[name])) for name in sorted(by_system))
    body = PackingList(
        show.name, show.code, str(show.venue or "venue not known"),
        f"{moment(show.leaves_at)} to {moment(show.back_at)}",
        systems, len(trips), sum(row.item.quantity for case in rows.values() for row in case),
    )  # fmt: skip
    return Draft(FORM, medium, show.code, f"Packing list {show.name}", body, show.code)
