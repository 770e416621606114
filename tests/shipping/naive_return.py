"""What left with a show and came back, the slow and obvious way: sort by K, walk every chain anew. For tests only."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from tests.inventory.replay import Replay, Told


@dataclass(frozen=True)
class NaiveReturn:
    """`stores`: the places that are a store of ours or part of one. `reference`: the show."""

    replay: Replay
    reference: str
    stores: frozenset[int]

    def around(self, item: int, n: int) -> tuple[list[int], int | None]:
        """By the first n live entries: the thing and what it is in, outward, and the place at the end if known."""
        way, cycle = self.replay.up(item, n, plans=True)
        newest = self.replay.holder(way[-1], n)
        return way, None if cycle or newest is None else newest.place

    @cached_property
    def left(self) -> dict[int, int]:
        """Each thing that a departure from a store took along, and which live entry did so last."""
        found: dict[int, int] = {}
        for n, one in enumerate(self.replay.live):
            if one.verb != "departed" or one.reference != self.reference or not self.replay.moves(one):
                continue
            if self.around(one.item, n)[1] not in self.stores:
                continue
            for item, kind in self.replay.world.kinds.items():
                if kind != "vehicle" and one.item in self.around(item, n + 1)[0]:
                    found[item] = n
        return found

    def since(self, item: int) -> list[tuple[int, Told]]:
        """Its own live entries after it last left."""
        return [(n, one) for n, one in enumerate(self.replay.live) if n > self.left[item] and one.item == item]

    def is_back(self, item: int) -> bool:
        """Has anybody scanned or ticked the thing itself in a store since?"""
        looks = [n for n, one in self.since(item) if self.replay.sees(one)]
        return any(self.around(item, n + 1)[1] in self.stores for n in looks)

    def stands_in_store(self, item: int) -> bool:
        return self.around(item, len(self.replay.live))[1] in self.stores

    def newest_word(self, item: int, *verbs: str) -> str:
        """The newest of its verbs since it left, among these; "" if there is none."""
        return next((one.verb for _, one in reversed(self.since(item)) if one.verb in verbs), "")

    def is_missing(self, item: int) -> bool:
        """Is the newest word of where it is since it left, that somebody looked and did not find it?"""
        found = [e for _, e in self.since(item) if e.verb in ("missed", "found") or self.tells(e)]
        return bool(found) and found[-1].verb == "missed"

    def tells(self, one: Told) -> bool:
        return self.replay.sees(one) or self.replay.moves(one)

    def seen_before(self, item: int) -> bool:
        """Did anybody scan or tick it in the stay in which it left, and nobody miss it after that?"""
        then = self.left[item] + 1
        stay = self.replay.stay(item, then)
        own = [e for e in self.replay.live[:then] if stay and e.item == item and e.k >= stay[0].k]
        words = [e for e in own if e.verb in ("missed", "found") or self.replay.sees(e)]
        return bool(words) and words[-1].verb != "missed" and any(self.replay.sees(e) for e in words)
