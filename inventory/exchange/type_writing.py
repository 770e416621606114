"""Types of a sheet into the catalogue: new ones, facts gained, and the room inside what holds things."""

from __future__ import annotations

from collections.abc import Iterable

from inventory.exchange.types import COMPARTMENTS, SERIALLED, TypePlan
from inventory.models import Compartment, ContainerType, Item, ItemType, Kind
from inventory.registering import inside_of


def write_types(plans: Iterable[TypePlan]) -> dict[str, ItemType]:
    """Every type by key, written."""
    written: dict[str, ItemType] = {}
    plans = list(plans)
    for plan in plans:
        item_type = plan.known or ItemType(name=plan.name, maker=plan.maker)
        _fill(item_type, plan)
        if plan.known is None or plan.changes:
            item_type.save()
        if plan.holds:
            _room(item_type, plan)
        written[plan.key] = item_type
    for plan in plans:
        if plan.packs:
            written[plan.key].container.original_packaging_for.add(*(written[key] for key in plan.packs))
    return written


def _fill(item_type: ItemType, plan: TypePlan) -> None:
    if plan.kind and (plan.known is None or "kind" in plan.changes):
        item_type.kind = plan.kind
    for name, value in plan.facts.items():
        setattr(item_type, name, value)
    if plan.known is None:
        item_type.is_lot = plan.is_lot or all(not x.serial and (x.quantity or 1) > 1 for x in plan.lines)
        item_type.serials_required = plan.kind in SERIALLED and not item_type.is_lot


def _room(item_type: ItemType, plan: TypePlan) -> None:
    container, made = ContainerType.objects.get_or_create(item_type=item_type)
    for name, value in plan.room.items():
        setattr(container, name, value)
    if plan.kind == Kind.CASE and plan.compartments.get("slots") and "drive" in item_type.name.casefold():
        container.for_drives = True
    container.save()
    item_type.container = container
    _compartments(container, plan)
    if made and plan.known is not None:
        for item in Item.objects.filter(type=item_type, inside=None):
            inside_of(item)


def _compartments(container: ContainerType, plan: TypePlan) -> None:
    position = container.compartments.count()
    for name in COMPARTMENTS:
        for label in plan.compartments.get(name, ()):
            Compartment.objects.create(container=container, kind=name[:-1], label=label, position=position)
            position += 1


def plain_case() -> ItemType:
    """The type of a case of which only the number is known."""
    item_type = ItemType.objects.get_or_create(
        key=ItemType.make_key("", "case"), defaults={"name": "case", "kind": Kind.CASE, "serials_required": False}
    )[0]
    ContainerType.objects.get_or_create(item_type=item_type)
    return item_type
