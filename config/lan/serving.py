"""gunicorn's settings for `bin/serve --lan`: certificate, both ports, and a look at the addresses now and then."""

from __future__ import annotations

import os
import signal
import sys
import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from config.lan.addresses import hosts
from config.lan.authority import Kept, ensure, files_in
from config.lan.telling import told

EVERY_SECONDS = 20
PLAIN_PORT, TLS_PORT = int(os.environ["LAN_PLAIN_PORT"]), int(os.environ["LAN_TLS_PORT"])


def kept_now() -> Kept:
    """The certificate for this machine as it is now reached."""
    more = os.environ.get("ALLOWED_HOSTS", "").split(",")
    return ensure(files_in(Path(os.environ["VAR_DIR"])), hosts(each.strip() for each in more), datetime.now(UTC))


def _say(kept: Kept) -> None:
    sys.stdout.write(f"{told(kept, PLAIN_PORT, TLS_PORT)}\n")
    sys.stdout.flush()


def look_again(reload: Callable[[], object]) -> bool:
    """Renew what no longer fits, say so, and let the workers read their settings anew. True if anything changed."""
    kept = kept_now()
    if kept.done:
        _say(kept)
        reload()
    return bool(kept.done)


def _watch() -> None:
    while True:
        time.sleep(EVERY_SECONDS)
        look_again(lambda: os.kill(os.getpid(), signal.SIGHUP))


def when_ready(server: Any) -> None:
    """Said once it serves; called by gunicorn in its own process, never again at a reload."""
    _say(_first)
    threading.Thread(target=_watch, name="addresses", daemon=True).start()


_first = kept_now()
certfile, keyfile = str(_first.files.server), str(_first.files.server_key)
bind = [f"0.0.0.0:{PLAIN_PORT}", f"0.0.0.0:{TLS_PORT}"]
raw_env = [f"LAN_PLAIN_PORT={PLAIN_PORT}"]
worker_class = "config.lan.worker.BothDoors"
threads = 8
timeout = 60
loglevel = "warning"
