"""What happened, as it should have: the faults are told apart, in faults.py.

`told` is the set of fault numbers that are told; the few steps that a fault makes impossible ask it.
"""

from __future__ import annotations

from collections.abc import Iterable
from uuid import NAMESPACE_URL, uuid5

from inventory.ledger import Fact
from inventory.models import Copy, CopySerial, Grade, Item, Verb, Wipe
from shipping.demo.cast import CURLEW, HERON, POOL, TO_MEADOWRUE, TO_TEASEL, WREN
from shipping.demo.world import World
from shipping.models import Return, ReturnException

Told = frozenset[int]
# What each fault keeps out of the case it belongs in.
AWAY = {
    3: ["CURLEW-1 D"],
    5: ["CUR-10 right rail"],
    6: ["CUR-02 panel's own cord"],
    8: ["CURLEW-2 A", "CURLEW-2 B", "CURLEW-2 C", "CURLEW-2 D"],
    9: ["HERON-1 E"],
    20: ["HER-05 spare supply"],
}


# What was not back from the awards when Ida closed the return, by the fault that kept it away.
NOT_BACK = {
    5: (AWAY[5], "left in place", "Jo Marlow promised to send it"),
    6: (AWAY[6], "missed", "perhaps still plugged in at the Rooms"),
    8: (AWAY[8], "with client", "receipt R-0117"),
}


def shelf_of(world: World, case: str) -> str:
    """The shelf a case lives on: Heron on A and B, Curlew on C and D, Wren on E, the pool on F."""
    n = int(case[-2:])
    if case.startswith("WRE"):
        return f"shelf E{min(n, 6)}"
    if case.startswith("GEN"):
        return f"shelf F{n}"
    rows = "AB" if case.startswith("HER") else "CD"
    return f"shelf {rows[(n - 1) // 7]}{(n - 1) % 7 % 6 + 1}"


def what_lies_in(world: World, case: str, told: Told) -> list[Item]:
    """A case's own things, changed by the faults that moved some of them."""
    items = world.home_items(case)
    swaps = {}
    if 4 in told:
        mine, hers = world.things["HER-02 panel Wide"], world.things["CUR-02 panel Wide"]
        swaps = {mine: hers, hers: mine}
    away = {world.things[name] for fault, names in AWAY.items() if fault in told for name in names}
    return [swaps.get(item, item) for item in items if item not in away]


def slot_of(item: Item) -> str:
    """The slot of a drive's home box: its bay letter, or a number in the spares case; the rack unit of heavy gear."""
    if item.home_set is not None:
        bay = item.name.rsplit(" ", 1)[1]
        return str("ABCD".index(bay) + 1) if item.home_set.name == "FLOAT-1" else bay
    return {"cold spare 1": "5", "cold spare 2": "6", "frame": "U1", "UPS": "U1"}.get(item.name, "")


def pack(
    world: World, who: str, offset: str, case: str, items: Iterable[Item], grade: str = Grade.SCAN, **more: str
) -> None:
    inside = world.inside(case)
    facts = [Fact(Verb.PACKED, item, place=inside, bay=slot_of(item), grade=grade, **more) for item in items]
    world.tell(who, offset, facts)


def seal(world: World, who: str, offset: str, cases: Iterable[str], first: int) -> None:
    facts = [
        Fact(Verb.SEALED, world.things[case], seal=f"{first + n:06}", grade=Grade.SCAN) for n, case in enumerate(cases)
    ]
    world.tell(who, offset, facts)


def open_up(world: World, who: str, offset: str, cases: Iterable[str], why: str) -> None:
    world.tell(who, offset, [Fact(Verb.SEAL_BROKEN, world.things[c], note=why, grade=Grade.SCAN) for c in cases])


def travel(world: World, key: str, cases: list[str], depart: str, arrive: str, landing: str, code: str) -> None:
    """Load, depart, arrive and unload by the vehicle of a leg; without one, each case goes by itself."""
    leg = world.legs[key]
    vehicle = leg.vehicle
    movers = [vehicle] if vehicle else [world.things[case] for case in cases]
    if vehicle:
        world.put("ana", depart, cases, vehicle.number, Verb.LOADED, reference=code)
    more = {"grade": Grade.SCAN, "reference": code}
    world.tell("ana", depart, [Fact(Verb.DEPARTED, m, place=leg.road, **more) for m in movers])
    world.tell("ana", arrive, [Fact(Verb.ARRIVED, m, place=leg.to_place, **more) for m in movers])
    for case in cases:
        where = shelf_of(world, case) if landing == "shelves" else landing
        world.put("wes", arrive, [case], where, Verb.UNLOADED, reference=code)


