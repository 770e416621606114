"""A night on the road, played out: several phones in real browsers, a real server, and everything that goes wrong.

    .venv/bin/python -m tests.road [--scans 10000] [--phones 4] [--seed 1] [--seeds 1] [--database postgres://…]

Phones scan while networks come and go, pages reload, browsers and the server are killed with -9 in the middle of
uploads, answers are lost, uploads arrive twice, in pieces and again much later, clocks are wrong, stores are full, and
scans go from phone to phone. Afterwards every scan that a phone acknowledged must be in the ledger exactly once,
nothing may be in it that no phone made, each case must be where sorting all entries by time puts it, and the book's
own audit must find every place as a replay has it. On PostgreSQL three workers serve, on SQLite one with threads.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import random
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from uuid import UUID

import psycopg
from playwright.sync_api import BrowserContext, Error, Page, Route, sync_playwright

ROOT = Path(__file__).resolve().parent.parent
ARGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"]
SKEW = "(() => { const now = Date.now; Date.now = () => now() + %d; })()"
SCAN = """async ([codes, full]) => {
    const add = IDBObjectStore.prototype.add;
    const made = [];
    for (const code of codes) {
        stowbook.last.clear();
        stowbook.said = null;
        if (full) IDBObjectStore.prototype.add = () => { throw new DOMException('full', 'QuotaExceededError'); };
        try { await stowbook.take(code, 'handheld'); } finally { IDBObjectStore.prototype.add = add; }
        made.push([stowbook.said.act, stowbook.said.lost]);
    }
    return made;
}"""
STORED = "async () => (await stowbook.outbox.all()).filter(row => row.mine).map(row => [row.id, row.state])"


PLACES = """
import json
from django.utils import timezone
from inventory.answers.whereabouts import whereabouts_of
from inventory.models import Item
cases = list(Item.objects.filter(type__kind="case"))
found = whereabouts_of([case.pk for case in cases], timezone.now())
print(json.dumps({pk: told.links[0].place and told.links[0].place.id for pk, told in found.items() if told.links}))
"""
ELSEWHERE = "cases elsewhere than a replay in true order has them"
ENTRIES = """SELECT e.id, e.happened_at, e.verb, e.place_id, l.item_id, e.act, e.corrects, e.device_id, e.role,
    e.day_pass_id, e.grade FROM inventory_entry e LEFT JOIN inventory_label l ON l.id = e.label_id"""


class Server:
    """gunicorn on a book of its own; it can be killed and begun again."""

    def __init__(self, folder: Path, database: str = "") -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.url = f"http://localhost:{self.port}"
        self.database = folder / "stowbook.sqlite3"
        self.postgres = database
        self.environment = {
            **os.environ,
            "VAR_DIR": str(folder),
            "DEMO": "True",
            "DEBUG": "True",
            "PUBLIC_URL": self.url,
        }
        self.environment.pop("DATABASE_URL", None)
        if database:
            self.environment["DATABASE_URL"] = database
            self._empty()
        self.manage("migrate", "-v", "0")
        self.manage("load_demo")
        self.start()

    def manage(self, *words: str) -> str:
        done = subprocess.run(
            [sys.executable, "manage.py", *words],
            cwd=ROOT,
            env=self.environment,
            capture_output=True,
            text=True,
            check=False,
        )
        if done.returncode:
            raise RuntimeError(f"{words}: {done.stdout[-800:]} {done.stderr[-800:]}")
        return done.stdout

    def start(self) -> None:
        workers = ["--workers", "3", "--threads", "2"] if self.postgres else ["--threads", "8"]
        words = ["-m", "gunicorn", "config.wsgi:application", "--bind", f"127.0.0.1:{self.port}", *workers]
        quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
        self.process = subprocess.Popen(
            [sys.executable, *words, "--log-level", "critical"],
            cwd=ROOT,
            env=self.environment,
            start_new_session=True,
            **quiet,
        )
        self.wait()

    def wait(self) -> None:
        for _ in range(300):
            with socket.socket() as knock:
                if knock.connect_ex(("127.0.0.1", self.port)) == 0:
                    return
            time.sleep(0.05)
        raise RuntimeError("the server did not start")

    def kill(self) -> None:
        """-9 to the master and its workers at once: nothing is finished, nothing is said."""
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()

    def _empty(self) -> None:
        """A night begins with an empty book: everything in the database named on the command line is dropped."""
        with psycopg.connect(self.postgres, autocommit=True) as book:
            book.execute("DROP SCHEMA public CASCADE")
            book.execute("CREATE SCHEMA public")

    def rows(self, query: str) -> list[tuple[Any, ...]]:
        if self.postgres:
            with psycopg.connect(self.postgres) as book:
                return book.execute(query).fetchall()
        with sqlite3.connect(f"file:{self.database}?mode=ro", uri=True) as book:
            return book.execute(query).fetchall()


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
        chromium = os.environ.get("CHROMIUM", "/usr/bin/chromium")
        phone.context = self.driver.chromium.launch_persistent_context(
            str(phone.profile), executable_path=chromium, args=ARGS, headless=True, base_url=self.server.url
        )
        phone.context.add_init_script(SKEW % phone.skew)
        phone.context.route("**/api/scans/", self.network)
        phone.page = phone.context.pages[0] if phone.context.pages else phone.context.new_page()
        phone.page.on("dialog", lambda dialog: dialog.accept())
        phone.context.set_offline(phone.offline)
        self.load(phone)

    def load(self, phone: Phone) -> None:
        phone.page.goto("/scan/")
        self.until(phone, "performance.getEntriesByName('usable').length")

    def until(self, phone: Phone, expression: str, seconds: float = 60) -> None:
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
        found = subprocess.run(
            ["pgrep", "-f", f"user-data-dir={phone.profile}"], capture_output=True, text=True, check=False
        )
        for pid in found.stdout.split():
            with contextlib.suppress(ProcessLookupError):
                os.kill(int(pid), signal.SIGKILL)
        time.sleep(0.3)
        for lock in phone.profile.glob("Singleton*"):
            lock.unlink()
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


def sorted_places(server: Server) -> dict[int, int | None]:
    """Where every thing is by sorting all standing entries by time and id, and taking the last that placed it."""
    rows = server.rows(ENTRIES)
    taken_back = [(row[6], row[7], row[8], row[9]) for row in rows if row[2] == "corrected"]
    own = {(act, device) for act, device, *_ in taken_back if device}
    all_of = {act for act, _, role, day_pass in taken_back if role == "kit manager" and day_pass is None}
    standing = [row for row in rows if row[3] and row[5] not in all_of and (row[5], row[7]) not in own]
    scanned = {row[4] for row in standing if row[10] != "import"}
    found: dict[int, int | None] = {}
    for row in sorted(standing, key=lambda row: (row[1], UUID(str(row[0])))):
        if row[10] != "import" or row[4] not in scanned:
            found[row[4]] = row[3]
    return found


def misplaced(server: Server) -> int:
    """How many cases the book puts elsewhere than that."""
    told = json.loads(server.manage("shell", "-v", "0", "-c", PLACES))
    wanted = sorted_places(server)
    return sum(wanted.get(int(pk)) != place for pk, place in told.items())


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
    wanted = asked.parse_args()
    harm = 0
    for seed in range(wanted.seed, wanted.seed + wanted.seeds):
        folder = Path(tempfile.mkdtemp(prefix="stowbook-road-"))
        (folder / "book").mkdir()
        began = time.monotonic()
        share = wanted.scans // wanted.seeds
        told = night(folder, scans=share, phones=wanted.phones, seed=seed, database=wanted.database)
        verdict, happened, audit = told
        print(
            json.dumps(
                {"seed": seed, "seconds": round(time.monotonic() - began), **verdict, "happened": dict(happened)}
            )
        )
        print(audit.strip()[-600:], flush=True)
        harm += verdict["lost"] + verdict["doubled"] + verdict[ELSEWHERE]
        shutil.rmtree(folder, ignore_errors=True)
    sys.exit(1 if harm else 0)


if __name__ == "__main__":
    main()
