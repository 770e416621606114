"""How long each main page of the demo world takes at the server, and how many queries it asks.

    VAR_DIR=/tmp/pages .venv/bin/python -m tests.benchmarks.pages [--times N]

Loads the demo into VAR_DIR's book where that is empty. Pages are asked through Django's own client, with no network
between, in turn over all pages so that no page has the machine to itself.
"""

from __future__ import annotations

import argparse
import os
import time
from collections import defaultdict
from statistics import quantiles

import django

ROLES = {"ida": "kit manager", "ana": "road lead"}


def addresses() -> list[tuple[str, str]]:
    """(account, address) of every main page; of things that come in several, each one."""
    from inventory.models import DriveSet, Item, System
    from shipping.models import Leg, Show

    shows = list(Show.objects.values_list("code", flat=True))
    numbers = list(Item.objects.filter(number__in=("HER-02", "CUR-02", "HER-13")).values_list("number", flat=True))
    found = [
        ("ida", "/"),
        ("ana", "/"),
        ("ida", "/systems/"),
        ("ida", "/shows/"),
        ("ida", "/cases/"),
        ("ida", "/sets/"),
    ]
    found += [("ida", "/things/"), ("ida", "/ledger/"), ("ida", "/rules/"), ("ida", "/where/?q=HERON-2")]
    found += [("ida", f"/show/{code}/") for code in shows] + [("ida", f"/show/{code}/return/") for code in shows]
    found += [("ida", f"/case/{number}/") for number in numbers]
    found += [("ida", f"/system/{slug}/") for slug in System.objects.values_list("slug", flat=True)]
    found += [("ida", f"/set/{slug}/") for slug in DriveSet.objects.values_list("slug", flat=True)]
    return found + [("ana", f"/dock/{pk}/") for pk in Leg.objects.order_by("pk").values_list("pk", flat=True)[:3]]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--times", type=int, default=20, help="how often each page is asked")
    times = parser.parse_args().times
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    os.environ.setdefault("DEMO", "True")
    django.setup()
    _fill()
    taken, told = _ask(addresses(), times)
    print(f"{'page':<34} {'p50 ms':>8} {'p95 ms':>8} {'queries':>8} {'kB':>6}")
    for page, (queries, size) in told.items():
        cut = quantiles(taken[page], n=100)
        print(f"{' '.join(page):<34} {cut[49]:8.1f} {cut[94]:8.1f} {queries:8} {size / 1000:6.1f}")


def _fill() -> None:
    from django.core.management import call_command

    from shipping.models import Show

    call_command("migrate", verbosity=0)
    if not Show.objects.exists():
        call_command("load_demo", verbosity=0)


def _ask(pages: list[tuple[str, str]], times: int) -> tuple[dict, dict]:
    """Milliseconds of every asking, and (queries, bytes) of the first one of each page, which also warms it up."""
    from django.contrib.auth import get_user_model
    from django.db import connection
    from django.test import Client
    from django.test.utils import CaptureQueriesContext

    clients = {name: Client(headers={"host": "localhost"}) for name in ROLES}
    for name, client in clients.items():
        client.force_login(get_user_model().objects.get(username=name))
    taken, told = defaultdict(list), {}
    for who, address in pages:
        with CaptureQueriesContext(connection) as asked:
            reply = clients[who].get(address)
        if reply.status_code != 200:
            raise SystemExit(f"{address} answers {reply.status_code} to {who}; nothing to measure")
        told[who, address] = (len(asked), len(reply.content))
    for _round in range(times):
        for who, address in pages:
            start = time.perf_counter()
            clients[who].get(address)
            taken[who, address].append((time.perf_counter() - start) * 1000)
    return taken, told


if __name__ == "__main__":
    main()