def begin(world: World, told: Told) -> None:
    """Ninety days ago: everything in its case on its shelf, every set joined and declared blank."""
    mill = [*HERON, *CURLEW, *WREN, *POOL]
    for case in mill:
        world.put("wes", "-90d", [case], shelf_of(world, case))
    world.put("wes", "-90d", ["Teasel", "Meadowrue"], "Mill Yard dock")
    for case in mill:
        pack(world, "wes", "-89d", case, world.home_items(case))
    for drive_set in world.sets.values():
        _join(world, drive_set.name)
    spares = [world.things["GEN-01 cold spare 1"], world.things["GEN-01 cold spare 2"]]
    _blank(world, "-88d", spares)


def _join(world: World, name: str) -> None:
    drives = [world.drive(name, bay) for bay in world.sets[name].bay_labels]
    facts = [Fact(Verb.JOINED, d, drive_set=world.sets[name], bay=d.name.rsplit(" ", 1)[1]) for d in drives]
    world.tell("ida", "-89d", facts)
    _blank(world, "-88d", drives)


def _blank(world: World, offset: str, drives: list[Item]) -> None:
    why = "new from the maker, read back empty on the bench"
    world.tell("ida", offset, [Fact(Verb.DECLARED_BLANK, drive, note=why) for drive in drives])


def fit(world: World, offset: str, set_name: str, frame: str, code: str) -> None:
    facts = [
        Fact(
            Verb.FITTED,
            world.drive(set_name, bay),
            place=world.inside(frame),
            bay=bay,
            grade=Grade.SCAN,
            reference=code,
        )
        for bay in world.sets[set_name].bay_labels
    ]
    world.tell("tomas", offset, facts)


def record_show(world: World, set_name: str, start: str, stop: str, code: str) -> None:
    for verb, offset in ((Verb.RECORDING, start), (Verb.STOPPED, stop)):
        world.tell("tomas", offset, [Fact(verb, drive_set=world.sets[set_name], reference=code)])


def awards(world: World, told: Told) -> None:
    """Carrowmere Civic Awards, 71 days ago, with Curlew."""
    for case in CURLEW:
        pack(world, "wes", "-76d", case, world.home_items(case))
    seal(world, "wes", "-76d", CURLEW, 3100)
    travel(world, "awards out", CURLEW, "-75d", "-74d22h", "Rooms dock", "CCA")
    open_up(world, "tomas", "-73d", CURLEW, "set-up")
    world.put("ana", "-73d", [f"CUR-{n:02}" for n in range(1, 15)], "Rooms gallery", reference="CCA")
    fit(world, "-72d6h", "CURLEW-1", "CUR-01 frame", "CCA")
    record_show(world, "CURLEW-1", "-71d5h", "-71d2h", "CCA")
    stays_fitted = {"E", "F"} if 18 in told else set()
    out = [world.drive("CURLEW-1", bay) for bay in "ABCDEF" if bay not in stays_fitted]
    pack(world, "tomas", "-71d1h", "CUR-03", out, reference="CCA")
    for case in CURLEW:
        items = [i for i in what_lies_in(world, case, told - {3, 4, 20}) if i.home_set != world.sets["CURLEW-1"]]
        pack(world, "ana", "-71d", case, items, Grade.TICK, reference="CCA")
    travel(world, "awards back", CURLEW, "-70d22h", "-70d20h", "shelves", "CCA")
    for case in CURLEW:
        world.tell("wes", "-69d", [Fact(Verb.SEEN, i, grade=Grade.SCAN) for i in _at_home(world, case, told)])
    _copies_of_awards(world, told)
    _close_awards(world, told)


