"""Load the demo world, whole or with some faults left out."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from decimal import Decimal

from inventory.access import token_hash
from inventory.ledger import Witness, settled_once
from inventory.models import Device, Item, Role
from shipping.demo import cast, story
from shipping.demo.cast import HERON, POOL
from shipping.demo.faults import FAULTS
from shipping.demo.things import make_things
from shipping.demo.world import World
from shipping.models import BorderLine, BorderList

PIM_TOKEN = "pim-osgood-demo-phone"
ANA_TOKEN = "ana-rell-demo-phone"


@settled_once()
def load(zero: datetime, without: Iterable[int] = ()) -> World:
    """Fill an empty book with the demo world as of `zero`; `without` names faults that never happened."""
    told = frozenset(FAULTS) - set(without)
    world = World(zero)
    cast.make_people(world)
    cast.make_places(world)
    make_things(world)
    cast.make_shows(world)
    cast.make_roads(world)
    _phones(world)
    for chapter in story.CHAPTERS:
        chapter(world, told)
    _border_list(world)
    for number, fault in FAULTS.items():
        tell = fault.tell if number in told else fault.otherwise
        if tell is not None:
            tell(world)
    return world


def _phones(world: World) -> None:
    """Ana's phone, and Pim's on tonight's pass."""
    day_pass = cast.make_pass(world)
    world.passes["tonight"] = day_pass
    at = world.when("-9h")
    ana = world.witnesses["ana"]
    phone = Device.objects.create(name=ana.name, user=ana.user, token_hash=token_hash(ANA_TOKEN), joined_at=at)
    world.witnesses["ana"] = Witness(ana.name, ana.role, ana.user, device=phone)
    pims = Device.objects.create(name="Pim Osgood", day_pass=day_pass, token_hash=token_hash(PIM_TOKEN), joined_at=at)
    world.witnesses["pim"] = Witness("Pim Osgood", Role.CREW, day_pass=day_pass, device=pims)


def _border_list(world: World) -> None:
    """The list Heron and the pool crossed under: one line a serialised thing, in case order."""
    listed = BorderList.objects.create(
        show=world.shows["FMC"], number="GL-2207", valid_until=(world.zero + timedelta(days=200)).date()
    )
    lines = []
    for case in (*HERON, *POOL):
        for item in sorted(world.home_items(case), key=lambda item: item.pk):
            if item.serial or item.type.kind == "adapter":
                lines.append(_border_line(listed, len(lines) + 1, item, world.things[case]))
    BorderLine.objects.bulk_create(lines)
    listed.issued_at, listed.issued_by = world.when("-5d12h"), "Ida Penrake"
    listed.save(update_fields=["issued_at", "issued_by"])


def _border_line(listed: BorderList, line: int, item: Item, case: Item) -> BorderLine:
    kind = item.type
    return BorderLine(
        border_list=listed, line=line, item=item, description=f"{kind.get_kind_display()}, {kind}", serial=item.serial,
        pieces=item.quantity, mass_kg=(kind.mass_kg or Decimal(0)) * item.quantity,
        value=(kind.replacement_value or Decimal(0)) * item.quantity, currency="GBP", origin=kind.country_of_origin,
        case=case,
    )  # fmt: skip
