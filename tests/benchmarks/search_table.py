"""How fast, and how often right, search is on a big book, by the way people get a serial or a code wrong.

    python -m tests.benchmarks.search_table [--things 200] [--items 200000] [--entries 2000000]

The same book as tests.benchmarks.big_book, built if it is not there. "in three": the thing meant is among the first
three. "fit as well": how many other things of the book the typed text fits exactly as well, at the median: a serial's
tail of four is shared by a dozen at this size, so that no ranking can put more than three of them first. "fair" is
"in three" among the texts that fit no more than three things. Each search is timed three times and its quickest time
counts, so that other work on the machine is not taken for search's; "cpu" is one search's processor time here.
"""

from __future__ import annotations

import argparse
import os
import random
import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import median
from typing import NamedTuple

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

import django

django.setup()

from django.db import connection  # noqa: E402
from django.utils import timezone  # noqa: E402

from inventory.answers.search import Hit, near_to, search  # noqa: E402
from inventory.folding import fold_confusable  # noqa: E402
from inventory.models import Entry, Item, Label  # noqa: E402
from tests.benchmarks.big_book import prepare  # noqa: E402
from tests.benchmarks.book import Size  # noqa: E402
from tests.benchmarks.measure import measure  # noqa: E402

LOOKS_LIKE = {"0": "O", "1": "I", "5": "S", "8": "B", "2": "Z", "D": "0", "B": "8", "S": "5", "Z": "2", "O": "0"}
BEST_OF = 3
OTHERS = "0123456789ACDEFHJKMNPRTWXY"
Draw = random.Random
Way = Callable[[str, Draw], str]


def misread(text: str, draw: Draw) -> str:
    """One character taken for the one it looks like; any other where none does."""
    likely = [at for at, one in enumerate(text) if one in LOOKS_LIKE]
    if not likely:
        return wrong(text, draw)
    at = draw.choice(likely)
    return text[:at] + LOOKS_LIKE[text[at]] + text[at + 1 :]


def wrong(text: str, draw: Draw) -> str:
    at = draw.randrange(len(text))
    return text[:at] + draw.choice([one for one in OTHERS if one != text[at]]) + text[at + 1 :]


def missing(text: str, draw: Draw) -> str:
    at = draw.randrange(len(text))
    return text[:at] + text[at + 1 :]


def swapped(text: str, draw: Draw) -> str:
    unlike = [at for at in range(len(text) - 1) if text[at] != text[at + 1]]
    at = draw.choice(unlike)
    return text[:at] + text[at + 1] + text[at] + text[at + 2 :]


def spaced(text: str, draw: Draw) -> str:
    """In groups, as people read a serial out."""
    return " ".join(text[at : at + 3] for at in range(0, len(text), 3))


WAYS: dict[str, Way] = {
    "exact": lambda text, draw: text,
    "tail of 4": lambda text, draw: text[-4:],
    "tail of 6": lambda text, draw: text[-6:],
    "one misread": misread,
    "one wrong": wrong,
    "one missing": missing,
    "two swapped": swapped,
    "lower case": lambda text, draw: text.lower(),
    "spaces": spaced,
}


class Typed(NamedTuple):
    item: int
    text: str


@dataclass(frozen=True)
class Line:
    """One row of the table; shares of 1, times in ms."""

    name: str
    first: float
    three: float
    listed: float
    fair: float | None
    rivals: float
    p50: float
    p95: float
    p99: float
    cpu: float

    @property
    def words(self) -> str:
        figures = (self.first, self.three, self.fair, self.listed)
        shares = "".join(f"{'-':>9}" if one is None else f"{one:>9.1%}" for one in figures)
        return (
            f"{self.name:22}{shares}{self.rivals:>9.0f}{self.p50:>9.1f}{self.p95:>9.1f}{self.p99:>9.1f}{self.cpu:>9.1f}"
        )


HEADING = f"{'':22}" + "".join(
    f"{one:>9}" for one in ("first", "in three", "fair", "listed", "as well", "p50 ms", "p95 ms", "p99 ms", "cpu p95")
)


def asked(text: str) -> tuple[Hit, ...]:
    """As somebody of the house asks: what is booked on a show that is on or next stands first among what fits alike."""
    return search(text, near=near_to(None, timezone.now()))


def line(name: str, typed: Sequence[Typed], rivals: Sequence[int]) -> Line:
    """Search for each text once for its place in the answer, and once for the time."""
    looked = [_looked(one) for one in typed]
    places = [place for place, _ in looked]
    spent = sorted(ms for _, ms in looked)
    fair = [place < 3 for place, others in zip(places, rivals, strict=True) if others < 3]
    timed = measure(name, asked, [one.text for one in typed], best_of=BEST_OF)
    return Line(
        name,
        *(sum(place < most for place in places) / len(places) for most in (1, 3, 99)),
        fair=sum(fair) / len(fair) if fair else None, rivals=median(rivals),
        p50=timed.p50, p95=timed.p95, p99=timed.p99, cpu=spent[int(len(spent) * 0.95)],
    )  # fmt: skip


def _looked(typed: Typed) -> tuple[int, float]:
    """Where in the answer the thing meant stands, from 0, 99 for nowhere; and the processor time in ms."""
    started = time.process_time()
    found = [hit.named.key for hit in asked(typed.text) if hit.named.kind == "item"]
    spent = (time.process_time() - started) * 1000
    return found.index(typed.item) if typed.item in found else 99, spent


def table(things: int, draw: Draw) -> list[Line]:
    serials = dict(Item.objects.exclude(serial="").values_list("pk", "serial"))
    codes = dict(Label.objects.filter(item__in=serials).values_list("item", "code"))
    lines = []
    for kind, texts in (("serial", serials), ("code", codes)):
        everything = [*map(fold_confusable, serials.values()), *map(fold_confusable, codes.values())]
        tails = {size: Counter(text[-size:] for text in everything) for size in (4, 6)}
        for name, way in WAYS.items():
            typed = [Typed(pk, way(texts[pk], draw)) for pk in draw.sample(sorted(texts), things)]
            known = tails.get(len(typed[0].text), {}) if name.startswith("tail") else {}
            rivals = [known.get(fold_confusable(one.text), 1) - 1 for one in typed]
            lines.append(line(f"{kind}, {name}", typed, rivals))
            print(lines[-1].words, flush=True)
    return lines


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--things", type=int, default=200)
    parser.add_argument("--items", type=int, default=200_000)
    parser.add_argument("--entries", type=int, default=2_000_000)
    asked = parser.parse_args()
    prepare(Size(asked.items, asked.entries), rebuild=False)
    print(f"{connection.vendor}: {Item.objects.count():,} items, {Entry.objects.count():,} entries\n{HEADING}")
    table(asked.things, random.Random(5))


if __name__ == "__main__":
    main()
