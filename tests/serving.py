"""The book served to a crew's own network by the real server, as a process of its own, for tests."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings

from config.lan.authority import Files, files_in

LOCAL = "127.0.0.1"


@dataclass(frozen=True)
class Crew:
    """Where it listens, and its files."""

    plain_port: int
    tls_port: int
    files: Files
    said: Path

    @property
    def plain(self) -> str:
        return f"http://localhost:{self.plain_port}"

    @property
    def secure(self) -> str:
        return f"https://localhost:{self.tls_port}"


def free_ports() -> tuple[int, int]:
    with socket.socket() as one, socket.socket() as two:
        one.bind((LOCAL, 0))
        two.bind((LOCAL, 0))
        return one.getsockname()[1], two.getsockname()[1]


@contextmanager
def crew_server(folder: Path) -> Iterator[Crew]:
    """Started as bin/serve --lan starts it, with the sources' own static files and no book behind it."""
    plain, tls = free_ports()
    crew = Crew(plain, tls, files_in(folder), folder / "said")
    env = {name: value for name, value in os.environ.items() if name not in {"DATABASE_URL", "PUBLIC_URL"}} | {
        "LAN": "True", "DEBUG": "True", "VAR_DIR": str(folder), "LAN_PLAIN_PORT": str(plain), "LAN_TLS_PORT": str(tls),
        "ALLOWED_HOSTS": "", "PYTHONWARNINGS": "default",
    }  # fmt: skip
    run = [sys.executable, "-m", "gunicorn", "config.wsgi:application", "--config", "python:config.lan.serving"]
    with crew.said.open("w") as said:
        server = subprocess.Popen(run, cwd=settings.BASE_DIR, env=env, stdout=said, stderr=subprocess.STDOUT)
        try:
            until_it_listens(server, tls, crew.said)
            yield crew
        finally:
            server.terminate()
            server.wait(timeout=20)


def until_it_listens(server: subprocess.Popen[bytes], port: int, said: Path) -> None:
    end = time.monotonic() + 60
    while "fingerprint" not in said.read_text() or not _listens(port):
        if server.poll() is not None or time.monotonic() > end:
            raise AssertionError(f"the server did not start: {said.read_text()}")
        time.sleep(0.1)


def _listens(port: int) -> bool:
    with socket.socket() as asked:
        return asked.connect_ex((LOCAL, port)) == 0
