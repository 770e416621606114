"""A small show with papers: Heron's frame case and drive box, booked on the Fjellmark Masters Chess."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

from inventory.hands import Handing, hand_over
from inventory.ledger import Fact, record
from inventory.models import (
    Entry,
    Item,
    Kind,
    Mandate,
    MandatePerson,
    Organisation,
    Person,
    PlaceKind,
    Release,
    ReleaseRequest,
    ReleaseSerial,
    RequestSerial,
    SystemPart,
    Verb,
    Wipe,
)
from shipping.border import draft as draft_border_list
from shipping.documents.forms import BUILDERS
from shipping.models import BorderList, Consignment, ConsignmentCase, Leg, Show
from tests.factories import (
    ANA,
    IDA,
    T0,
    make_case,
    make_case_type,
    make_drive,
    make_item,
    make_place,
    make_set,
    make_system,
    make_type,
)

AT = T0 + timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class World:
    show: Show
    leg: Leg
    frame_case: Item
    box: Item
    panel: Item
    drive: Item
    cord: Item
    words: str = ""

    def subject(self, kind: str) -> str:
        """A subject that this kind of paper can be about; what decisions it needs are entered now."""
        per = BUILDERS[kind][0].per
        if per in DECIDED:
            return DECIDED[per](self)
        named = {"drive-card": "HER-04", "drive-label": self.drive.labels.get().code}
        named |= {"cord-flag": self.cord.labels.get().code, "item-label": self.panel.labels.get().code}
        if kind in {"fault-tag", "damage-report"}:
            return make_fault(self)
        per = {"case": "HER-01", "show": self.show.code, "leg": f"leg {self.leg.pk}"}
        return named.get(kind) or per[BUILDERS[kind][0].per]


def make_fault(world: World) -> str:
    """The panel, which Ana found broken."""
    if not Entry.objects.filter(verb=Verb.FAULTED).exists():
        what = world.words or "Third fader dead since the doors opened."
        record([Fact(Verb.FAULTED, world.panel, note=what, reference="FMC")], by=ANA, at=T0)
    return world.panel.labels.get().code


def jo(world: World) -> Person:
    """Jo Marlow, who may release the show's content for its owner."""
    person, new = Person.objects.get_or_create(name="Jo Marlow", defaults={"organisation": world.show.client})
    if new:
        mandate = Mandate.objects.create(
            reference="FMC", content_owner=world.show.client, in_force_from=T0, entered_by="Ida Penrake", entered_at=T0
        )
        MandatePerson.objects.create(mandate=mandate, person=person, why=world.words[:200] or "producer of the show")
    return person


def make_request(world: World) -> str:
    text = world.words or "Please release what is on these drives.\nThey are wanted for the next show."
    row = ReleaseRequest.objects.filter(reference="FMC").first() or ReleaseRequest.objects.create(
        reference="FMC", person=jo(world), text=text, entered_by="Ida Penrake", entered_at=T0
    )
    RequestSerial.objects.get_or_create(request=row, drive=world.drive)
    return f"request {row.pk}"


def make_release(world: World) -> str:
    evidence = world.words[:250] or "letter of the 14th"
    row = Release.objects.filter(reference="FMC").first() or Release.objects.create(
        reference="FMC", person=jo(world), evidence=evidence, date=T0, entered_by="Ida Penrake", entered_at=T0
    )
    ReleaseSerial.objects.get_or_create(release=row, drive=world.drive)
    return f"release {row.pk}"


def make_wipe(world: World) -> str:
    """A wipe of the drive by Wes; nobody has verified it yet."""
    row = Wipe.objects.first() or Wipe.objects.create(
        job=uuid4(), drive=world.drive, step=Wipe.Step.BEGUN, method=Wipe.Method.PURGE, entered_by="Wes Tarn",
        technique=world.words[:120] or "block erase", tool="sanitize 2.1", entered_at=T0, answer_at_step="YES",
    )  # fmt: skip
    return str(row.job)


def make_handing(world: World) -> str:
    """A spare drive in Jo's hands, signed for."""
    entry = Entry.objects.filter(verb=Verb.HANDED_OVER).first()
    if entry is None:
        spare = make_drive("PM-00SPARE", name=world.words[:120])
        how = Handing(purpose=world.words[:100] or "dailies", due_at=AT + timedelta(days=3), condition="good",
                      note=world.words[:200], seal="004411", signed_by="Jo Marlow")  # fmt: skip
        entry = hand_over([spare], jo(world), how, by=IDA, at=T0)[0]
    return str(entry.act)


