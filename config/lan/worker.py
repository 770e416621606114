"""One server process behind two doors, https and plain: SQLite has one writer, and its queue is within one process."""

from __future__ import annotations

from typing import Any

from gunicorn.config import Config
from gunicorn.workers.gthread import TConn, ThreadWorker


class BothDoors(ThreadWorker):
    """gunicorn's threaded worker, whose connections on the plain port are not wrapped in TLS."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.plain_port = int(dict(each.split("=", 1) for each in self.cfg.raw_env)["LAN_PLAIN_PORT"])
        self.plain = without_tls(self.cfg)

    def enqueue_req(self, conn: TConn) -> None:
        if conn.server[1] == self.plain_port:
            conn.cfg = self.plain
        super().enqueue_req(conn)


def without_tls(cfg: Config) -> Config:
    """The same settings without a certificate, so that requests say "http" of themselves."""
    plain, untouched = Config(), Config()
    plain.settings = {**cfg.settings, **{name: untouched.settings[name] for name in ("certfile", "keyfile")}}
    return plain
