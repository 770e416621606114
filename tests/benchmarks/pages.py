"""How much each main page of the demo world costs the server, and how many queries it asks.

    VAR_DIR=/tmp/pages .venv/bin/python -m tests.benchmarks.pages [--times N]

Loads the demo into VAR_DIR's book where that is empty. Pages are asked through Django's own client, with no network
between, in turn over all pages so that no page has the machine to itself. Times are of the processor, since others
may use the machine. *Anew* is what a page costs after somebody wrote to the book, with nothing kept of its answers
(inventory/unchanged.py); the other times and queries are those of asking again while nothing changed.
"""

from __future__ import annotations

import argparse
import os
import time
from dataclasses import dataclass, field
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
    asked = _ask(addresses(), times)
    print(
        f"{'page':<28} {'p50 ms':>8} {'p95 ms':>8} {'queries':>8} {'anew p50':>9} {'p95':>8} {'queries':>8} {'kB':>6}"
    )
    for page, (again, anew) in asked.items():
        queries = f"{again.queries:8} {anew.p50:9.1f} {anew.p95:8.1f} {anew.queries:8}"
        print(f"{' '.join(page):<28} {again.p50:8.1f} {again.p95:8.1f} {queries} {again.size / 1000:6.1f}")


def _fill() -> None:
    from django.core.management import call_command

    from shipping.models import Show

    call_command("migrate", verbosity=0)
    if not Show.objects.exists():
        call_command("load_demo", verbosity=0)


@dataclass(slots=True)
class Cost:
    """Processor time of each asking in ms; queries and bytes of the last one counted."""

    taken: list[float] = field(default_factory=list)
    queries: int = 0
    size: int = 0

    @property
    def p50(self) -> float:
        return quantiles(self.taken, n=100)[49]

    @property
    def p95(self) -> float:
        return quantiles(self.taken, n=100)[94]


def _ask(pages: list[tuple[str, str]], times: int) -> dict[tuple[str, str], tuple[Cost, Cost]]:
    """For each page what it costs again, and anew."""
    from django.contrib.auth import get_user_model
    from django.db import connection
    from django.test import Client
    from django.test.utils import CaptureQueriesContext

    from inventory import unchanged

    clients = {name: Client(headers={"host": "localhost"}) for name in ROLES}
    for name, client in clients.items():
        client.force_login(get_user_model().objects.get(username=name))
    costs = {page: (Cost(), Cost()) for page in pages}
    for who, address in pages:
        clients[who].get(address)  # modules, templates and plans are warm from here on
        for cost in reversed(costs[who, address]):
            if cost is costs[who, address][1]:
                unchanged.forget()
            with CaptureQueriesContext(connection) as asked:
                reply = clients[who].get(address)
            if reply.status_code != 200:
                raise SystemExit(f"{address} answers {reply.status_code} to {who}; nothing to measure")
            cost.queries, cost.size = len(asked), len(reply.content)
    for anew in [True] * max(4, times // 4) + [False] * (times + 1):
        for page, (again, fresh) in costs.items():
            if anew:
                unchanged.forget()
            start = time.process_time()
            clients[page[0]].get(page[1])
            (fresh if anew else again).taken.append((time.process_time() - start) * 1000)
    for again, _fresh in costs.values():
        again.taken.pop(0)  # the round that kept the answers
    return costs


if __name__ == "__main__":
    main()
