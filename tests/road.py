"""A night on the road, played out: several phones in real browsers, a real server, and everything that goes wrong.

    .venv/bin/python -m tests.road [--scans 10000] [--phones 4] [--seed 1] [--seeds 1] [--database postgres://…]
        [--record nights.jsonl]

Phones scan while networks come and go, pages reload, browsers and the server are killed with -9 in the middle of
uploads, answers are lost, uploads arrive twice, in pieces and again much later, clocks are wrong, stores are full, and
scans go from phone to phone. Afterwards every scan that a phone acknowledged must be in the ledger exactly once,
nothing may be in it that no phone made, each case must be where sorting all entries by time puts it, and the book's
own audit must find every place as a replay has it. On PostgreSQL three workers serve, on SQLite one with threads.

On a busy machine a browser may need minutes to start: its start is tried again and counted, never what a phone holds. A
night that could not be finished is told as such, with its reason, and its scans count for nothing. `--record` keeps a
line for each night as soon as it is over.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from uuid import UUID

from playwright.sync_api import BrowserContext, Error, Page, Route, sync_playwright
from playwright.sync_api import TimeoutError as PlaywrightTimeout

from tests.road_book import Server, misplaced

PATIENCE = 180_000  # ms: a browser that starts on a machine kept busy by others
ARGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"]
SKEW = "(() => { const now = Date.now; Date.now = () => now() + %d; })()"
SCAN = """async ([codes, full]) => {
    const add = IDBObjectStore.prototype.add;
    const made = [];
    for (const code of codes) {
        stowbook.last = null;
        stowbook.said = null;
        if (full) IDBObjectStore.prototype.add = () => { throw new DOMException('full', 'QuotaExceededError'); };
        try { await stowbook.take(code, 'handheld'); } finally { IDBObjectStore.prototype.add = add; }
        made.push([stowbook.said.act, stowbook.said.lost]);
    }
    return made;
}"""
STORED = "async () => (await stowbook.outbox.all()).filter(row => row.mine).map(row => [row.id, row.state])"


ELSEWHERE = "cases elsewhere than a replay in true order has them"
HARM = ("lost", "doubled", "in the ledger and on no phone", "still unsent", ELSEWHERE)


@dataclass(slots=True)
class Phone:
    """One phone: its profile on the disk outlives its browser. `acknowledged` are the scans it said it had."""

    name: str
    profile: Path
    skew: int
    context: BrowserContext | None = None
    page: Page | None = None
    acknowledged: set[str] = field(default_factory=set)
    spare: set[str] = field(default_factory=set)
    offline: bool = False


class Road:
    def __init__(self, driver: Any, server: Server, folder: Path, *, phones: int, seed: int) -> None:
        self.driver, self.server, self.chance = driver, server, random.Random(seed)
        self.happened: Counter[str] = Counter()
        self.old_uploads: list[tuple[str, str]] = []
        self.trouble = 0.25
        skews = [0, -47 * 60_000, 3_600_000, 90_000, -5_000, 0]
        self.phones = [Phone(f"Road {seed}.{n}", folder / f"phone-{seed}-{n}", skews[n % 6]) for n in range(phones)]
        self.code = self.server.rows("SELECT code FROM inventory_daypass WHERE revoked_at IS NULL")[0][0]
        for phone in self.phones:
            self.open(phone)
            self.join(phone)

    def open(self, phone: Phone) -> None:
        phone.context = self.again("browser slow to start", lambda: self.launch(phone))
        phone.context.set_default_timeout(PATIENCE)
        phone.context.add_init_script(SKEW % phone.skew)
        phone.context.route("**/api/scans/", self.network)
        phone.page = phone.context.pages[0] if phone.context.pages else phone.context.new_page()
        phone.page.on("dialog", lambda dialog: dialog.accept())
        phone.context.set_offline(phone.offline)
        self.load(phone)

    def launch(self, phone: Phone) -> BrowserContext:
        for lock in phone.profile.glob("Singleton*"):
            lock.unlink()
        chromium = os.environ.get("CHROMIUM", "/usr/bin/chromium")
        return self.driver.chromium.launch_persistent_context(
            str(phone.profile),
            executable_path=chromium,
            args=ARGS,
            headless=True,
            base_url=self.server.url,
            timeout=PATIENCE,
        )

    def again(self, name: str, act: Callable[[], Any], times: int = 4) -> Any:
        """Do what only a busy machine makes fail; each failure is counted, and the last one is raised."""
        for _ in range(times - 1):
            try:
                return act()
            except PlaywrightTimeout:
                self.happened[name] += 1
        return act()

    def load(self, phone: Phone) -> None:
        self.again("page slow to open", lambda: phone.page.goto("/scan/"))
        self.until(phone, "performance.getEntriesByName('usable').length")

    def until(self, phone: Phone, expression: str, seconds: float = PATIENCE / 1000) -> None:
        end = time.monotonic() + seconds
        while not phone.page.evaluate(expression):
            if time.monotonic() > end:
                raise AssertionError(f"{phone.name}: never true: {expression}")
            time.sleep(0.05)

    def join(self, phone: Phone) -> None:
        phone.page.fill("[name=code]", self.code)
        phone.page.fill("[name=name]", phone.name)
        phone.page.get_by_role("button", name="Join").click()
        phone.page.get_by_role("button", name="Start").wait_for()
        self.until(phone, "stowbook.day.known")
        self.until(phone, "Boolean(navigator.serviceWorker.controller)")
        leg = "stowbook.day.list.legs.find(leg => leg.phase === 'loading').pk"
        phone.page.evaluate(f"async () => {{ await stowbook.set({{task: 'load', leg: {leg}}}); stowbook.go('scan'); }}")
        self.codes = phone.page.evaluate("stowbook.day.list.cases.map(one => one.code)") + ["NEVERSEEN9", "CASE 7"]

    def network(self, route: Route) -> None:
        """The way to the server and back: lossy, doubling, late."""
        draw = self.chance.random()
        request = route.request
        try:
            if draw < self.trouble * 0.3:
                self.happened["upload lost"] += 1
                route.abort()
            elif draw < self.trouble * 0.6:
                self.happened["answer lost"] += 1
                route.fetch()
                route.abort()
            elif draw < self.trouble * 0.8:
                self.happened["upload doubled"] += 1
                route.fetch()
                route.continue_()
            elif draw < self.trouble:
                self.happened["server in trouble"] += 1
                route.fulfill(status=503, body="no")
            else:
                route.continue_()
                if self.chance.random() < 0.2:
                    self.old_uploads.append((request.headers.get("x-device-token", ""), request.post_data or ""))
        except Error:
            self.happened["cut off in the middle"] += 1

    def scan(self, phone: Phone, count: int) -> None:
        full = self.chance.random() < 0.03
        codes = [self.chance.choice(self.codes) for _ in range(count)]
        for act, lost in phone.page.evaluate(SCAN, [codes, full]):
            (phone.spare if lost else phone.acknowledged).add(act)
        self.happened["store full"] += full
        self.happened["scans"] += count

    def mishap(self, phone: Phone) -> None:
        chosen = self.chance.choices(
            [
                "offline",
                "online",
                "reload",
                "browser killed",
                "server killed",
                "handed over",
                "split",
                "again later",
                "send",
            ],
            [14, 18, 8, 4, 3, 6, 10, 6, 20],
        )[0]
        self.happened[chosen] += 1
        getattr(self, chosen.replace(" ", "_"))(phone)

    def keep_spare(self, phone: Phone) -> None:
        """What the store refused lives in the page alone: a person would wait until it is stored before leaving."""
        phone.page.evaluate("stowbook.outbox.tidy()")
        phone.acknowledged |= phone.spare
        phone.spare.clear()

    def offline(self, phone: Phone) -> None:
        phone.offline = True
        phone.context.set_offline(True)

    def online(self, phone: Phone) -> None:
        phone.offline = False
        phone.context.set_offline(False)
        self.send(phone)

    def send(self, phone: Phone) -> None:
        phone.page.evaluate("() => { stowbook.sender.soon(); }")

    def reload(self, phone: Phone) -> None:
        self.keep_spare(phone)
        self.send(phone)
        self.load(phone)

    def browser_killed(self, phone: Phone) -> None:
        self.keep_spare(phone)
        self.send(phone)
        for pid in processes_of(phone):
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        while processes_of(phone):
            time.sleep(0.1)
        self.open(phone)

    def server_killed(self, phone: Phone) -> None:
        for one in self.phones:
            self.send(one)
        time.sleep(self.chance.random() * 0.15)
        self.server.kill()
        self.scan(phone, 3)
        self.server.start()

    def handed_over(self, phone: Phone) -> None:
        """A run of codes from one screen to another phone's camera, here as the texts that the codes carry."""
        other = self.chance.choice(self.phones)
        frames = phone.page.evaluate(
            """async () => { const { pack } = await import('/static/shipping/scan/packets.js');
                const rows = await stowbook.outbox.unsent(60); return rows.length ? pack(rows) : []; }"""
        )
        self.chance.shuffle(frames)
        for frame in frames:
            other.page.evaluate("async (frame) => { await stowbook.take(frame, 'camera'); }", frame)

    def split(self, phone: Phone) -> None:
        phone.page.evaluate("size => { stowbook.sender.batch = size; }", self.chance.randrange(1, 9))
        self.send(phone)

    def again_later(self, phone: Phone) -> None:
        """An upload that was stuck somewhere arrives once more, long after newer ones."""
        if not self.old_uploads:
            return
        token, body = self.chance.choice(self.old_uploads)
        headers = {"X-Device-Token": token, "Content-Type": "application/json"}
        phone.context.request.post(f"{self.server.url}/api/scans/", data=body, headers=headers)

    def drive(self, scans: int) -> None:
        self.burst = 16 if scans < 2000 else 80  # a long night in bearable time
        while self.happened["scans"] < scans:
            phone = self.chance.choice(self.phones)
            self.scan(phone, self.chance.randrange(1, self.burst))
            self.mishap(phone)

    def settle(self) -> None:
        """Peace at last: every phone has a network, and sends until nothing is left."""
        self.trouble = 0
        for phone in self.phones:
            self.keep_spare(phone)
            self.online(phone)
            for _ in range(600):
                phone.page.evaluate("() => stowbook.sender.soon()")
                if not phone.page.evaluate("stowbook.outbox.counts().then(found => found.unsent)"):
                    break
                time.sleep(0.1)

    def verdict(self) -> dict[str, int]:
        """Lost and doubled scans, by the phones' own stores against the ledger."""
        names = tuple(phone.name for phone in self.phones)
        query = (
            """SELECT e.id, e.device_seq, d.name FROM inventory_entry e JOIN inventory_device d ON d.id = e.device_id"""
        )
        found = [row for row in self.server.rows(query) if row[2] in names]
        ledger = {str(UUID(str(row[0]))) for row in found}
        steps = Counter((row[1], row[2]) for row in found)
        acknowledged = set().union(*(phone.acknowledged for phone in self.phones))
        stored = {pk for phone in self.phones for pk, _ in phone.page.evaluate(STORED)}
        unsent = sum(
            phone.page.evaluate("stowbook.outbox.counts().then(found => found.unsent)") for phone in self.phones
        )
        return {
            "acknowledged": len(acknowledged),
            "in the ledger": len(ledger),
            "lost": len(acknowledged - ledger),
            "doubled": sum(count - 1 for count in steps.values()),
            "in the ledger and on no phone": len(ledger - acknowledged - stored),
            "still unsent": unsent,
        }

    def close(self) -> None:
        for phone in self.phones:
            phone.context.close()


