"""What the firm owns, read from the tables in fixtures/demo."""

from __future__ import annotations

import csv
import random
from collections.abc import Iterator
from datetime import timedelta
from decimal import Decimal

from django.conf import settings

from inventory import codes
from inventory.models import (
    Axle,
    Compartment,
    ContainerType,
    DriveSet,
    Item,
    ItemType,
    Kind,
    Necessity,
    Place,
    SetupCheck,
    System,
    SystemPart,
)
from inventory.registering import label_kind, new_inside
from shipping.demo.world import World

FOLDER = settings.BASE_DIR / "fixtures" / "demo"
SYSTEMS = {"Heron": ("HER", "BLUE"), "Curlew": ("CUR", "YELLOW"), "Wren": ("WRE", "GREEN")}
SETUP_CHECKS = (
    "Both supplies on separate feeds",
    "Bays A to the last scanned in order",
    "Panel link and licence key in",
    "Recording starts and stops",
)
_SERIAL_LETTERS = "ACDEFHJKMNPRTWXY"


def _rows(name: str) -> Iterator[dict[str, str]]:
    with (FOLDER / name).open(newline="") as file:
        yield from csv.DictReader(file)


def _number(text: str) -> int | None:
    return int(text) if text else None


def _flags(text: str) -> dict[str, str]:
    return dict(part.split("=", 1) for part in text.split())


def make_types() -> None:
    """Every make and model, and the bays of the frames."""
    for row in _rows("types.csv"):
        flags = _flags(row["extra"])
        item_type = ItemType.objects.create(**_type_fields(row, flags))
        if "bays" in flags:
            container = ContainerType.objects.create(item_type=item_type, strict_order=True)
            _compartments(container, list(flags["bays"]), Compartment.CompartmentKind.BAY)


def _type_fields(row: dict[str, str], flags: dict[str, str]) -> dict[str, object]:
    chemistry, _, watt_hours = flags.get("battery", "").partition(":")
    return {
        "maker": row["maker"], "name": row["name"], "kind": row["kind"], "mass_kg": Decimal(row["mass_kg"]),
        "length_mm": _number(row["length_mm"]), "width_mm": _number(row["width_mm"]),
        "height_mm": _number(row["height_mm"]), "rack_units": _number(row["rack_units"]),
        "rack_depth_mm": _number(row["rack_depth_mm"]), "replacement_value": Decimal(row["value"]), "currency": "GBP",
        "country_of_origin": row["origin"], "needs_rails": "needs_rails" in flags,
        "needs_original_packaging": "packaging" in flags, "stays_upright": "upright" in flags,
        "shock_critical": "shock_critical" in flags, "supplies": int(flags.get("supplies", 0)),
        "needs_true_sine": "needs_true_sine" in flags, "true_sine": True if "sine" in flags else None,
        "solid_state": "solid" in flags, "capacity_gb": _number(flags.get("capacity", "")),
        "connector": flags.get("connector", ""), "cord_length_mm": _number(flags.get("cord", "")),
        "battery_chemistry": chemistry, "battery_wh": Decimal(watt_hours) if watt_hours else None,
        "battery_count": 1 if chemistry else 0, "inspection_interval_days": _number(flags.get("inspection", "")),
        "is_lot": "lot" in flags, "serials_required": "lot" not in flags and "unserialised" not in flags,
    }  # fmt: skip


def _compartments(container: ContainerType, labels: list[str], kind: str, start: int = 0) -> None:
    Compartment.objects.bulk_create(
        Compartment(container=container, kind=kind, label=label, position=start + position)
        for position, label in enumerate(labels)
    )


def make_case_types() -> None:
    """Case types with their inside, slots, and what they are the original packaging of."""
    for row in _rows("case_types.csv"):
        size = {side: int(row[side]) for side in ("length_mm", "width_mm", "height_mm")}
        item_type = ItemType.objects.create(
            maker="Fettlewick", name=row["name"], kind=Kind.CASE, max_on_top_kg=Decimal(row["on_top_kg"]),
            replacement_value=Decimal(420), currency="GBP", country_of_origin="GB", serials_required=False, **size,
        )  # fmt: skip
        container = ContainerType.objects.create(
            item_type=item_type, **{f"inner_{side}": length - 40 for side, length in size.items()},
            tare_kg=Decimal(row["tare_kg"]), max_gross_kg=Decimal(row["max_gross_kg"]), wheels=row["wheels"] == "1",
            rack_units=_number(row["rack_units"]), usable_depth_mm=_number(row["depth_mm"]),
            for_drives=row["name"].startswith("Drive box"), strict_order=row["name"].startswith("Drive box"),
        )  # fmt: skip
        slots, pockets = row["slots"].split(), row["pockets"].split()
        _compartments(container, slots, Compartment.CompartmentKind.SLOT)
        _compartments(container, pockets, Compartment.CompartmentKind.POCKET, len(slots))
        if row["packaging_for"]:
            container.original_packaging_for.add(ItemType.objects.get(name=row["packaging_for"]))


