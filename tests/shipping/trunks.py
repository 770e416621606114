"""A show with one system booked, and measured trunks of that system, for tests of what the packing desk loads."""

from __future__ import annotations

from inventory.models import Item, System
from shipping.models import Booking, Show
from tests.factories import T0, make_case, make_case_type, make_show

MEASURED = {"length_mm": 300, "width_mm": 200, "height_mm": 100, "mass_kg": 2}
TRUNK = {"inner_length_mm": 1000, "inner_width_mm": 500, "inner_height_mm": 500, "tare_kg": 20, "max_gross_kg": 60}


def booked(system: System) -> Show:
    show = make_show("FMC")
    Booking.objects.create(show=show, system=system, booked_at=T0, booked_by="Ida Penrake")
    return show


def trunk(number: str, system: System, name: str = "Trunk", **over: object) -> Item:
    return make_case(number, make_case_type(name, **{**TRUNK, **over}), home_system=system)
