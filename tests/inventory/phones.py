"""Phones of a night as the ledger's rules describe them, and a night drawn by Hypothesis. Shares nothing with the page.

Each phone has a clock of its own that may be wrong from the start, set anew, reset to 1970 or frozen; it learns the
difference to the server's only at a contact. Scans go up in any portions, answers get lost, and any phone may hand what
it holds to another, which sends it under the maker's name.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from hypothesis import strategies as st

from tests.factories import T0
from tests.inventory.replay import Told

EPOCH = datetime(1970, 1, 1, tzinfo=T0.tzinfo)
MILLISECOND = timedelta(milliseconds=1)
SKEWS = [timedelta(0), timedelta(minutes=-47), timedelta(hours=1), timedelta(seconds=90), timedelta(days=3)]
PASSING = [MILLISECOND * 40, timedelta(seconds=9), timedelta(minutes=3), timedelta(minutes=26)]
STEPS = (
    ["scan"] * 9 + ["seal", "break seal", "take back", "take back", "miss"] + ["contact"] * 3 + ["send"] * 5
    + ["hand over"] * 3 + ["set clock", "reset clock", "freeze clock", "wake clock", "load twice"]
)  # fmt: skip


@dataclass
class Phone:
    """A clock, a step, a last stamp, and what it holds unanswered: its own scans and those taken over."""

    id: UUID
    token: str
    number: int
    skew: timedelta
    offset: timedelta | None = None
    last: datetime = EPOCH
    seq: int = 0
    reset_at: datetime | None = None
    frozen_at: datetime | None = None
    held: list[dict[str, Any]] = field(default_factory=list)

    def clock(self, now: datetime) -> datetime:
        """What it shows at this true time, in whole milliseconds."""
        if self.frozen_at is not None:
            return self.frozen_at
        if self.reset_at is not None:
            return EPOCH + (now - self.reset_at)
        return now + self.skew

    def contact(self, now: datetime) -> None:
        self.offset = now - self.clock(now)

    def stamp(self, now: datetime) -> datetime:
        self.last = max(self.clock(now) + (self.offset or timedelta(0)), self.last + MILLISECOND)
        return self.last


@dataclass
class Night:
    """`told` is what was really scanned, in true order; `first` the moment each scan first reached the server."""

    phones: list[Phone]
    codes: dict[int, str]
    places: dict[int, str]
    world: Any
    draw: Any
    now: datetime = T0
    made: list[dict[str, Any]] = field(default_factory=list)
    maker: dict[UUID, Phone] = field(default_factory=dict)
    first: dict[UUID, datetime] = field(default_factory=dict)
    sent: list[tuple[Phone, list[dict[str, Any]], datetime]] = field(default_factory=list)
    seen: set[str] = field(default_factory=set)

    def pick(self, things: Any) -> Any:
        return self.draw(st.sampled_from(list(things)))

    def step(self, act: str) -> None:
        getattr(self, act.replace(" ", "_"))(self.pick(self.phones))
        self.now += self.pick(PASSING)

    def tell(self, phone: Phone, verb: str, item: int | None, **over: Any) -> dict[str, Any]:
        own = phone.clock(self.now)
        stamp, phone.seq = phone.stamp(self.now), phone.seq + 1
        millisecond = (stamp - EPOCH) // MILLISECOND
        made = UUID(int=millisecond << 80 | 7 << 76 | 2 << 62 | phone.number << 48 | phone.seq)
        body = {
            "id": str(made), "verb": verb, "taken_at": own.isoformat(), "happened_at": stamp.isoformat(),
            "device_seq": phone.seq, **({"code": self.codes[item]} if item else {}), **over,
        }  # fmt: skip
        if phone.offset is not None:
            body["offset_ms"] = phone.offset // MILLISECOND
        phone.held.append(body)
        self.made.append(body)
        self.maker[made] = phone
        return body

    def scan(self, phone: Phone) -> None:
        cast = self.world
        what = self.pick(["drive", "drive", "case", "look"])
        if what == "drive":
            box = self.pick([*cast.boxes, cast.frame])
            verb = "fitted" if box == cast.frame else "packed"
            place = self.places[cast.inside[box]]
            self.tell(phone, verb, self.pick(cast.drives), place=place, bay=self.pick(["A", "B", "P"]))
        elif what == "case":
            room = self.pick([*cast.rooms, *(cast.inside[van] for van in cast.vans)])
            self.tell(phone, "loaded", self.pick([*cast.boxes, cast.trunk]), place=self.places[room])
        else:
            self.tell(phone, "seen", self.pick([*cast.drives, *cast.boxes]))

    def load_twice(self, phone: Phone) -> None:
        case = self.pick([*self.world.boxes, self.world.trunk])
        for one, van in zip([phone, self.pick(self.phones)], self.world.vans, strict=True):
            self.tell(one, "loaded", case, place=self.places[self.world.inside[van]])

    def seal(self, phone: Phone) -> None:
        self.tell(phone, "sealed", self.pick(self.world.boxes), seal=self.pick(["1", "2"]))

    def break_seal(self, phone: Phone) -> None:
        self.tell(phone, "seal broken", self.pick(self.world.boxes))

    def miss(self, phone: Phone) -> None:
        self.tell(phone, "missed", self.pick(self.world.drives))

    def take_back(self, phone: Phone) -> None:
        if self.made:
            self.tell(phone, "corrected", None, corrects=self.pick(self.made[-8:])["id"])

    def contact(self, phone: Phone) -> None:
        phone.contact(self.now)

    def set_clock(self, phone: Phone) -> None:
        phone.skew, phone.reset_at, phone.frozen_at = self.pick(SKEWS), None, None
        self.seen.add("clocks set anew")

    def reset_clock(self, phone: Phone) -> None:
        phone.reset_at, phone.frozen_at = self.now, None
        self.seen.add("clocks reset to 1970")

    def freeze_clock(self, phone: Phone) -> None:
        phone.frozen_at = phone.clock(self.now)
        self.seen.add("clocks frozen")

    def wake_clock(self, phone: Phone) -> None:
        phone.frozen_at = None

    def hand_over(self, phone: Phone) -> None:
        """The other phone holds them too from now on, under the maker's name; none is held twice."""
        other = self.pick(self.phones)
        if other is phone or not phone.held:
            return
        known = {body["id"] for body in other.held}
        for body in phone.held[: self.draw(st.integers(1, len(phone.held)))]:
            if body["id"] not in known:
                other.held.append({**body, "device": str(self.maker[UUID(body["id"])].id)})
        self.seen.add("hand-overs")

    def send(self, phone: Phone, *, most: int | None = None) -> None:
        """Some of what it holds, oldest first; the answer may be lost, and the same goes up again."""
        if not phone.held:
            return
        size = most or self.draw(st.integers(1, len(phone.held)))
        self.upload(phone, phone.held[:size])
        if most is None and self.draw(st.integers(0, 3)) == 0:
            self.seen.add("answers lost")
            return
        del phone.held[:size]

    def upload(self, phone: Phone, bodies: list[dict[str, Any]]) -> None:
        self.sent.append((phone, list(bodies), self.now))
        for body in bodies:
            self.first.setdefault(UUID(body["id"]), self.now)

    def finish(self) -> None:
        """Every phone gets through at last, in any order, and what was stuck on the way arrives once more."""
        for phone in self.draw(st.permutations(self.phones)):
            self.now += timedelta(minutes=1)
            self.send(phone, most=len(phone.held))
        if self.sent:
            phone, bodies, _ = self.pick(self.sent)
            self.sent.append((phone, bodies, self.now + timedelta(minutes=1)))

    def accepted_at(self, one: UUID) -> datetime:
        body = next(body for body in self.made if body["id"] == str(one))
        return min(datetime.fromisoformat(body["happened_at"]), self.first[one])

    def as_told(self) -> list[Told]:
        """The same facts for the naive replay, each at the moment that the book must have stored."""
        items = {code: item for item, code in self.codes.items()}
        rooms = {words: place for place, words in self.places.items()}
        return [self._told(body, items, rooms) for body in self.made]

    def _told(self, body: dict[str, Any], items: dict[str, int], rooms: dict[str, int]) -> Told:
        made = UUID(body["id"])
        corrects = body.get("corrects")
        return Told(
            id=made, act=made, verb=body["verb"], at=self.accepted_at(made), item=items.get(body.get("code")),
            place=rooms.get(body.get("place")), bay=body.get("bay", ""), seal=body.get("seal", ""),
            device=self.maker[made].id, seq=body["device_seq"], offset=body.get("offset_ms"), by_pass=True,
            corrects=UUID(corrects) if corrects else None,
        )  # fmt: skip


@st.composite
def nights(draw: Any, night: Any, most: int) -> Night:
    made: Night = night(draw)
    for act in draw(st.lists(st.sampled_from(STEPS), min_size=most // 2, max_size=most)):
        made.step(act)
    made.finish()
    return made