def _close_awards(world: World, told: Told) -> None:
    """Ida closed the return five days later, naming what was not back and why that was all right."""
    closed = world.when("-65d")
    back = Return.objects.create(
        show=world.shows["CCA"],
        opened_at=world.when("-70d20h"),
        opened_by="Wes Tarn",
        closed_at=closed,
        closed_by="Ida Penrake",
        closing_words="all back but what is named",
    )
    for number, (names, outcome, why) in NOT_BACK.items():
        if number in told:
            ReturnException.objects.bulk_create(
                ReturnException(
                    coming_back=back,
                    item=world.things[name],
                    outcome=outcome,
                    why=why,
                    named_by="Ida Penrake",
                    named_at=closed,
                )
                for name in names
            )


def _at_home(world: World, case: str, told: Told) -> list[Item]:
    late = {world.drive("CURLEW-1", bay) for bay in "EF"} if 18 in told else set()
    return [item for item in what_lies_in(world, case, told - {3, 4, 20}) if item not in late]


def _copies_of_awards(world: World, told: Told) -> None:
    drives = [world.drive("CURLEW-1", bay) for bay in "ABCDEF"]
    copy(world, "CCA", drives, "-70d", "archive disk", "Glasswright Trust archive", verified="-45d")
    copy(world, "CCA", drives, "-70d", "office server", "Mill Yard office", verified="" if 7 in told else "-44d")


def copy(world: World, code: str, drives: list[Item], made: str, medium: str, place: str, *, verified: str) -> None:
    at = world.when(made)
    row = Copy.objects.create(
        reference=code, made_at=at, medium=medium, place=world.places[place], entered_at=at, entered_by="Tomas Quill",
        verified_at=world.when(verified) if verified else None,
        verified_how="checksums of every file compared" if verified else "",
        verified_by="Tomas Quill" if verified else "",
    )  # fmt: skip
    CopySerial.objects.bulk_create(CopySerial(copy=row, drive=drive) for drive in drives)


def regatta(world: World, told: Told) -> None:
    """Saltmere Basin Regatta Finals, ended twelve days ago, with Wren; back in parts."""
    for case in WREN:
        pack(world, "wes", "-16d", case, world.home_items(case))
    seal(world, "wes", "-16d", WREN, 3900)
    travel(world, "regatta out", WREN, "-15d", "-14d21h", "Saltmere Basin", "SBR")
    open_up(world, "tomas", "-14d", WREN, "set-up")
    fit(world, "-13d8h", "WREN-1", "WRE-01 frame", "SBR")
    record_show(world, "WREN-1", "-13d4h", "-12d2h", "SBR")
    for case in WREN:
        pack(world, "tomas", "-12d", case, world.home_items(case), reference="SBR")
    home = [case for case in WREN if case not in {"WRE-05", "WRE-07"}]
    travel(world, "regatta back", home, "-11d", "-10d20h", "shelves", "SBR")
    if 13 not in told:
        travel(world, "monitors", ["WRE-05"], "-10d", "-8d", "shelves", "SBR")
        travel(world, "intercom", ["WRE-07"], "-9d", "-8d", "shelves", "SBR")
    Return.objects.create(show=world.shows["SBR"], opened_at=world.when("-10d20h"), opened_by="Wes Tarn")
    drives = [world.drive("WREN-1", bay) for bay in "ABCD"]
    copy(world, "SBR", drives, "-11d", "archive disk", "Sailing club archive", verified="-9d")
    copy(world, "SBR", drives, "-11d", "office server", "Mill Yard office", verified="-9d")


def wipe(world: World, drives: Iterable[Item], begun: str, ended: str, step: str = Wipe.Step.VERIFIED) -> None:
    """Two people: Tomas operates, Ida verifies."""
    for drive in drives:
        job = uuid5(NAMESPACE_URL, f"demo wipe {drive.pk} {begun}")
        common = {"job": job, "drive": drive, "method": Wipe.Method.PURGE, "technique": "sanitize command, block erase"}
        Wipe.objects.create(
            step=Wipe.Step.BEGUN, entered_by="Tomas Quill", entered_at=world.when(begun), tool="bench station 2",
            answer_at_step="YES", **common,
        )  # fmt: skip
        Wipe.objects.create(
            step=step, entered_by="Ida Penrake", entered_at=world.when(ended), tool="bench station 2",
            verification="full read back", answer_at_step="YES", **common,
        )  # fmt: skip


