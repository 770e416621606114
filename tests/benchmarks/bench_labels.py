"""Case labels in one PDF, with their symbols and without, in one run: python -m tests.benchmarks.bench_labels [N].

The ratio is what the symbols cost; processor seconds, since a busy machine stretches the clock.
"""

from __future__ import annotations

import os
import sys
import time

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
django.setup()

from inventory import codes, pdf  # noqa: E402
from inventory.labels import address  # noqa: E402

AIM, LIMIT = 1.3, 1.6


def label(number: int, *, with_symbol: bool) -> dict[str, object]:
    code = codes.with_check(f"{number:06d}")
    mark = [{"kind": kind, "limit": ""} for kind in ("this way up", "do not stack", "battery inside")]
    return {
        "letters": "HER", "digits": f"{number % 100:02d}", "system": "Heron", "colour": "BLUE", "band": "blue",
        "ink": "#fff", "kind": "control panel", "room": "Hall B", "code": code, "n_of_n": f"{number} of 500",
        "qr": address(code) if with_symbol else "", "trip": "FMC on Teasel", "mass": "68 kg / 150 lb",
        "lift": "plan the lift: wheels or lifting aid, ask the person in charge", "guide": "Guide only.",
        "marks": mark, "seal": "Seal no. ______________", "owner": "If found: +44 1632 960100", "first_off": True,
        "printed": "issue 1 · 14 Mar 2026 13:00",
    }  # fmt: skip


def seconds(count: int, *, with_symbol: bool) -> float:
    labels = [label(number, with_symbol=with_symbol) for number in range(1, count + 1)]
    start = time.process_time()
    made = pdf.render("documents/case-label.html", {"paper": {"title": "labels", "labels": labels}})
    spent = time.process_time() - start
    print(f"{count} labels {'with' if with_symbol else 'without'} symbols: {spent:.1f} s, {len(made) // 1024} kB")
    return spent


def main() -> int:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    seconds(20, with_symbol=True)  # fonts and stylesheet are read once
    ratio = seconds(count, with_symbol=True) / seconds(count, with_symbol=False)
    print(f"ratio {ratio:.2f} (aim {AIM}, limit {LIMIT})")
    return 0 if ratio <= LIMIT else 1


if __name__ == "__main__":
    sys.exit(main())
