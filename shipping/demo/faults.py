"""The 22 faults, one function each: what somebody did, or left undone, on top of the story.

`otherwise` is what happened instead when a fault is left out; most faults need none.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal

from inventory import codes, ledger
from inventory.ledger import Fact
from inventory.models import (
    Device,
    Entry,
    Grade,
    Item,
    ItemAlias,
    Label,
    LabelKind,
    Place,
    PlaceKind,
    Release,
    ReleaseSerial,
    Verb,
    Wipe,
)
from inventory.registering import register
from shipping.demo.story import wipe
from shipping.demo.world import World
from shipping.models import BorderLine, Consignment, ConsignmentCase, Leg, Mode

Tell = Callable[[World], None]


@dataclass(frozen=True)
class Fault:
    """One fault: its number, what it is in one sentence, and how it came about."""

    number: int
    sentence: str
    tell: Tell
    otherwise: Tell | None = None


FAULTS: dict[int, Fault] = {}


def fault(number: int, otherwise: Tell | None = None) -> Callable[[Tell], Tell]:
    def keep(tell: Tell) -> Tell:
        FAULTS[number] = Fault(number, (tell.__doc__ or "").strip(), tell, otherwise)
        return tell

    return keep


@fault(1)
def spare_in_bay_c(world: World) -> None:
    """A cold spare replaced HERON-2 C mid-show; the old C holds the first hours and is not marked suspect."""
    old, new, heron2 = world.drive("HERON-2", "C"), world.things["GEN-01 cold spare 2"], world.sets["HERON-2"]
    more = {"grade": Grade.SCAN, "reference": "FMC"}
    world.tell(
        "tomas", "-2h59m",
        [
            Fact(Verb.PULLED, old, place=world.places["Hall control room"], **more),
            Fact(Verb.DROPPED, old, drive_set=heron2, bay="C", note="dropped frames", **more),
            Fact(Verb.FITTED, new, place=world.inside("HER-01 frame"), bay="C", **more),
            Fact(Verb.JOINED, new, drive_set=heron2, bay="C", **more),
        ],
    )  # fmt: skip
    world.do("tomas", "-41m", Verb.PACKED, new, place="HER-04", bay="C", **more)


def _old_c_kept_apart(world: World) -> None:
    world.do("tomas", "-40m", Verb.HANDED_OVER, world.drive("HERON-2", "C"), place="Tomas Quill", reference="FMC")


@fault(2, otherwise=_old_c_kept_apart)
def two_cs_in_one_box(world: World) -> None:
    """Two drives marked C lie in HER-04: the new one by felt pen, the old one in the pocket."""
    world.do(
        "tomas", "-40m", Verb.PACKED, world.drive("HERON-2", "C"), place="HER-04", bay="pocket", grade=Grade.SCAN,
        reference="FMC",
    )  # fmt: skip
    world.do("tomas", "-40m", Verb.SEEN, "GEN-01 cold spare 2", note="C written on it by felt pen", reference="FMC")


@fault(3)
def curlew_drive_in_herons_box(world: World) -> None:
    """CURLEW-1 D lies in HER-03 slot E, unreleased, across the border and on no list; CUR-03 was sealed with five."""
    world.do("tomas", "-5d20h", Verb.PACKED, world.drive("CURLEW-1", "D"), place="HER-03", bay="E", grade=Grade.SCAN)


@fault(4)
def panels_swapped(world: World) -> None:
    """Curlew's panel travels in HER-02 and Heron's in CUR-02; only the serials show it."""


@fault(5)
def rail_left_behind(world: World) -> None:
    """Curlew's right rail was left in rack 3 under a promise whose date has passed."""
    world.do(
        "ana", "-71d", Verb.LEFT, "CUR-10 right rail", place="Rooms rack 3", person=world.people["Jo Marlow"],
        due_at=world.when("-30d"), reference="CCA", note="rack locked; Jo Marlow promised to send it",
    )  # fmt: skip


@fault(6)
def cord_left_plugged_in(world: World) -> None:
    """Curlew's own panel cord stayed at the venue; a foreign cord of equal length sits in CUR-02."""
    foreign = register(
        world.things["CUR-02 panel's own cord"].type, at=world.when("-70d"), owner=world.organisations["trust"],
        name="cord, 5 m, not ours",
    )  # fmt: skip
    world.things["foreign cord"] = foreign
    world.do("wes", "-2d", Verb.PACKED, foreign, place="CUR-02", grade=Grade.SCAN, note="counted as the panel cord")


def _released_and_wiped(world: World) -> None:
    drives = [world.drive("CURLEW-1", bay) for bay in "ABCDEF"]
    _release(world, "CCA", "Jo Marlow", "-40d", "letter of the Trust, signed", drives, entered_by="Ida Penrake")
    wipe(world, drives, "-30d", "-29d12h")


@fault(7, otherwise=_released_and_wiped)
def awards_not_released(world: World) -> None:
    """CURLEW-1 still holds the awards: one of two copies unverified, no release, 71 days without power."""