def make_border_list(world: World) -> str:
    """What goes to the show, under one list that was issued."""
    row = BorderList.objects.filter(show=world.show).first()
    if row is None:
        row = draft_border_list(world.show, world.words[:30].strip() or "GL-2207", valid_until=AT.date())
        # The rules refuse a line that says "etc", even within an address.
        words = world.words[:200].replace("etc", "usr") or "panel, Orrinvale Ebbmark Wide"
        row.lines.update(description=words, origin="GB", mass_kg=3, value=400, currency="GBP")
        row.issued_at, row.issued_by = T0, "Ida Penrake"
        row.save()
        world.leg.crosses_border = True
        world.leg.save()
    return f"list {row.pk}"


DECIDED = {
    "border list": make_border_list,
    "system": lambda world: world.frame_case.home_system.slug,
    "set": lambda world: world.drive.home_set.slug,
    "request": make_request,
    "release": make_release,
    "wipe": make_wipe,
    "hand-over": make_handing,
}


def make_leg(show: Show, cases: list[Item]) -> Leg:
    consignment = Consignment.objects.create(show=show, name="on Teasel")
    for position, case in enumerate(cases, 1):
        ConsignmentCase.objects.create(
            consignment=consignment, case=case, position=position, to_room="Hall B", first_off=position == 1
        )
    truck = make_item(
        make_case_type("Box 7.5 t", kind=Kind.VEHICLE, payload_kg=Decimal(2400)), name="Teasel", registration="TSL 752"
    )
    store, venue = make_place(is_ours=True), make_place("Fjellmark Hall", PlaceKind.VENUE)
    road = make_place("road to Fjellmark", PlaceKind.ROAD)
    return Leg.objects.create(
        consignment=consignment, position=1, vehicle=truck, from_place=store, to_place=venue, road=road,
        driver="Wes Tarn", departs_at=AT, arrives_at=AT + timedelta(days=1),
    )  # fmt: skip


def make_world(words: str = "") -> World:
    """The world; `words` go into every free text, to see what they do to paper."""
    system = make_system(colour=words[:20] or "BLUE")
    show = Show.objects.create(
        code="FMC", name=words[:120] or "Fjellmark Masters Chess", venue=make_place("Fjellmark Hall", PlaceKind.VENUE),
        client=Organisation.objects.create(name="Glasswright Trust"), leaves_at=AT, starts_at=AT + timedelta(days=2),
        ends_at=AT + timedelta(days=4), back_at=AT + timedelta(days=6),
    )  # fmt: skip
    rack = make_case_type("Rack case", tare_kg=Decimal(25), type_fields={"max_on_top_kg": Decimal(80)})
    box_type = make_case_type("Drive box", slots="A B C D E F", pockets="pocket", for_drives=True, tare_kg=Decimal(5))
    frame_case = make_case("HER-01", rack, name=words[:120] or "frame", home_system=system)
    box = make_case("HER-04", box_type, home_system=system)
    panel_type = make_type(
        words[:110] or "Ebbmark Wide", "Orrinvale", kind=Kind.PANEL, mass_kg=Decimal("16.2"), shock_critical=True,
        replacement_value=Decimal(21000), currency="GBP",
    )  # fmt: skip
    panel = make_item(panel_type, serial=words[:80] or "OR-84E9038F", home_case=frame_case, home_system=system)
    drive = make_drive("PM-0071B04K", home_set=make_set("HERON-2"), home_case=box, name=words[:120])
    drive.type.mass_kg, drive.type.capacity_gb = Decimal("0.3"), 4000
    drive.type.save()
    cord_type = make_type("Cord C13", kind=Kind.CORD, cord_length_mm=5000, connector="C13", mass_kg=Decimal("0.4"))
    cord = make_item(cord_type, home_case=frame_case, name=words[:120])
    SystemPart.objects.create(system=system, item=cord, left_behind_prone=True, show_stopper=True)
    record(
        [
            Fact(Verb.PACKED, panel, place=frame_case.inside),
            Fact(Verb.PACKED, cord, place=frame_case.inside),
            Fact(Verb.PACKED, drive, place=box.inside, bay="A"),
            Fact(Verb.JOINED, drive, drive_set=drive.home_set, bay="A"),
        ],
        by=IDA,
        at=T0,
    )
    return World(show, make_leg(show, [frame_case, box]), frame_case, box, panel, drive, cord, words)