def processes_of(phone: Phone) -> list[int]:
    words = ["pgrep", "-f", f"user-data-dir={phone.profile}"]
    return [int(pid) for pid in subprocess.run(words, capture_output=True, text=True, check=False).stdout.split()]


def night(
    folder: Path, *, scans: int, phones: int, seed: int, database: str = ""
) -> tuple[dict[str, int], Counter[str], str]:
    """One night. Returns the verdict, what went wrong on the way, and what the audit of the book said."""
    server = Server(folder / "book", database)
    try:
        with sync_playwright() as driver:
            road = Road(driver, server, folder, phones=phones, seed=seed)
            road.drive(scans)
            road.settle()
            verdict = road.verdict()
            road.close()
        verdict[ELSEWHERE] = misplaced(server)
        return verdict, road.happened, server.manage("audit_ledger")
    finally:
        server.kill()


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--scans", type=int, default=10_000)
    asked.add_argument("--phones", type=int, default=4)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--seeds", type=int, default=1)
    asked.add_argument("--database", default="", help="a PostgreSQL database that may be emptied")
    asked.add_argument("--record", default="", help="a file that gets one line of JSON for each night")
    wanted = asked.parse_args()
    told = [one_night(wanted, seed) for seed in range(wanted.seed, wanted.seed + wanted.seeds)]
    print(json.dumps({"nights": len(told), **total(told)}))
    sys.exit(1 if any(harm(one) for one in told) else 0)


