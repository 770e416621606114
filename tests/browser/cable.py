"""A line between one browser and the server that can be cut, as the network of a basement is.

The driver's own way of taking a window off the network does not reach requests that a window makes while it opens.
"""

from __future__ import annotations

import socket
from contextlib import suppress
from threading import Thread
from urllib.parse import urlsplit


class Cable:
    """Passes on what comes to its own port of this machine. While it is cut, whoever calls is hung up on."""

    def __init__(self, url: str) -> None:
        parts = urlsplit(url)
        self.far = ("localhost", parts.port)
        self.near = socket.create_server(("127.0.0.1", 0))
        self.url = f"http://{parts.hostname}:{self.near.getsockname()[1]}"
        self.is_cut = False
        self.loses = b""  # requests that name this are lost, and their lines with them
        self.open: set[socket.socket] = set()
        Thread(target=self._answer, daemon=True).start()

    def cut(self) -> None:
        self.is_cut = True
        for one in list(self.open):
            _hang_up(one)

    def mend(self) -> None:
        self.is_cut = False

    def close(self) -> None:
        self.cut()
        _hang_up(self.near)
        self.near.close()

    def _answer(self) -> None:
        with suppress(OSError):  # the end: nobody listens any more
            while True:
                caller, _ = self.near.accept()
                if self.is_cut:
                    caller.close()
                else:
                    self._through(caller)

    def _through(self, caller: socket.socket) -> None:
        server = socket.create_connection(self.far)
        for source, goal in ((caller, server), (server, caller)):
            self.open.add(source)
            Thread(target=self._carry, args=(source, goal), daemon=True).start()
        if self.is_cut:  # in the meantime
            self.cut()

    def _carry(self, source: socket.socket, goal: socket.socket) -> None:
        with suppress(OSError):
            while block := source.recv(65536):
                if self.loses and goal.getpeername()[1] == self.far[1] and self.loses in block:
                    break
                goal.sendall(block)
        self.open.discard(source)
        _hang_up(goal)
        source.close()


def _hang_up(line: socket.socket) -> None:
    with suppress(OSError):
        line.shutdown(socket.SHUT_RDWR)
