"""Stories of a night for property tests: who recorded what, on which phone, sent when. Made by Hypothesis."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from uuid import UUID

from hypothesis import strategies as st

from tests.factories import T0
from tests.inventory.replay import Told

# What happens, by how often it should be tried.
ACTS = (
    ["pack"] * 6 + ["move case"] * 4 + ["scan"] * 4 + ["seal"] * 3 + ["seal again", "break seal", "other seal"]
    + ["take out"] * 3 + ["load twice"] * 2 + ["loop", "bay contest", "correct", "correct"] + ["miss", "find", "count"]
    + ["cannot be", "clock jump", "late swap", "said", "import", "drive away"]
)  # fmt: skip
STEPS = [timedelta(0), timedelta(milliseconds=1), timedelta(seconds=20), timedelta(minutes=4), timedelta(minutes=25)]


@dataclass(frozen=True)
class Cast:
    """Ids of the things and places a story is about."""

    drives: list[int]
    boxes: list[int]
    frame: int
    trunk: int
    vans: list[int]
    lot: int
    plain: int
    inside: dict[int, int]
    rooms: list[int]
    phones: list[UUID]


@dataclass
class Story:
    """Grows entry by entry; `waiting` are acts that were corrected before they happened to be told."""

    cast: Cast
    draw: object
    told: list[Told] = field(default_factory=list)
    now: datetime = T0
    clock: dict[UUID, int] = field(default_factory=dict)
    seqs: dict[UUID, int] = field(default_factory=dict)

    def pick(self, things):
        return self.draw(st.sampled_from(list(things)))

    def tell(self, verb: str, item: int | None = None, place: int | None = None, **over) -> Told:
        device = over.pop("device", None) or self.pick([*self.cast.phones, None])
        if over.pop("desk", False):
            device = None
        number = len(self.told) + 1
        fields = {"act": UUID(int=number), "grade": "scan" if device else "tick", **over}
        if device:
            self.seqs[device] = self.seqs.get(device, 0) + 1
            fields |= {"device": device, "seq": self.seqs[device], "offset": self.clock.get(device, 0)}
        else:
            fields.setdefault("role", self.pick(["crew", "kit manager"]))
        entry_id = UUID(int=(self.draw(st.integers(0, 9)) << 64) + number)
        made = Told(id=entry_id, verb=verb, at=self.now, item=item, place=place, **fields)
        self.told.append(made)
        self.now += self.pick(STEPS)
        return made

    def step(self, act: str) -> None:
        getattr(self, act.replace(" ", "_"))()

    def any_place(self):
        return self.pick(self.cast.rooms)

    def container(self):
        return self.pick([*self.cast.boxes, self.cast.frame, self.cast.trunk])

    def pack(self):
        drive, box = self.pick(self.cast.drives), self.pick([*self.cast.boxes, self.cast.frame])
        verb = "fitted" if box == self.cast.frame else "packed"
        self.tell(verb, drive, self.cast.inside[box], bay=self.pick(["A", "B", "P", ""]))

    def move_case(self):
        case = self.container()
        where = [*self.cast.rooms, *(self.cast.inside[van] for van in self.cast.vans)]
        if case not in (self.cast.trunk, self.cast.frame):
            where.append(self.cast.inside[self.cast.trunk])
        self.tell(self.pick(["placed", "loaded", "unloaded", "packed"]), case, self.pick(where))

    def scan(self):
        self.tell(self.pick(["seen", "checked"]), self.pick([*self.cast.drives, self.container()]))

    def seal(self):
        self.tell("sealed", self.container(), seal=self.pick(["1", "2"]))

    def seal_again(self):
        case = self.container()
        self.tell("sealed", case, seal="3")
        self.tell("sealed", case, seal=self.pick(["3", "4", ""]))

    def break_seal(self):
        self.tell("seal broken", self.container())

    def other_seal(self):
        self.tell("seen", self.container(), seal=self.pick(["1", "9"]), grade=self.pick(["scan", "said"]))

    def take_out(self):
        self.tell(self.pick(["pulled", "placed"]), self.pick(self.cast.drives), self.any_place())

    def load_twice(self):
        case = self.pick([*self.cast.boxes, self.cast.trunk])
        for phone, van in zip(self.cast.phones, self.cast.vans, strict=True):
            self.tell("loaded", case, self.cast.inside[van], device=phone)

    def loop(self):
        one, two = self.cast.boxes[0], self.cast.trunk
        self.tell("packed", one, self.cast.inside[two])
        self.tell("packed", two, self.cast.inside[one])

    def bay_contest(self):
        box = self.pick([*self.cast.boxes, self.cast.frame])
        act = UUID(int=1000 + len(self.told))
        for drive in self.cast.drives[:2]:
            self.tell("fitted", drive, self.cast.inside[box], bay="A", act=act)

    def correct(self):
        if not self.told:
            return
        target = self.pick(self.told)
        by = self.pick(["own phone", "kit manager", "pass", "crew"])
        if by == "own phone" and target.device:
            self.tell("corrected", corrects=target.act, device=target.device)
        else:
            role = "kit manager" if by in ("kit manager", "pass") else "crew"
            self.tell("corrected", corrects=target.act, desk=True, role=role, by_pass=by == "pass")

    def miss(self):
        self.tell("missed", self.pick([*self.cast.drives, *self.cast.boxes]))

    def find(self):
        self.tell("found", self.pick(self.cast.drives), grade=self.pick(["said", "scan"]))

    def count(self):
        self.tell("counted", self.cast.lot, quantity=self.draw(st.integers(0, 9)))

    def cannot_be(self):
        thing, where = self.pick(
            [
                (self.cast.boxes[0], self.cast.boxes[0]),
                (self.cast.vans[0], self.cast.boxes[1]),
                (self.cast.drives[0], self.cast.plain),
            ]
        )
        self.tell("placed", thing, self.cast.inside[where])

    def clock_jump(self):
        phone = self.pick(self.cast.phones)
        self.clock[phone] = self.clock.get(phone, 0) + self.pick([60_000, 20 * 60_000])
        self.tell("seen", self.pick(self.cast.drives), device=phone)

    def late_swap(self):
        """Told now, at a stated time earlier than what is already in the ledger."""
        drive, box = self.pick(self.cast.drives), self.pick([*self.cast.boxes, self.cast.frame])
        made = self.tell("fitted", drive, self.cast.inside[box], bay=self.pick(["A", "B"]), desk=True)
        earlier = T0 + (made.at - T0) * self.draw(st.floats(0, 1))
        self.told[-1] = replace(made, at=earlier.replace(microsecond=0), stated=True)

    def said(self):
        self.tell("packed", self.pick(self.cast.drives), self.cast.inside[self.container()], grade="said", bay="B")

    def _import(self):
        self.tell("placed", self.pick(self.cast.drives), self.cast.inside[self.container()], grade="import", bay="A")

    def drive_away(self):
        van = self.pick(self.cast.vans)
        self.tell(self.pick(["departed", "arrived", "placed"]), van, self.any_place())


Story.import_ = Story._import


@st.composite
def stories(draw, cast: Cast, most: int = 22) -> list[Told]:
    story = Story(cast, draw)
    for act in draw(st.lists(st.sampled_from(ACTS), min_size=most // 3, max_size=most)):
        getattr(story, {"import": "import_"}.get(act, act.replace(" ", "_")))()
    return story.told


@st.composite
def deliveries(draw, told: list[Told]) -> list[list[Told]]:
    """The story in any order and split, parts of it twice, each phone's entries in its own order."""
    queues: dict[object, list[Told]] = {}
    for entry in told:
        queues.setdefault(entry.device or entry.id, []).append(entry)
    batches: list[list[Told]] = []
    waiting = [list(queue) for queue in queues.values()]
    while waiting:
        queue = draw(st.sampled_from(waiting))
        size = draw(st.integers(1, len(queue)))
        batches.append(queue[:size])
        if draw(st.integers(0, 3)) > 0:
            del queue[:size]  # else the answer was lost, and the same entries come again
        waiting = [one for one in waiting if one]
    return batches
