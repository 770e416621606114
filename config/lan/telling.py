"""What the terminal says: the address of the trust page as words and as a code, and what to compare on a phone."""

from __future__ import annotations

import sys

from config.lan.addresses import plain_address, secure_address
from config.lan.authority import Kept
from inventory.labels import QUIET, matrix

HALVES = {(False, False): "█", (False, True): "▀", (True, False): "▄", (True, True): " "}
WHITE_ON_BLACK, AS_BEFORE = "\x1b[97;40m", "\x1b[0m"


def in_blocks(text: str, *, colours: bool = False) -> str:
    """A QR symbol in half blocks, two rows of modules a line, white on black with its quiet zone.

    Without `colours` it is right on dark terminals; with them on every terminal.
    """
    modules = matrix(text, "M")
    side = len(modules) + 2 * QUIET
    empty = [(False,) * side] * QUIET
    rows = [*empty, *((False,) * QUIET + row + (False,) * QUIET for row in modules), *empty]
    if len(rows) % 2:
        rows.append((False,) * side)
    pairs = zip(rows[::2], rows[1::2], strict=True)
    lines = ["".join(HALVES[pair] for pair in zip(upper, lower, strict=True)) for upper, lower in pairs]
    return "\n".join(f"{WHITE_ON_BLACK}{line}{AS_BEFORE}" if colours else line for line in lines)


def told(kept: Kept, plain_port: int, tls_port: int) -> str:
    """All that somebody who starts the server reads."""
    trust = f"{plain_address(kept.hosts[0], plain_port)}/trust/"
    others = [plain_address(host, plain_port) for host in kept.hosts[1:] if host not in {"localhost", "127.0.0.1"}]
    lines = [
        "", *kept.done, in_blocks(trust, colours=sys.stdout.isatty()),
        f"Phones on this network, once each:  {trust}",
        f"Then, with camera and offline:      {secure_address(kept.hosts[0], tls_port)}",
        f"Without trusting, typed codes only: {plain_address(kept.hosts[0], plain_port)}",
        f"Also reached as: {', '.join(others)}" if others else "",
        "The authority's fingerprint (SHA-256), to compare on each phone:", *in_lines(kept.fingerprint),
        f"Certificate until {kept.until:%d %B %Y}, authority until {kept.authority_until:%d %B %Y}; renewed by itself.",
        *(f"Not served over https: {host}, which is neither private nor local." for host in kept.left_out), "",
    ]  # fmt: skip
    return "\n".join(lines)


def in_lines(fingerprint: str) -> list[str]:
    """Eight pairs a line, which a phone shows unbroken, to be compared line by line."""
    pairs = fingerprint.split(":")
    return [" ".join(pairs[at : at + 8]) for at in range(0, len(pairs), 8)]
