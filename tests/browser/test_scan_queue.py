"""The queue of scans on a phone, driven through every state that its rows can have, against a model of a few lines.

A row is *unsent* (on the disk), *spare* (the store refused it; in memory only), *refused* (the server could not read
it; kept and shown) or *sent* (answered). What nobody answered never vanishes, except that a page which is left takes
its spare rows with it: that is why leaving warns.
"""

from __future__ import annotations

import os
import random
from collections import Counter
from itertools import pairwise
from typing import Any
from uuid import UUID

import pytest

MORE = int(os.environ.get("STORIES", "1"))
ME, OTHER = str(UUID(int=1)), str(UUID(int=2))
OPEN = """async (me) => {
    const { Outbox } = await import('/static/shipping/scan/outbox.js');
    window.now = 1773493200000;
    window.fresh = async () => {
        const outbox = await new Outbox(() => window.now).start();
        outbox.phone = { device: me };
        return outbox;
    };
    window.full = async (work) => {
        const add = IDBObjectStore.prototype.add;
        IDBObjectStore.prototype.add = () => { throw new DOMException('full', 'QuotaExceededError'); };
        try { return await work(); } finally { IDBObjectStore.prototype.add = add; }
    };
    window.boxes = [await window.fresh(), await window.fresh()];
    const wipe = indexedDB.open('stowbook-scan');
    const db = await new Promise((ok) => { wipe.onsuccess = () => ok(wipe.result); });
    await new Promise((ok) => {
        const change = db.transaction(['scans', 'drawer', 'photos'], 'readwrite');
        ['scans', 'drawer', 'photos'].forEach((name) => change.objectStore(name).clear());
        change.oncomplete = ok;
    });
    db.close();
    window.boxes = [await window.fresh(), await window.fresh()];
    for (const box of window.boxes) await box.keep('phone', { device: me });
}"""
ADD = """async ([box, count, full, jump]) => {
    window.now += jump;
    const drafts = Array.from({ length: count }, (_, n) => ({ verb: 'seen', code: 'CASE' + n }));
    const work = () => window.boxes[box].add(drafts, { word: 'good', sentence: 'seen' });
    return full ? window.full(work) : work();
}"""
ROWS = "async () => (await Promise.all(window.boxes.map(box => box.all()))).map(rows => rows.map(row => ({...row})))"


ODDS = {
    "scan": 8, "scan with a full store": 2, "answered": 4, "unreadable": 1, "tidied": 2, "left": 2, "undone": 2,
    "taken over": 3, "short of room": 2,
}  # fmt: skip
WANTED = (
    "a full store", "a clock set back", "answered from memory", "refused by the server", "left with spare rows",
    "undone", "taken over", "offered again", "let go",
)  # fmt: skip