@fault(8)
def drives_with_the_client(world: World) -> None:
    """CURLEW-2 A to D are with the Glasswright Trust under receipt R-0117; the set is broken up."""
    facts = [
        Fact(
            Verb.HANDED_OVER, world.drive("CURLEW-2", bay), place=world.places["Jo Marlow"],
            person=world.people["Jo Marlow"], due_at=world.when("+5d"), reference="CCA", grade=Grade.SCAN,
            note="receipt R-0117, kept until the 30th",
        )
        for bay in "ABCD"
    ]  # fmt: skip
    world.tell("ida", "-71d", facts)
    world.tell("ida", "-69d", [Fact(Verb.BROKEN_UP, drive_set=world.sets["CURLEW-2"], note="A to D with the client")])


@fault(9)
def failed_at_its_wipe(world: World) -> None:
    """HERON-1 E failed at its last wipe and stands in quarantine; the other five have records, E has none."""
    drive = world.drive("HERON-1", "E")
    wipe(world, [drive], "-8d", "-7d12h", Wipe.Step.FAILED)
    world.tell(
        "tomas", "-7d12h",
        [
            Fact(Verb.FAULTED, drive, condition="faulty", note="health check failed during the wipe"),
            Fact(Verb.QUARANTINED, drive, place=world.places["shelf Q"], grade=Grade.SCAN),
        ],
    )  # fmt: skip


def _release(world: World, code: str, who: str, when: str, evidence: str, drives: list[Item], entered_by: str) -> None:
    at = world.when(when)
    row = Release.objects.create(
        reference=code, person=world.people[who], evidence=evidence, date=at, entered_at=at, entered_by=entered_by
    )
    ReleaseSerial.objects.bulk_create(ReleaseSerial(release=row, drive=drive) for drive in drives)


@fault(10)
def released_by_a_steward(world: World) -> None:
    """ "Yes, wipe it" for WREN-1 came from a regatta steward who has no authority for the show."""
    drives = [world.drive("WREN-1", bay) for bay in "ABCD"]
    _release(world, "SBR", "Odd Varley", "-10d", "said on the pontoon", drives, entered_by="Ana Rell")


@fault(11)
def lithium_on_an_aircraft(world: World) -> None:
    """WRE-06 holds a 640 Wh lithium unit and is booked on an air consignment to Quay Unit."""
    consignment = Consignment.objects.create(show=world.shows["SBR"], name="by air to Quay Unit")
    ConsignmentCase.objects.create(consignment=consignment, case=world.things["WRE-06"], position=1)
    road = Place.objects.create(name="in the air: WRE-06", kind=PlaceKind.ROAD)
    world.legs["air"] = Leg.objects.create(
        consignment=consignment, position=1, mode=Mode.AIR, waybill="AWB-0417", from_place=world.places["Mill Yard"],
        to_place=world.places["Quay Unit"], road=road, departs_at=world.when("+3d"), arrives_at=world.when("+4d"),
    )  # fmt: skip


@fault(12)
def wrong_lines_on_the_list(world: World) -> None:
    """Line 17 of the border list has two serial digits exchanged; line 22 says "assorted adapters"."""
    lines = BorderLine.objects.filter(border_list__show=world.shows["FMC"])
    swapped = lines.get(line=17)
    serial = swapped.serial
    at = next(i for i in range(len(serial) - 1) if serial[i : i + 2].isdigit() and serial[i] != serial[i + 1])
    serial = serial[:at] + serial[at + 1] + serial[at] + serial[at + 2 :]
    lines.filter(line=17).update(serial=serial)
    lines.filter(line=22).update(description="assorted adapters")


@fault(13)
def back_in_three_parts(world: World) -> None:
    """WRE-05 came back to Quay Unit, WRE-04 to Mill Yard, WRE-07 not yet: promised for Thursday."""
    leg = world.legs["monitors"]
    world.do("ana", "-10d", Verb.DEPARTED, "WRE-05", place=leg.road.name, reference="SBR", grade=Grade.SCAN)
    world.do("wes", "-8d", Verb.ARRIVED, "WRE-05", place="Quay Unit", reference="SBR", grade=Grade.SCAN)
    world.do(
        "ana", "-11d", Verb.LEFT, "WRE-07", place="Saltmere Basin", person=world.people["Nell Harrow"],
        due_at=world.when("+2d"), reference="SBR", note="still in use on the pier; courier on Thursday",
    )  # fmt: skip


@fault(14)
def two_stories_of_one_case(world: World) -> None:
    """HER-07 was scanned onto Teasel by Ana and onto Meadowrue by Pim, both offline; Pim's clock is 47 min slow."""
    _scan(world, "ana", "Teasel", "-17m", "-1m", offset=timedelta())
    _scan(world, "pim", "Meadowrue", "-14m", "-2m", offset=timedelta(minutes=47))


