"""What lies in each case, at any depth, as the rules read it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.db.models import F, Q, prefetch_related_objects
from django.utils import timezone

from inventory.models import Holding, Item, ItemType, Kind, PlaceKind
from shipping.models import PackLine, Show
from shipping.packing.facts import Expected, Piece
from shipping.planning.put import put

DEPTH = 4  # case, frame, what is fitted in it, and one to spare
WITH_TYPE = "item__type__container__compartments"  # table after table: hundreds of things share dozens of these rows


@dataclass(slots=True)
class Held:
    """Every holding inside these cases: `case_of` item id to case id, `within` item id to the thing it is fitted in."""

    rows: list[Holding] = field(default_factory=list)
    case_of: dict[int, int] = field(default_factory=dict)
    within: dict[int, int] = field(default_factory=dict)
    insides: dict[int, int] = field(default_factory=dict)


def held_by(case_ids: Collection[int]) -> Held:
    """Walk inward from the cases, one query for each depth, then one for each table of what was found."""
    held = Held()
    roots = {ident: ident for ident in case_ids}
    for depth in range(DEPTH):
        rows = [row for row in _straight_in(roots) if _new(row, held)]
        for row in rows:
            held.rows.append(row)
            held.case_of[row.item_id] = roots[row.container]
            held.insides[row.place_id] = roots[row.container]
            if depth:
                held.within[row.item_id] = row.container
        roots = {row.item_id: held.case_of[row.item_id] for row in rows if row.holds}
        if not roots:
            break
    prefetch_related_objects(held.rows, WITH_TYPE)
    return held


def _straight_in(containers: Collection[int]) -> Iterable[Any]:
    """Holdings straight inside these, each with the container it is in and whether it holds something itself."""
    words = {"container": F("place__item"), "holds": F("item__type__container")}
    found = Holding.objects.filter(place__item__in=containers).annotate(**words)
    return found.select_related("item__owner").order_by("item_id")


def _new(row: Holding, held: Held) -> bool:
    return row.item_id not in held.case_of


def bays_of(item_type: ItemType) -> tuple[str, ...] | None:
    """The bays of a frame in order; None where its type says nothing about its inside."""
    container = getattr(item_type, "container", None)
    if container is None:
        return None
    return tuple(part.label for part in container.compartments.all() if part.kind == "bay")


@dataclass(frozen=True, slots=True)
class Known:
    """What else is known of the pieces, gathered for all of them at once."""

    faults: Mapping[int, str]
    member_of: Mapping[int, tuple[int, str]]
    homes: Mapping[int, tuple[int, str]]
    of_type: dict[int, dict[str, Any]] = field(default_factory=dict)  # what every piece of a type has alike


def piece_of(row: Holding, held: Held, known: Known) -> Piece:
    item = row.item
    set_id, set_bay = known.member_of.get(item.id, (item.home_set_id, ""))
    return Piece(
        id=item.id, name=name_of(item), serial=item.serial, serial_unreadable=item.serial_unreadable_since is not None,
        quantity=item.quantity, bay=row.bay, within=held.within.get(item.id), owner=item.owner.name,
        hired_from="" if item.owner.is_ours else item.owner.name,
        off_hire_on=timezone.localdate(item.off_hire_at) if item.off_hire_at else None,
        system_id=item.home_system_id, set_id=set_id,
        set_bay=set_bay, fault=known.faults.get(item.id, ""), inspection_due=item.inspection_due,
        inspected=item.type.inspection_interval_days is not None or item.inspection_due is not None,
        **_home(item, held, known), **_type(item.type, known),
    )  # fmt: skip


def name_of(item: Item) -> str:
    """With the serial's tail, so that alike things can be told apart; a case or frame by its number."""
    return item.number or item.called


def _home(item: Item, held: Held, known: Known) -> dict[str, Any]:
    home = known.homes.get(item.id)
    if home is None:
        return {"home_case": "", "belongs_here": None}
    return {"home_case": home[1], "belongs_here": home[0] == held.case_of[item.id]}


ALIKE = (
    "kind", "serials_required", "mass_kg", "rack_units", "rack_depth_mm", "needs_rails", "needs_original_packaging",
    "stays_upright", "max_on_top_kg", "shock_critical", "transport_bracket", "supplies", "needs_true_sine",
    "true_sine", "battery_chemistry", "battery_wh", "battery_count", "is_lot", "currency",
)  # fmt: skip


def _type(item_type: ItemType, known: Known) -> dict[str, Any]:
    if item_type.pk not in known.of_type:
        mine = {name: getattr(item_type, name) for name in ALIKE}
        mine |= {"type_id": item_type.pk, "type_name": str(item_type), "bays": bays_of(item_type)}
        mine |= {"value": item_type.replacement_value, "mass_kg": own_mass(item_type)}
        known.of_type[item_type.pk] = mine
    return known.of_type[item_type.pk]


def own_mass(item_type: ItemType) -> Any:
    """A piece's own mass; a case inside a case is its empty shell, since its contents are pieces themselves."""
    container = getattr(item_type, "container", None)
    if container is not None and item_type.kind == Kind.CASE and container.tare_kg is not None:
        return container.tare_kg
    return item_type.mass_kg


def homes(item_ids: Collection[int], show: Show | None) -> dict[int, tuple[int, str]]:
    """The case each thing belongs in: as planned for the show, else its home case."""
    found = {
        ident: (case, number or "its home case")
        for ident, case, number in Item.objects.filter(pk__in=item_ids, home_case__isnull=False).values_list(
            "pk", "home_case_id", "home_case__number"
        )
    }
    if show is not None:
        planned = PackLine.objects.filter(show=show, item__in=item_ids)
        found |= {
            i: (c, n or "the case planned") for i, c, n in planned.values_list("item_id", "case_id", "case__number")
        }
    return found


def belonging_in(case_ids: Collection[int], show: Show | None) -> set[int]:
    """What belongs in these cases, wherever it is."""
    wanted = Q(home_case__in=case_ids)
    if show is not None:
        elsewhere = PackLine.objects.filter(show=show).exclude(case__in=case_ids).values("item_id")
        wanted = (wanted & ~Q(pk__in=elsewhere)) | Q(pack_lines__show=show, pack_lines__case__in=case_ids)
    return set(Item.objects.in_stock().filter(wanted).order_by().values_list("pk", flat=True))


def missing_from(
    belonging: Collection[int], held: Held, homes: Mapping[int, tuple[int, str]]
) -> dict[int, list[Expected]]:
    """What belongs in each case and is not there."""
    absent = [one for one in belonging if held.case_of.get(one) != homes[one][0]]
    found: dict[int, list[Expected]] = {}
    for one in put(absent):
        if one.place_kind != PlaceKind.GONE:
            expected = Expected(one.pk, one.words, one.where, one.mass_kg, one.kind)
            found.setdefault(homes[one.pk][0], []).append(expected)
    return found


def pieces_by_case(held: Held, known: Known) -> dict[int, list[Piece]]:
    found: dict[int, list[Piece]] = {}
    for row in held.rows:
        found.setdefault(held.case_of[row.item_id], []).append(piece_of(row, held, known))
    return found


def ids(pieces: Iterable[Piece]) -> set[int]:
    return {piece.id for piece in pieces}