class Queue:
    """Two windows of one phone's page, and another phone that hands its scans over: what they must hold."""

    def __init__(self, ask: Any, chance: random.Random, shares: Counter[str]) -> None:
        self.ask, self.chance, self.shares = ask, chance, shares
        self.state: dict[str, str] = {}
        self.spare: dict[str, int] = {}  # id -> the window that holds it in memory
        self.theirs: set[str] = set()
        self.once_spare: set[str] = set()
        self.acts: list[str] = []
        self.ask(OPEN, ME)

    def step(self) -> None:
        act, box = self.chance.choices(list(ODDS), list(ODDS.values()))[0], self.chance.randrange(2)
        getattr(self, act.replace(" ", "_"))(box)
        self.check()

    def scan(self, box: int, *, full: bool = False) -> None:
        """Scans are stored in order; a clock that goes back changes nothing of that."""
        count, jump = self.chance.randint(1, 4), self.chance.choice([0, 1, 900, -3_600_000])
        rows = self.ask(ADD, [box, count, full, jump])
        wanted = "spare" if full else "unsent"
        assert [row["state"] for row in rows] == [wanted] * count
        assert len({row["act"] for row in rows}) == 1
        stamps = [row["at"] for row in rows]
        assert stamps == sorted(set(stamps))
        self.state |= {row["id"]: wanted for row in rows}
        self.acts.append(rows[0]["act"])
        if full:
            self.spare |= {row["id"]: box for row in rows}
            self.once_spare |= {row["id"] for row in rows}
        self.shares["a full store"] += full
        self.shares["a clock set back"] += jump < 0

    def scan_with_a_full_store(self, box: int) -> None:
        self.scan(box, full=True)

    def waiting(self, box: int | None = None) -> list[str]:
        """On the disk and unanswered, or in this window's memory."""
        held = [pk for pk, holder in self.spare.items() if holder == box]
        return [pk for pk, word in self.state.items() if word == "unsent" and pk not in held] + held

    def answered(self, box: int) -> None:
        """The server answers some of what waits, perhaps twice, perhaps with an id nobody here has."""
        waiting = self.waiting(box)
        ids = self.chance.choices(waiting, k=self.chance.randint(1, 6)) if waiting else []
        receipts = [{"id": pk, "receipt": "stored", "says": "good", "sentence": "there"} for pk in ids]
        if self.chance.random() < 0.3:
            receipts.append({"id": str(UUID(int=99)), "receipt": "stored", "says": "good", "sentence": "whose?"})
        self.ask("([box, receipts]) => window.boxes[box].answered(receipts)", [box, receipts])
        self.state |= dict.fromkeys(ids, "sent")
        self.shares["answered from memory"] += any(pk in self.spare for pk in ids)
        if box in self.spare.values():
            self.kept(box)  # an answer is when the page tries its store again

    def unreadable(self, box: int) -> None:
        if waiting := self.waiting():
            pk = self.chance.choice(waiting)
            self.ask("([box, id]) => window.boxes[box].refused(id, 'no')", [box, pk])
            self.state[pk] = "refused"
            self.shares["refused by the server"] += 1

    def tidied(self, box: int) -> None:
        self.ask("box => window.boxes[box].tidy()", box)
        self.kept(box)

    def kept(self, box: int) -> None:
        """What this window held in memory is on the disk now."""
        for pk in [pk for pk, holder in self.spare.items() if holder == box]:
            del self.spare[pk]
            if self.state[pk] == "spare":
                self.state[pk] = "unsent"

    def left(self, box: int) -> None:
        """The page is reloaded: what only its memory had is gone, as its warning said; nothing else is."""
        self.ask("async box => { window.boxes[box] = await window.fresh(); }", box)
        for pk in [pk for pk, holder in self.spare.items() if holder == box]:
            del self.spare[pk], self.state[pk]
            self.shares["left with spare rows"] += 1

    def undone(self, box: int) -> None:
        if self.acts:
            act = self.acts.pop(self.chance.randrange(len(self.acts)))
            [row] = self.ask("([box, act]) => window.boxes[box].undo(act, 'x')", [box, act])
            assert row["body"]["corrects"] == act
            self.state[row["id"]] = "unsent"
            self.shares["undone"] += 1

    def taken_over(self, box: int) -> None:
        """Another phone's scans, some perhaps here already: each is held once, under its maker."""
        numbers = self.chance.sample(range(1, 10), self.chance.randint(1, 5))
        bodies = [
            {"id": str(UUID(int=n << 80 | 7 << 76 | 2 << 62)), "verb": "seen", "code": "K", "device_seq": n,
             "happened_at": "2026-03-14T12:00:00Z"}
            for n in numbers
        ]  # fmt: skip
        fresh = [body["id"] for body in bodies if body["id"] not in self.state]
        took = self.ask("([box, maker, bodies]) => window.boxes[box].take(maker, bodies)", [box, OTHER, bodies])
        assert took == len(fresh)
        self.state |= dict.fromkeys(fresh, "unsent")
        self.theirs |= set(fresh)
        self.shares["taken over"] += bool(fresh)
        self.shares["offered again"] += len(fresh) < len(bodies)

    def short_of_room(self, box: int) -> None:
        """Only answered rows make room; which ones is the page's affair."""
        before = [pk for pk, word in self.state.items() if word == "sent" and pk not in self.spare]
        self.ask("([box, keep]) => window.boxes[box].makeRoom(keep)", [box, self.chance.randrange(4)])
        there = {row["id"] for row in self.ask(ROWS, None)[box]}
        gone = {pk for pk in before if pk not in there}
        self.state = {pk: word for pk, word in self.state.items() if pk not in gone}
        self.theirs -= gone  # theirs may be offered, and taken, once more
        self.shares["let go"] += len(gone)

    def check(self) -> None:
        """Both windows hold what they must, each scan once, and say so in numbers."""
        for box, rows in enumerate(self.ask(ROWS, None)):
            wanted = {pk: word for pk, word in self.state.items() if self.spare.get(pk, box) == box}
            assert {row["id"]: row["state"] for row in rows} == wanted
            assert len(rows) == len(wanted), "one scan twice"
            self.in_order(rows)
            self.counted(box)

    def in_order(self, rows: list[dict[str, Any]]) -> None:
        """This phone's own: each has a step of its own, and later steps have later ids and stamps.

        A window whose store is full cannot tell the other one which step it took: two scans may then share a step;
        the book keeps both and shows it as a finding.
        """
        mine = sorted((row for row in rows if row["mine"]), key=lambda row: row["seq"])
        told = [row for row in mine if row["id"] not in self.once_spare]
        for earlier, later in pairwise(told):
            assert earlier["at"] < later["at"] and earlier["id"] < later["id"] and earlier["seq"] < later["seq"]
        assert all(row["maker"] == ME and "device" not in row["body"] for row in mine)
        assert all(row["body"]["device"] == OTHER for row in rows if row["id"] in self.theirs)

    def counted(self, box: int) -> None:
        counts = self.ask("box => window.boxes[box].counts()", box)
        on_disk = [word for pk, word in self.state.items() if pk not in self.spare]
        spare = [pk for pk, holder in self.spare.items() if holder == box and self.state[pk] == "spare"]
        wanted = {"refused": on_disk.count("refused"), "unsent": on_disk.count("unsent") + len(spare)}
        assert counts == {**wanted, "spare": len(spare), "saved": len(on_disk)}


@pytest.fixture
def ask(visitors):
    def run(source: str, given: Any) -> Any:
        def evaluate(page: Any) -> Any:
            if "/sign-in/" not in page.url:
                page.goto("/sign-in/")
            return page.evaluate(source, given)

        return visitors.do("stranger", evaluate)

    return run


def test_no_order_of_events_loses_or_doubles_a_scan(ask, db):
    shares: Counter[str] = Counter()
    for seed in range(3 * MORE):
        queue = Queue(ask, random.Random(seed), shares)
        for _ in range(50):
            queue.step()
    print("", *(f"  {name}: {count}" for name, count in sorted(shares.items())), sep="\n")  # noqa: T201
    for name in WANTED:
        assert shares[name] > 0, name
