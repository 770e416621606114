"""A small show to plan: Heron's trunks with reels in them, measured, rated, and a van for them."""

from __future__ import annotations

from typing import Any

from inventory.models import Item
from shipping.models import Booking, Show
from tests.factories import (
    T0,
    make_case,
    make_case_type,
    make_item,
    make_leg,
    make_show,
    make_system,
    make_type,
    make_vehicle,
)

INSIDE = {"inner_length_mm": 1000, "inner_width_mm": 500, "inner_height_mm": 500, "tare_kg": 20, "max_gross_kg": 60}
REEL = {"length_mm": 500, "width_mm": 500, "height_mm": 100, "mass_kg": 3}


def trunk(number: str, **over: Any) -> Item:
    name = over.pop("name", "Trunk")
    return make_case(number, make_case_type(name, **{**INSIDE, **over}), home_system=make_system("Heron"))


def reel(home: Item | None, name: str = "Reel", **over: Any) -> Item:
    return make_item(make_type(name, "Hobbinet", **{**REEL, **over}), home_case=home, home_system=make_system("Heron"))


def small_show(code: str = "FMC", payload_kg: int | None = 1000, **dates: Any) -> Show:
    """Two trunks of three reels each, which go into one; on Meadowrue."""
    show = make_show(code, **dates)
    Booking.objects.get_or_create(show=show, system=make_system("Heron"), booked_at=T0, booked_by="Ida Penrake")
    trunks = [trunk("HER-13"), trunk("HER-14")]
    for one in trunks:
        for _ in range(3):
            reel(one)
    make_leg(trunks, make_vehicle("Meadowrue", payload_kg, number="Meadowrue"), show)
    return show
