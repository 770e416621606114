"""By which addresses and names phones on the same network reach this machine. Knows no settings: the server's own
process asks here too."""

from __future__ import annotations

import socket
import subprocess
from collections.abc import Iterable
from ipaddress import IPv4Address

# Any address outside: asking for the way there sends nothing, and names the network card that would be used (RFC 5737).
ELSEWHERE = ("192.0.2.1", 9)


def is_of_a_crew(address: IPv4Address) -> bool:
    """Of a network of one's own, not of the internet, and not this machine's own loop."""
    return address.is_private and not (address.is_loopback or address.is_unspecified)


def addresses() -> list[str]:
    """Private IPv4 addresses of this machine, the one that others most likely use first."""
    found = [_way_out(), *_listed(), *_named()]
    kept = [each for text in found if (each := _read(text)) is not None and is_of_a_crew(each)]
    return [str(each) for each in dict.fromkeys(kept)]


def hosts(more: Iterable[str] = ()) -> list[str]:
    """All that the certificate must name: addresses, this machine's names, and what the settings add."""
    name = socket.gethostname().split(".")[0].lower()
    names = [name, f"{name}.local", "localhost", *(host.lower() for host in more if host.strip("*."))]
    return [*addresses(), *dict.fromkeys(names), "127.0.0.1"]


def plain_address(host: str, port: int) -> str:
    return f"http://{host}{'' if port == 80 else f':{port}'}"


def secure_address(host: str, port: int) -> str:
    return f"https://{host}{'' if port == 443 else f':{port}'}"


def _read(text: str) -> IPv4Address | None:
    try:
        return IPv4Address(text)
    except ValueError:
        return None


def _way_out() -> str:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        try:
            asked.connect(ELSEWHERE)
            return str(asked.getsockname()[0])
        except OSError:  # no network that leads anywhere; a crew's switch without a router is such a one
            return ""


def _listed() -> list[str]:
    try:
        done = subprocess.run(["hostname", "-I"], capture_output=True, text=True, timeout=5, check=False)
    except (OSError, subprocess.TimeoutExpired):
        return []
    return done.stdout.split() if done.returncode == 0 else []


def _named() -> list[str]:
    try:
        return [str(row[4][0]) for row in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
    except OSError:
        return []
