"""What the book says of one thing beside its place: its facts, in the words of its page."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from inventory.models import Item, ItemType
from inventory.templatetags.words import kg, venue_time

Fact = tuple[str, object]


def facts_of(item: Item) -> list[Fact]:
    """What it is and whose it is; what nobody has said is said to be not known where it matters."""
    return [*_what(item), *_belonging(item), *_dates(item), *type_facts(item.type)]


def _what(item: Item) -> Iterator[Fact]:
    yield "Kind", item.type.get_kind_display()
    yield "Type", item.type
    if item.serial:
        yield "Serial", item.serial
    elif item.serial_unreadable_since:
        yield "Serial", f"unreadable since {item.serial_unreadable_since:%d %b %Y}"
    elif item.type.serials_required and not item.type.is_lot:
        yield "Serial", "not known"
    if item.is_lot:
        yield "Pieces there should be", item.quantity
    former = [alias.number for alias in item.aliases.all()]
    if former:
        yield "Former numbers", ", ".join(former)
    if item.registration:
        yield "Registration", item.registration


def _belonging(item: Item) -> Iterator[Fact]:
    if item.home_system:
        yield "Belongs to", item.home_system
    if item.home_set:
        yield "Drive set", item.home_set
    if item.home_case:
        yield "Home case", item.home_case
    yield "Owner", item.owner if item.owner.is_ours else f"{item.owner} (hired in, not ours)"
    if item.cost_per_day is not None:
        yield "Hire per day", item.cost_per_day
    if item.replaced_by:
        yield "Replaced by", item.replaced_by


def _dates(item: Item) -> Iterator[Fact]:
    for words, when in (
        ("Off-hire", item.off_hire_at),
        ("Inspection due", item.inspection_due),
        ("Warranty until", item.warranty_until),
        ("Written off", item.retired_at),
    ):
        if when:
            yield words, venue_time(when) if isinstance(when, datetime) else f"{when:%a} {when.day} {when:%b %Y}"


def type_facts(item_type: ItemType) -> Iterator[Fact]:
    """Measures of a kind of thing, and what it asks for on the road."""
    yield "Mass", kg(item_type.mass_kg)
    sides = (item_type.length_mm, item_type.width_mm, item_type.height_mm)
    yield "Size", " × ".join(f"{side}" for side in sides) + " mm" if all(sides) else "size not known"
    if item_type.rack_units:
        depth = f", {item_type.rack_depth_mm} mm deep" if item_type.rack_depth_mm else ", depth not known"
        yield "Rack", f"{item_type.rack_units} U{depth}"
    if item_type.battery_count:
        chemistry = item_type.battery_chemistry or "kind not known"
        watt_hours = f"{item_type.battery_wh:g} Wh" if item_type.battery_wh else "Wh not known"
        yield (
            "Batteries",
            f"{item_type.battery_count} × {chemistry}, {watt_hours}",
        )
    asks = [words for flag, words in _ASKS.items() if getattr(item_type, flag)]
    if asks:
        yield "On the road", ", ".join(asks)


_ASKS = {
    "needs_rails": "needs its rails",
    "needs_original_packaging": "in its original packaging only",
    "stays_upright": "stays upright",
    "shock_critical": "shock-critical",
    "transport_bracket": "has a transport bracket",
    "needs_true_sine": "needs a true sine wave",
}
