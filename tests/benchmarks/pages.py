"""How much each main page of the demo world costs the server, and how many queries it asks.

    VAR_DIR=/tmp/pages .venv/bin/python -m tests.benchmarks.pages [--times N] [--only / /systems/]

Loads the demo into VAR_DIR's book where that is empty. Pages are asked through Django's own client, with no network
between, in turn over all pages so that no page has the machine to itself. Times are of the processor, since others may
use the machine; the pages are made as the server makes them, with nothing written down for debugging. *Anew* is what a
page costs with nothing kept of its answers (inventory/unchanged.py), as after a start; *after a scan* what it costs
once somebody scanned one thing anywhere in the book, which may be one that the page tells of; *again* what it costs
while nothing changed. Queries are those of asking anew.
"""

from __future__ import annotations

import argparse
import os
import random
import time
from dataclasses import dataclass, field
from statistics import quantiles

import django
from django.test import Client

from config.garbage import look_seldom
from tests.benchmarks.measure import SERVED

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
    parser.add_argument("--only", nargs="+", help="addresses of these pages, as the kit manager, and of no others")
    told = parser.parse_args()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    os.environ.update(SERVED | {"DEMO": "True"})
    django.setup()
    _fill()
    look_seldom()  # as the server does at its start
    pages = [("ida", address) for address in told.only] if told.only else addresses()
    asked = _ask(pages, told.times)
    print(f"{'page':<28} {'again':>9} {'p95':>8} {'after a scan':>12} {'p95':>8} {'anew':>8} {'p95':>8} {'queries':>8}")
    for page, (again, anew, scanned) in asked.items():
        firsts = f"{again.p50:9.1f} {again.p95:8.1f} {scanned.p50:12.1f} {scanned.p95:8.1f}"
        print(f"{' '.join(page):<28} {firsts} {anew.p50:8.1f} {anew.p95:8.1f} {anew.queries:8}")


def _fill() -> None:
    from django.core.management import call_command

    from shipping.models import Show

    call_command("migrate", verbosity=0)
    call_command("collectstatic", interactive=False, verbosity=0)
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


def _forget() -> None:
    """As after a start: no answer is kept, and no row of a page."""
    from inventory import unchanged
    from inventory.templatetags import written

    unchanged.forget()
    written.forget()


def _scan(draw: random.Random) -> None:
    """Somebody scans one thing of the book."""
    from django.utils import timezone

    from inventory.ledger import Fact, Witness, record
    from inventory.models import Grade, Item, Verb

    thing = draw.choice(Item.objects.filter(retired_at=None, labels__isnull=False).order_by("pk").distinct())
    record([Fact(Verb.SEEN, thing, grade=Grade.SCAN)], by=Witness("Ana Rell"), at=timezone.now())


def _ask(pages: list[tuple[str, str]], times: int) -> dict[tuple[str, str], tuple[Cost, Cost, Cost]]:
    """For each page what it costs again, with nothing kept, and after a scan."""
    from django.contrib.auth import get_user_model
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    clients = {name: Client(headers={"host": "testserver"}) for name in ROLES}
    for name, client in clients.items():
        client.force_login(get_user_model().objects.get(username=name))
    costs = {page: (Cost(), Cost(), Cost()) for page in pages}
    for who, address in pages:
        clients[who].get(address)  # modules, templates and plans are warm from here on
        for cost in reversed(costs[who, address][:2]):
            if cost is costs[who, address][1]:
                _forget()
            with CaptureQueriesContext(connection) as asked:
                reply = clients[who].get(address)
            if reply.status_code != 200:
                raise SystemExit(f"{address} answers {reply.status_code} to {who}; nothing to measure")
            cost.queries, cost.size = len(asked), len(reply.content)
    _take_turns(clients, costs, times)
    return costs


def _take_turns(clients: dict[str, Client], costs: dict[tuple[str, str], tuple[Cost, Cost, Cost]], times: int) -> None:

    draw = random.Random(7)
    for which in [1] * max(4, times // 4) + [2] * max(4, times // 2) + [0] * (times + 1):
        for (who, address), cost in costs.items():
            if which == 1:
                _forget()
            if which == 2:
                clients[who].get(address)
                _scan(draw)
            start = time.process_time()
            clients[who].get(address)
            cost[which].taken.append((time.process_time() - start) * 1000)
    for again, _fresh, _scanned in costs.values():
        again.taken.pop(0)  # the round that kept the answers


if __name__ == "__main__":
    main()
