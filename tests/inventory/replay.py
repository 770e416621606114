"""What a set of entries means, the slow and obvious way: sort by K, look at everything, remember nothing.

Written from the ledger's rules alone, for tests only; it shares no code with the answers it judges. `World` is what
does not change (what things are, where insides lead); `Told` is one entry as its maker made it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

SIGHT = ("scan", "tick")
NEVER = ("missed", "amended", "signed", "corrected")


@dataclass(frozen=True)
class Told:
    id: UUID
    act: UUID
    verb: str
    at: datetime
    grade: str = "scan"
    item: int | None = None
    place: int | None = None
    bay: str = ""
    seal: str = ""
    quantity: int | None = None
    device: UUID | None = None
    seq: int | None = None
    offset: int | None = None
    stated: bool = False
    role: str = "crew"
    by_pass: bool = False
    corrects: UUID | None = None
    reference: str = ""
    condition: str = ""

    @property
    def k(self) -> tuple:
        return (self.at, self.id)


@dataclass(frozen=True)
class World:
    kinds: dict[int, str]  # item -> kind
    inside: dict[int, int]  # place -> the item it is the inside of
    holds: frozenset[int]  # items that are containers
    single: frozenset[tuple[int, str]]  # (item, bay or slot that holds one)
    homes: dict[int, int] = field(default_factory=dict)  # item -> home case
    lots: frozenset[int] = frozenset()
    counts: dict[int, int] = field(default_factory=dict)


class Replay:
    """`told` in any order, twice or not."""

    def __init__(self, world: World, told: list[Told], at: datetime) -> None:
        self.world = world
        self.all = list({one.id: one for one in reversed(told)}.values())
        self.live = sorted((e for e in self.all if self.stands(e) and e.at <= at), key=lambda e: e.k)
        self.memo: dict[Any, Any] = {}

    # P4
    def stands(self, e: Told) -> bool:
        if e.verb == "corrected":
            return False
        if e.verb == "amended":
            return True
        for c in self.all:
            if c.verb == "corrected" and c.corrects == e.act:
                if c.device is not None and c.device == e.device:
                    return False
                if c.role == "kit manager" and not c.by_pass:
                    return False
        return True

    # P5
    def moves(self, e: Told) -> bool:
        if e.place is None or e.verb in NEVER:
            return False
        into = self.world.inside.get(e.place)
        if into is None:
            return True
        if into == e.item or into not in self.world.holds:
            return False
        return self.world.kinds[e.item] != "vehicle" or self.world.kinds[into] == "vehicle"

    def sees(self, e: Told) -> bool:
        return e.grade in SIGHT and e.verb not in NEVER and (e.place is None or self.moves(e))

    def placings(self, item: int, n: int) -> list[Told]:
        """Of the first n live entries."""
        found = [e for e in self.live[:n] if e.item == item and self.moves(e)]
        if all(e.grade == "import" for e in found):
            return found
        return [e for e in found if e.grade != "import"]

    def holder(self, item: int, n: int) -> Told | None:
        found = self.placings(item, n)
        return found[-1] if found else None

    # P6
    def up(self, item: int, n: int, plans: bool = False) -> tuple[list[int], list[int]]:
        """(things from the item outward, the cycle met)."""
        way = [item]
        while True:
            h = self.holder(way[-1], n)
            home = self.world.homes.get(way[-1]) if plans else None
            into = self.world.inside.get(h.place) if h is not None else home
            if into is None:
                return way, []
            if into in way:
                cycle = way[way.index(into) :]
                oldest = min(cycle, key=lambda i: self.link_age(i, n))
                return way[: way.index(oldest) + 1], cycle
            way.append(into)

    def link_age(self, item: int, n: int) -> tuple:
        h = self.holder(item, n)
        return (0,) if h is None else (1, h.at, h.id)

    # P7
    def stay(self, item: int, n: int) -> list[Told]:
        found = self.placings(item, n)
        run: list[Told] = []
        for e in reversed(found):
            if e.place != found[-1].place:
                break
            run.insert(0, e)
        return run

    def bay(self, item: int) -> str:
        n = len(self.live)
        named = [e for e in self.stay(item, n) if e.bay]
        if not named:
            return ""
        mine = named[-1]
        into = self.world.inside.get(mine.place)
        if (into, mine.bay) in self.world.single:
            for other in self.world.kinds:
                for e in self.placings(other, n):
                    if other != item and e.place == mine.place and e.bay == mine.bay and e.k > mine.k:
                        return ""
        return mine.bay

    # P8
    def seal(self, c: int, n: int) -> Told | None:
        found = [e for e in self.live[:n] if e.item == c and e.verb == "sealed"]
        return found[-1] if found else None

    def opens(self, c: int, n: int) -> bool:
        """Is the n-th live entry an opener of c?"""
        if (c, n) not in self.memo:
            self.memo[c, n] = self._opens(c, n)
        return self.memo[c, n]

    def _opens(self, c: int, n: int) -> bool:
        e, s = self.live[n], self.seal(c, n)
        if e.item == c:
            other_number = s is not None and e.seal not in ("", s.seal)
            if e.verb == "seal broken":
                return True
            if e.verb == "sealed":
                return self.sealed(c, n) and other_number
            return other_number and e.grade in SIGHT and e.verb not in NEVER
        if e.item is None or not self.sees(e):
            return False
        was_in = c in self.up(e.item, n)[0][1:]
        is_in = e.place is not None and c in self.up(e.item, n + 1)[0][1:]
        straight_in = is_in and not was_in and self.world.inside.get(e.place) == c
        if straight_in and s is not None and e.device != s.device and e.at - s.at <= timedelta(seconds=60):
            return False
        return was_in or is_in

    def sealed(self, c: int, n: int) -> bool:
        """After the first n entries."""
        s = self.seal(c, n)
        return s is not None and not any(self.live[m].k > s.k and self.opens(c, m) for m in range(n))

    def leaves(self, c: int, n: int) -> bool:
        """Does the n-th entry, a scan or tick, place something out of c?"""
        e = self.live[n]
        if e.item in (None, c) or not self.moves(e) or not self.sees(e):
            return False
        h = self.holder(e.item, n)
        return h is not None and self.world.inside.get(h.place) == c and e.place != h.place

    def openings(self, c: int) -> list[int]:
        """Everything that last_open is the greatest of, as positions."""
        everything = range(len(self.live))
        found = set()
        if self.world.kinds[c] == "vehicle":
            for p in everything:
                if self.live[p].item == c and self.moves(self.live[p]):
                    found |= set([m for m in everything if m > p and self.leaves(c, m)][:1])
            return sorted(found)
        for p in everything:
            if self.live[p].item == c and self.live[p].verb == "sealed":
                found |= set([m for m in everything if m > p and self.opens(c, m)][:1])
        found |= {m for m in everything if self.leaves(c, m) and not self.sealed(c, m)}
        return sorted(found)

    def moved(self, c: int) -> Told | None:
        if self.world.kinds[c] in ("frame", "vehicle"):
            return None
        found = None
        for n, e in enumerate(self.live):
            if e.item == c and self.moves(e) and not self.sealed(c, n):
                was, now = self.holder(c, n), self.holder(c, n + 1)
                if was is not None and now is e and was.place != e.place:
                    found = e
        return found

    # P9
    def link(self, item: int) -> dict[str, Any] | None:
        n = len(self.live)
        stay = self.stay(item, n)
        if not stay:
            home = self.world.homes.get(item)
            return None if home is None else self.words(item, self.room(home), "planned only")
        seen = [e for e in self.live if e.item == item and self.sees(e) and e.k >= stay[0].k]
        ev = seen[-1] if seen else None
        c = self.world.inside.get(stay[-1].place)
        strength, remark = self.in_there(ev, c)
        if self.dispute(item):
            strength, remark = "in dispute", ""
        if self.missing(item):
            strength, remark = "missing", ""
        s = self.seal(c, n) if c is not None and self.sealed(c, n) else None
        number = s.seal if s else ""
        return self.words(item, stay[-1].place, strength, self.bay(item), number, remark, stay[-1], ev)

    def in_there(self, ev: Told | None, c: int | None) -> tuple[str, str]:
        if ev is None:
            return "said", ""
        if c is None:
            return "seen", ""
        after = [m for m in self.openings(c) if self.live[m].k > ev.k]
        if after:
            m = after[0]
            alone = len(after) == 1 and self.sealed(c, m) and self.opens(c, m) and self.leaves(c, m)
            return "was in here", "or was never in there" if alone and self.world.kinds[c] != "vehicle" else ""
        s = self.seal(c, len(self.live))
        if s is not None and ev.k < s.k and self.sealed(c, len(self.live)):
            return "sealed in", ""
        m = self.moved(c)
        return ("carried", "") if m is not None and m.k > ev.k else ("seen", "")

    def room(self, case: int) -> int:
        return next(place for place, item in self.world.inside.items() if item == case)

    def words(self, item, place, strength, bay="", seal="", remark="", placing=None, ev=None) -> dict[str, Any]:  # noqa: PLR0913
        return {
            "item": item,
            "place": place,
            "bay": bay,
            "strength": strength,
            "seal": seal,
            "remark": remark,
            "placing": placing and placing.id,
            "evidence": ev and ev.id,
            "doubtful": (ev or placing) is not None and self.doubt((ev or placing).id) is not None,
        }

    def missing(self, item: int) -> bool:
        heard = [
            e for e in self.live if e.item == item and (e.verb in ("missed", "found") or self.moves(e) or self.sees(e))
        ]
        return bool(heard) and heard[-1].verb == "missed"

    # P10
    def dispute(self, item: int) -> tuple[UUID, UUID] | None:
        found = self.placings(item, len(self.live))
        later = [
            e
            for b, e in zip([None, *found], found, strict=False)
            if b is None or (b.device, b.verb, b.place) != (e.device, e.verb, e.place)
        ]
        if len(later) < 2:
            return None
        a, b = later[-2:]
        if a.device == b.device or a.verb != b.verb or a.verb not in ("loaded", "fitted", "packed"):
            return None
        if a.place == b.place:
            return None
        if b.at - a.at > timedelta(minutes=30) + sum((self.doubt(e.id) or timedelta() for e in (a, b)), timedelta()):
            return None
        for e in self.live:
            if e.item == item and a.k < e.k < b.k and e.verb in ("pulled", "unloaded", "placed"):
                return None
        return (a.id, b.id)

    # P2
    def doubt(self, entry: UUID) -> timedelta | None:
        e = next(one for one in self.all if one.id == entry)
        if e.device is None or e.seq is None or e.offset is None or e.stated:
            return None
        later = [
            one
            for one in self.all
            if one.device == e.device and one.seq is not None and one.seq > e.seq and one.offset is not None
        ]
        for one in sorted(later, key=lambda one: one.seq):
            if one.offset != e.offset:
                off = timedelta(milliseconds=abs(one.offset - e.offset))
                return off if off > timedelta(minutes=5) else None
        return None

    # P11
    def count(self, item: int) -> int:
        if item in self.world.lots:
            for e in reversed(self.live):
                if e.item == item and e.verb == "counted":
                    return e.quantity
        return self.world.counts.get(item, 1)

    def chain(self, item: int) -> list[dict[str, Any]]:
        n = len(self.live)
        way, cycle = self.up(item, n, plans=True)
        links = [link for one in way if (link := self.link(one)) is not None]
        if cycle:
            was = links[-1]["place"]
            worst = "missing" if links[-1]["strength"] == "missing" else "place unknown"
            links[-1] |= {"place": None, "bay": "", "seal": "", "strength": worst, "remark": f"was in {was}"}
        return links

    def stored(self, item: int) -> tuple[int | None, str, UUID | None]:
        """The Holding row: loops and disputes left to whoever asks."""
        h = self.holder(item, len(self.live))
        return (h.place, self.bay(item), h.id) if h else (None, "", None)