def prepare_chess(world: World, told: Told) -> None:
    """A week ago: Heron's sets and the float wiped and verified, everything packed, sealed, gone."""
    fresh = [world.drive(name, bay) for name in ("HERON-1", "HERON-2") for bay in "ABCDEF"]
    fresh += [world.drive("FLOAT-1", bay) for bay in "ABCD"]
    fresh += [world.things["GEN-01 cold spare 1"], world.things["GEN-01 cold spare 2"]]
    if 9 in told:
        fresh.remove(world.drive("HERON-1", "E"))
    world.tell(
        "tomas", "-8d2h", [Fact(Verb.PLACED, d, place=world.places["wipe bench W"], grade=Grade.SCAN) for d in fresh]
    )
    wipe(world, fresh, "-8d", "-7d12h")
    for case in (*HERON, *POOL):
        pack(world, "wes", "-6d", case, what_lies_in(world, case, told))


def go_to_chess(world: World, told: Told) -> None:
    seal(world, "wes", "-5d4h", (*HERON, *POOL), 4407)
    travel(world, "Teasel out", TO_TEASEL, "-5d", "-4d", "Hall dock", "FMC")
    travel(world, "Meadowrue out", TO_MEADOWRUE, "-5d", "-4d", "Hall dock", "FMC")


def chess(world: World, told: Told) -> None:
    """Fjellmark Masters Chess: HERON-2 recorded tonight, everything struck and back in its case."""
    opened = [case for case in (*HERON, *POOL) if case not in {"HER-03", "HER-12"}]
    open_up(world, "tomas", "-1d4h", opened, "set-up")
    world.put("ana", "-1d4h", ["HER-01", "HER-02", "HER-04", "HER-10"], "Hall control room", reference="FMC")
    fit(world, "-8h", "HERON-2", "HER-01 frame", "FMC")
    record_show(world, "HERON-2", "-5h", "-1h", "FMC")


def strike(world: World, told: Told) -> None:
    """An hour ago: out of the frame, into the cases, sealed; six cases on the trucks so far."""
    members = [world.drive("HERON-2", bay) for bay in "ABDEF"]
    if 1 not in told:
        members.append(world.drive("HERON-2", "C"))
    pack(world, "tomas", "-41m", "HER-04", members, reference="FMC")
    for case in opened_tonight():
        items = [i for i in what_lies_in(world, case, told) if i.home_set != world.sets["HERON-2"]]
        if 1 in told:
            items = [i for i in items if i.name != "cold spare 2"]
        pack(world, "tomas", "-39m", case, items, Grade.TICK, reference="FMC")
    closed = opened_tonight()
    seal(world, "ana", "-25m", [case for case in closed if case not in POOL], 4467)
    seal(world, "ana", "-25m", POOL, 4511)
    for offset, case in (
        ("-15m", "HER-03"),
        ("-13m", "HER-10"),
        ("-12m", "HER-01"),
        ("-11m", "HER-02"),
        ("-9m", "HER-04"),
    ):
        world.put("ana", offset, [case], "Teasel", Verb.LOADED, reference="FMC")


def opened_tonight() -> list[str]:
    """Cases to close after the show; HER-04 is the fourth, so that its seal is 004470."""
    return ["HER-01", "HER-02", "HER-10", "HER-04", *(f"HER-{n:02}" for n in (5, 6, 7, 8, 9, 11, 13, 14)), *POOL]


def pack_for_the_repeat(world: World, told: Told) -> None:
    """Yesterday Curlew was packed and sealed for a repeat that is off since this morning."""
    for case in CURLEW:
        pack(world, "wes", "-2d", case, what_lies_in(world, case, told - {20}))
    seal(world, "wes", "-1d", CURLEW, 5101)
    show = world.shows["CCA-R"]
    show.cancelled_at, show.cancelled_why = world.when("-15h"), "the Trust called it off"
    show.save(update_fields=["cancelled_at", "cancelled_why"])


CHAPTERS = (begin, awards, regatta, prepare_chess, go_to_chess, chess, strike, pack_for_the_repeat)