def one_night(wanted: argparse.Namespace, seed: int) -> dict[str, Any]:
    """Play one night in a folder of its own, print and record what came of it."""
    folder = Path(tempfile.mkdtemp(prefix="stowbook-road-"))
    (folder / "book").mkdir()
    began = time.monotonic()
    share = wanted.scans // wanted.seeds
    told: dict[str, Any] = {"seed": seed, "database": "postgresql" if wanted.database else "sqlite"}
    try:
        verdict, happened, audit = night(folder, scans=share, phones=wanted.phones, seed=seed, database=wanted.database)
        told |= {**verdict, "happened": dict(happened), "audit": audit.strip()[-600:]}
    except (Error, AssertionError, RuntimeError) as why:
        told["not finished"] = str(why)[:600]
    told["seconds"] = round(time.monotonic() - began)
    print(json.dumps(told), flush=True)
    if wanted.record:
        with Path(wanted.record).open("a") as record:
            record.write(json.dumps(told) + "\n")
    if not harm(told):
        shutil.rmtree(folder, ignore_errors=True)  # else it stays, to be looked at
    return told


def harm(told: dict[str, Any]) -> bool:
    return "not finished" in told or any(told[one] for one in HARM)


def total(told: list[dict[str, Any]]) -> dict[str, int]:
    """Sums over the nights that were finished."""
    done = [one for one in told if "not finished" not in one]
    sums = {"not finished": len(told) - len(done), "scans": sum(one["happened"]["scans"] for one in done)}
    return sums | {name: sum(one[name] for one in done) for name in ("acknowledged", *HARM)}


if __name__ == "__main__":
    main()
