"""Eight phones at once against a real server: how long a scan takes, and whether the database ever refused.

The server is started as bin/serve does. The phones share its cores; each sends its next scan when the answer is there.
"""

from __future__ import annotations

import http.client
import json
import os
import random
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from statistics import quantiles

from tests.benchmarks.book import uuid7
from tests.benchmarks.measure import SERVED

CLIENTS = 8


@dataclass(frozen=True)
class Crowd:
    """What eight phones met: times in ms, uploads and scans a second, answers that were not 200, locks in the log."""

    name: str
    times: Sequence[float]
    seconds: float
    scans: int
    refused: int
    locked: int

    @property
    def line(self) -> str:
        cut = quantiles(self.times, n=100)
        return (
            f"{self.name:<44} {cut[49]:9.2f} {cut[94]:9.2f} {cut[98]:9.2f}   {self.scans / self.seconds:.0f} scans/s, "
            f"{self.refused} not stored, {self.locked} locked"
        )


@contextmanager
def serving(workers: int) -> Iterator[tuple[int, Path]]:
    """A server on a free port, with its log."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    with tempfile.NamedTemporaryFile(suffix=".log") as log:
        command = [
            sys.executable, "-m", "gunicorn", "config.wsgi:application", "--bind", f"127.0.0.1:{port}",
            "--workers", str(workers), "--threads", str(CLIENTS), "--log-level", "info",
        ]  # fmt: skip
        env = {**os.environ, **SERVED}
        server = subprocess.Popen(command, env=env, stdout=log, stderr=log)
        try:
            _wait_for(port)
            yield port, Path(log.name)
        finally:
            server.terminate()
            server.wait(timeout=20)


def _wait_for(port: int) -> None:
    for _ in range(200):
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.1)
    raise TimeoutError("the server did not start")


class Phone:
    """One phone: its token, its count, and the codes it scans."""

    def __init__(self, number: int, token: str, codes: Sequence[str], at: datetime, port: int) -> None:
        self.draw, self.token, self.codes, self.at = random.Random(f"{number} {time.time()}"), token, codes, at
        self.count = time.time_ns() // 1000
        self.line = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        self.times: list[float] = []
        self.refused = 0

    def scan(self) -> dict[str, object]:
        self.count += 1
        at = (self.at + timedelta(milliseconds=self.count % 10**9)).isoformat()
        made = {"id": str(uuid7(self.at, self.draw)), "verb": "seen", "code": self.draw.choice(self.codes)}
        return {**made, "device_seq": self.count, "happened_at": at, "taken_at": at}

    def send(self, many: int) -> None:
        body = json.dumps({"scans": [self.scan() for _ in range(many)]})
        start = time.perf_counter()
        self.line.request("POST", "/api/scans/", body, {"X-Device-Token": self.token})
        answer = self.line.getresponse()
        said = answer.read()
        self.times.append((time.perf_counter() - start) * 1000)
        stored = answer.status == 200 and all(one["receipt"] == "stored" for one in json.loads(said)["scans"])
        self.refused += not stored

    def work(self, until: float, many: int) -> None:
        while time.perf_counter() < until:
            self.send(many)


def _rush(phones: Sequence[Phone], many: int, seconds: float) -> float:
    """Let every phone send uploads of so many scans, for so long; returns the seconds it took."""
    with ThreadPoolExecutor(len(phones)) as pool:
        list(pool.map(lambda phone: phone.send(many), phones))  # warm
        for phone in phones:
            phone.times.clear()
            phone.line.close()  # the first to be warm may have waited longer than the server keeps a line open
        start = time.perf_counter()
        list(pool.map(lambda phone: phone.work(start + seconds, many), phones))
        return time.perf_counter() - start


def crowd(
    tokens: Sequence[str], codes: Sequence[str], at: datetime, *, workers: int, seconds: float
) -> Iterator[Crowd]:
    """Single scans, then uploads of a hundred, for that many seconds each."""
    with serving(workers) as (port, log):
        for name, many in (("one scan, 8 phones at once", 1), ("a batch of 100, 8 phones at once", 100)):
            phones = [Phone(n, token, codes, at, port) for n, token in enumerate(tokens)]
            taken = _rush(phones, many, seconds)
            times = [one for phone in phones for one in phone.times]
            refused = sum(phone.refused for phone in phones)
            locked = log.read_text().count("database is locked")
            yield Crowd(name, times, taken, len(times) * many, refused, locked)
