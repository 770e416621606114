"""What the replay tests share: a cast on paper and one on the database, deliveries, links in plain words."""

from __future__ import annotations

import os
from collections import Counter
from datetime import timedelta
from uuid import UUID, uuid5

from hypothesis import HealthCheck, Phase

from inventory import ledger
from inventory.models import DayPass, Device, Entry, Holding, Kind, Label, Role
from inventory.registering import inside_of
from tests.factories import T0, make_case, make_case_type, make_drive, make_item, make_place, make_type
from tests.inventory.replay import Told, World
from tests.inventory.stories import Cast

RECEIVED = T0 + timedelta(days=30)
# The same stories every time; STORIES=20 tries twenty times as many, and others each time.
MORE = int(os.environ.get("STORIES", "1"))
PURE, STORED = 100 * MORE, 20 * MORE
calm = {
    "deadline": None,
    "suppress_health_check": list(HealthCheck),
    "phases": [Phase.explicit, Phase.generate, Phase.shrink],
    "database": None,
    "derandomize": MORE == 1,
}

# A cast without a database: items 1..9, their insides 101..109, rooms 201..203.
PHONES = [uuid5(UUID(int=0), name) for name in ("Ana Rell", "Pim Osgood")]
ON_PAPER = Cast(
    drives=[1, 2, 3], boxes=[4, 5], frame=6, trunk=7, vans=[8, 9], lot=10, plain=11,
    inside={item: item + 100 for item in (4, 5, 6, 7, 8, 9, 11)}, rooms=[201, 202], phones=PHONES,
)  # fmt: skip


def world_of(cast: Cast) -> World:
    kinds = dict.fromkeys([*cast.drives, *cast.boxes, cast.trunk, cast.lot, cast.plain], "other")
    kinds |= {cast.frame: "frame", **dict.fromkeys(cast.vans, "vehicle")}
    single = {(box, bay) for box in [*cast.boxes, cast.frame] for bay in "AB"}
    return World(
        kinds=kinds,
        inside={place: item for item, place in cast.inside.items()},
        holds=frozenset([*cast.boxes, cast.frame, cast.trunk, *cast.vans]),
        single=frozenset(single),
        homes={cast.drives[0]: cast.boxes[0]},
        lots=frozenset([cast.lot]),
        counts={cast.lot: 20},
    )


def plain(links, names) -> list[dict]:
    """Links as the replay gives them."""
    numbers = {name: place for place, name in names.items()}
    found = []
    for link in links:
        witness = link.evidence or link.placing
        remark = link.remark
        if remark.startswith("was in "):
            remark = f"was in {numbers[remark.removeprefix('was in ')]}"
        found.append(
            {
                "item": link.item.id, "place": link.place.id if link.place else None, "bay": link.bay,
                "strength": link.strength.value, "seal": link.seal, "remark": remark,
                "placing": link.placing and link.placing.entry, "evidence": link.evidence and link.evidence.entry,
                "doubtful": witness is not None and witness.clock_doubtful,
            }
        )  # fmt: skip
    return found


def moments(told: list[Told]):
    times = sorted({one.at for one in told})
    return [times[len(times) // 3], times[2 * len(times) // 3], times[-1]]


def print_shares(name: str, shares: Counter[str]) -> None:
    print(f"\n{name}, {shares['stories']} stories:")  # noqa: T201
    for word, count in sorted(shares.items()):
        print(f"  {word}: {count} ({count / shares['stories']:.0%})")  # noqa: T201


def make_cast() -> Cast:
    box_type = make_case_type("Drive box", slots="A B", pockets="P", for_drives=True)
    boxes = [make_case(number, box_type) for number in ("HER-03", "HER-04")]
    frame = make_case("HERON", make_case_type("Ebbmark 6", kind=Kind.FRAME, slots="A B", pockets="P"))
    trunk = make_case("HER-14", make_case_type("Trunk"))
    vans = [make_case(name, make_case_type("Box van", kind=Kind.VEHICLE)) for name in ("Teasel", "Meadowrue")]
    plain_item = make_item(number="PANE")
    drives = [make_drive(f"71B0{n}K", number=f"D-{n}", home_case=boxes[0] if n == 0 else None) for n in range(3)]
    lot = make_item(make_type("Cord 2 m", is_lot=True), quantity=20, number="CORDS")
    for phone, name in zip(PHONES, ("Ana Rell", "Pim Osgood"), strict=True):
        Device.objects.create(id=phone, name=name, token_hash=name.ljust(64, "x"), joined_at=T0)
    DayPass.objects.create(
        reference="FJELL", code="K7", verbs="seen", valid_from=T0, valid_until=RECEIVED, made_by="Ida", made_at=T0
    )
    holders = [*boxes, frame, trunk, *vans, plain_item]
    return Cast(
        drives=[one.pk for one in drives], boxes=[one.pk for one in boxes], frame=frame.pk, trunk=trunk.pk,
        vans=[one.pk for one in vans], lot=lot.pk, plain=plain_item.pk,
        inside={one.pk: inside_of(one).pk for one in holders},
        rooms=[make_place("Mill Yard").pk, make_place("Quay Unit").pk], phones=PHONES,
    )  # fmt: skip


class Stage:
    """Delivers stories to the database, each in a transaction of its own that is thrown away."""

    def __init__(self, cast: Cast) -> None:
        self.cast = cast
        self.labels = {label.item_id: label for label in Label.objects.all()}
        self.the_pass = DayPass.objects.get().pk

    def entry(self, one: Told) -> Entry:
        """Every other one comes with its code's row, as scans do: whose code it is is known without looking."""
        label = self.labels.get(one.item)
        code = {"label": label} if one.id.int % 2 else {"label_id": label.pk if label else None}
        return Entry(
            id=one.id, act=one.act, verb=one.verb, **code, place_id=one.place, bay=one.bay,
            seal=one.seal, quantity=one.quantity, grade=one.grade, happened_at=one.at, stated=one.stated,
            device_id=one.device, device_seq=one.seq, offset_ms=one.offset, by="Ana Rell",
            role=Role.KIT_MANAGER if one.role == "kit manager" else Role.CREW, corrects=one.corrects,
            reference=one.reference, condition=one.condition,
            day_pass_id=self.the_pass if one.by_pass else None,
        )  # fmt: skip

    def deliver(self, batches: list[list[Told]]) -> bool:
        """True when a correction came in before any entry of the act it takes back."""
        seen: set[UUID] = set()
        early = False
        for batch in batches:
            known = {one.act for b in batches for one in b if one.id in seen} | {one.act for one in batch}
            new = ledger.append([self.entry(one) for one in batch], RECEIVED)
            assert new == {one.id for one in batch} - seen
            early |= any(one.id in new and one.corrects and one.corrects not in known for one in batch)
            seen |= new
        return early


def stored() -> list[dict]:
    return list(Holding.objects.filter(entry__isnull=False).order_by("pk").values())