def _scan(world: World, who: str, vehicle: str, at: str, sent: str, offset: timedelta) -> None:
    """One offline scan of HER-07 as a phone sends it: its own clock, the offset, its own counter."""
    witness, happened, received = world.witnesses[who], world.when(at), world.when(sent)
    device = witness.device
    Device.objects.filter(pk=device.pk).update(offset_ms=offset // timedelta(milliseconds=1), last_heard_at=received)
    scan = Entry(
        id=ledger.new_id(happened), act=ledger.new_id(happened), verb=Verb.LOADED, grade=Grade.SCAN,
        label=ledger.label_of(world.things["HER-07"]), place=world.inside(vehicle), reference="FMC",
        happened_at=happened, taken_at=happened - offset, offset_ms=offset // timedelta(milliseconds=1), device=device,
        device_seq=1, sent_at=received - offset, received_at=received, by=witness.name, role=witness.role,
        user=witness.user, day_pass=witness.day_pass,
    )  # fmt: skip
    ledger.append([scan], received_at=received)


@fault(15)
def opened_by_customs(world: World) -> None:
    """HER-12 left with seal 004418 and arrived with 004481: opened by customs on the way out, logged a day late."""
    world.do("wes", "-4d", Verb.SEEN, "HER-12", seal="004481", grade=Grade.SCAN, reference="FMC")
    world.tell(
        "ana", "-3d",
        [
            Fact(
                Verb.SEAL_BROKEN, world.things["HER-12"], seal="004418", stated=True, happened_at=world.when("-4d5h"),
                note="customs, on the way out; their seal 004481", reference="FMC",
            )
        ],
    )  # fmt: skip


@fault(16)
def hired_headset(world: World) -> None:
    """One headset in CUR-12 is hired in from Brambleside Hire; its hire ended yesterday and is still charged."""
    headset = world.things["CUR-12 headset 5"]
    ledger.amend(
        headset, "hired in to replace ours", by=world.witnesses["ida"], at=world.when("-80d"),
        owner=world.organisations["hire"], off_hire_at=world.when("-1d"), cost_per_day=Decimal("4.50"),
    )  # fmt: skip


@fault(17)
def found_without_a_tag(world: World) -> None:
    """In HER-06 lie a right-angle adapter and a keyboard without a tag; a keyboard is missing from GEN-01."""
    adapter, keyboard = codes.issue_blank(2, at=world.when("-38m"))
    for label, note in ((adapter, "right-angle adapter, no tag"), (keyboard, "keyboard, no tag")):
        world.tell("pim", "-38m", [Fact(Verb.FOUND, label, place=world.inside("HER-06"), note=note, reference="FMC")])
    world.do("ana", "-37m", Verb.MISSED, "GEN-01 spare keyboard", reference="FMC", note="not in its place in GEN-01")


@fault(18)
def came_back_with_drives_in(world: World) -> None:
    """CUR-01 came back from the awards with bays E and F still fitted; both drives are shock-suspect."""
    drives = [world.drive("CURLEW-1", bay) for bay in "EF"]
    note = "came back fitted in the frame: shock-suspect, check before use and before a wipe"
    world.tell(
        "wes", "-69d", [Fact(Verb.FAULTED, drive, condition="suspect", note=note, reference="CCA") for drive in drives]
    )
    world.tell(
        "wes", "-68d",
        [
            Fact(Verb.PACKED, drive, place=world.inside("CUR-03"), bay=drive.name[-1], grade=Grade.SCAN)
            for drive in drives
        ],
    )  # fmt: skip


@fault(19)
def renumbered_trunk(world: World) -> None:
    """GEN-03 used to be CBL-01, and half its labels still say so."""
    trunk = world.things["GEN-03"]
    ItemAlias.objects.create(item=trunk, number="CBL-01", since=world.when("-200d"))
    label = trunk.labels.get()
    label.note = "printed as CBL-01"
    label.save(update_fields=["note"])
    codes.issue([trunk], at=world.when("-199d"), kind=LabelKind.CASE)


@fault(20)
def light_power_case(world: World) -> None:
    """HER-05 weighs 29.1 kg against 32.0 computed: its spare supply stands in quarantine under another tag."""
    world.do("ana", "-20m", Verb.WEIGHED, "HER-05", mass_g=29100, reference="FMC")
    tag = codes.issue_blank(1, at=world.when("-30d"))[0]
    world.tell(
        "wes", "-30d",
        [Fact(Verb.QUARANTINED, tag, place=world.places["shelf Q"], note="power supply, hums; serial not read")],
    )  # fmt: skip


@fault(21)
def torn_label(world: World) -> None:
    """WRE-02's label is torn off and its serial plate is worn."""
    Label.objects.filter(item=world.things["WRE-02"]).update(retired_at=world.when("-12d"), note="torn off")
    ledger.amend(
        world.things["WRE-02"], "plate worn", by=world.witnesses["wes"], at=world.when("-10d"),
        serial_unreadable_since=world.when("-10d"),
    )  # fmt: skip


@fault(22)
def inspection_runs_out(world: World) -> None:
    """The inspection of Curlew's distribution unit runs out before the repeat would end."""
    ledger.amend(
        world.things["CUR-05 distribution unit 1"], "as on its test label", by=world.witnesses["ida"],
        at=world.when("-60d"), inspection_due=world.when("+4d").date(),
    )  # fmt: skip
