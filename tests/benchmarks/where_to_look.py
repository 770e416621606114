"""How often the true place is first, and among the first three, of 'where to look', against the naive last-seen.

.venv/bin/python -m tests.benchmarks.where_to_look --losses 5000
"""

from __future__ import annotations

import argparse
from collections import Counter, defaultdict

from inventory.answers.likely import places_to_look
from tests.inventory.lost import last_seen, losses


def rates(count: int, seed: int = 7) -> dict[str, Counter[str]]:
    """Counts by the way of losing, and of all together: losses, first and in three, ranked and naive."""
    found: dict[str, Counter[str]] = defaultdict(Counter)
    for loss in losses(count, seed):
        ranked, naive = [look.place for look in places_to_look(loss.trail)], last_seen(loss.trail)
        for name in (loss.way, "all"):
            found[name] += Counter(
                {
                    "losses": 1,
                    "first": ranked[:1] == [loss.true_place],
                    "in three": loss.true_place in ranked[:3],
                    "naive first": naive[:1] == [loss.true_place],
                    "naive in three": loss.true_place in naive[:3],
                }
            )
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--losses", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=7)
    asked = parser.parse_args()
    columns = ("first", "in three", "naive first", "naive in three")
    print(f"{'way of losing':24}{'losses':>8}" + "".join(f"{one:>16}" for one in columns))
    for way, counts in sorted(rates(asked.losses, asked.seed).items(), key=lambda pair: pair[0] == "all"):
        shares = "".join(f"{counts[one] / counts['losses']:>16.0%}" for one in columns)
        print(f"{way:24}{counts['losses']:>8}{shares}")


if __name__ == "__main__":
    main()