def make_vehicle_types() -> None:
    for name, payload, deck, door, axles in (
        ("Long van 3.5 t", 1150, (4200, 1750, 1900), (1600, 1800), ((-700, 1800, 1330), (3000, 2250, 1020))),
        ("Box 7.5 t", 2400, (6100, 2400, 2300), (2300, 2200), ((-900, 3200, 2550), (3350, 5200, 2550))),
    ):
        item_type = ItemType.objects.create(name=name, kind=Kind.VEHICLE, serials_required=False)
        held = ContainerType.objects.create(
            item_type=item_type, payload_kg=payload, inner_length_mm=deck[0], inner_width_mm=deck[1],
            inner_height_mm=deck[2], door_width_mm=door[0], door_height_mm=door[1], wheels=True,
        )  # fmt: skip
        for at, limit, empty in axles:
            Axle.objects.create(container=held, behind_headboard_mm=at, limit_kg=limit, empty_kg=empty)


def make_things(world: World) -> None:
    """Systems, sets, cases, vehicles and the 300 items, with codes and the room inside."""
    make_types()
    make_case_types()
    make_vehicle_types()
    _make_systems(world)
    types = {item_type.name: item_type for item_type in ItemType.objects.all()}
    _make_cases(world, types)
    _make_items(world, types)
    _make_parts(world)


def _make_systems(world: World) -> None:
    for name, (prefix, colour) in SYSTEMS.items():
        system = System.objects.create(name=name, slug=name.lower(), prefix=prefix, colour=colour)
        world.systems[name] = system
        SetupCheck.objects.bulk_create(
            SetupCheck(system=system, text=text, position=position) for position, text in enumerate(SETUP_CHECKS)
        )
    for row in _rows("sets.csv"):
        host = world.systems.get(row["system"])
        world.sets[row["set"]] = DriveSet.objects.create(
            name=row["set"], slug=row["set"].lower(), host=host, bays=row["bays"]
        )


def _system_of(world: World, case: str) -> System | None:
    return next((s for s in world.systems.values() if case.startswith(s.prefix)), None)


def _save_all(world: World, wanted: dict[str, Item]) -> None:
    """Insert rows, codes and insides in few statements."""
    for item in wanted.values():
        item.refresh_keys()
    Item.objects.bulk_create(wanted.values())
    by_kind: dict[str, list[Item]] = {}
    for item in wanted.values():
        by_kind.setdefault(label_kind(item.type), []).append(item)
    for kind, items in by_kind.items():
        codes.issue(items, at=world.when("-400d"), kind=kind)
    holding = set(ContainerType.objects.values_list("item_type_id", flat=True))
    insides = [
        new_inside(item, is_ours=item.type.kind == Kind.VEHICLE) for item in wanted.values() if item.type_id in holding
    ]
    Place.objects.bulk_create(insides)
    world.things |= wanted


def _make_cases(world: World, types: dict[str, ItemType]) -> None:
    common = {"owner": world.organisations["ours"], "added_at": world.when("-400d")}
    wanted = {
        name: Item(type=types[kind], number=name, registration=plate, **common)
        for name, kind, plate in (("Meadowrue", "Long van 3.5 t", "MDW 351"), ("Teasel", "Box 7.5 t", "TSL 752"))
    }
    for row in _rows("cases.csv"):
        for number in row["numbers"].split():
            wanted[number] = Item(
                type=types[row["type"]],
                number=number,
                name=row["called"],
                home_system=_system_of(world, number),
                **common,
            )
    _save_all(world, wanted)


def _make_items(world: World, types: dict[str, ItemType]) -> None:
    draw = random.Random(20260314)
    wanted: dict[str, Item] = {}
    for row in _rows("items.csv"):
        for case in row["cases"].split():
            for called in row["called"].split("|"):
                wanted[f"{case} {called}"] = _item(world, types[row["type"]], case, called, row, draw)
    for row in _rows("sets.csv"):
        for bay, serial in zip(row["bays"].split(), row["serials"].split(), strict=True):
            drive = _item(world, types[row["type"]], row["case"], f"{row['set']} {bay}", {"quantity": "1"}, draw)
            drive.serial, drive.home_set = serial, world.sets[row["set"]]
            wanted[f"{row['set']} {bay}"] = drive
    _save_all(world, wanted)


def _item(world: World, item_type: ItemType, case: str, called: str, row: dict[str, str], draw: random.Random) -> Item:
    serial = _new_serial(draw) if item_type.serials_required else ""
    due = (world.zero + timedelta(days=draw.randint(120, 300))).date() if item_type.inspection_interval_days else None
    return Item(
        type=item_type, serial=serial, name=called, quantity=int(row["quantity"]), home_case=world.things[case],
        home_system=_system_of(world, case), owner=world.organisations["ours"], inspection_due=due,
        added_at=world.when("-400d"),
    )  # fmt: skip


def _new_serial(draw: random.Random) -> str:
    """Like the makers write them: 41K2207P."""
    first, last = draw.choice(_SERIAL_LETTERS), draw.choice(_SERIAL_LETTERS)
    return f"{draw.randint(30, 99)}{first}{draw.randint(1000, 9999)}{last}"


def _make_parts(world: World) -> None:
    parts = []
    for row in _rows("items.csv"):
        for case in row["cases"].split():
            system = _system_of(world, case)
            if system is not None:
                parts += [_part(system, world.things[f"{case} {called}"], row) for called in row["called"].split("|")]
    for position, part in enumerate(parts):
        part.position = position
    SystemPart.objects.bulk_create(parts)


def _part(system: System, item: Item, row: dict[str, str]) -> SystemPart:
    marks = row["marks"].split()
    return SystemPart(
        system=system, item=item, necessity=row["need"] or Necessity.RECOMMENDED, quantity=item.quantity,
        show_stopper="stopper" in marks, left_behind_prone="prone" in marks,
    )  # fmt: skip
