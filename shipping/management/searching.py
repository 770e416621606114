"""What the commands that look for a plan share: their options, reading the file, the clock, printing."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, TypeVar

from django.core.management.base import CommandError, CommandParser

from shipping.packing.reading import Unreadable

T = TypeVar("T")
LONGEST_S = 3600


def add_options(parser: CommandParser) -> None:
    parser.add_argument("--seconds", type=float, default=10.0, help="How long to look for a better plan.")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--json", action="store_true", help="Print the plan and its record as data.")


def check(options: Mapping[str, Any]) -> None:
    """Raises CommandError."""
    if not 0 < options["seconds"] <= LONGEST_S:
        raise CommandError(f"--seconds must be above 0 and at most {LONGEST_S}.")


def read(name: str, reader: Callable[[str], T]) -> T:
    """The file through its reader; every reason against it is one sentence. Raises CommandError."""
    try:
        return reader(Path(name).read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as wrong:
        raise CommandError(f"{name} cannot be read as text: {wrong}.") from wrong
    except Unreadable as wrong:
        raise CommandError(str(wrong)) from wrong


def remaining(seconds: float) -> Callable[[], float]:
    """Seconds left, counted from now."""
    end = time.monotonic() + seconds
    return lambda: max(0.0, end - time.monotonic())


def refuse_breaches(breaches: tuple[str, ...] | None) -> None:
    """A plan that failed the check is never shown. Raises CommandError."""
    if breaches:
        raise CommandError("No plan passed the check: " + " ".join(breaches))


def printed(as_data: Any, as_lines: list[str], options: Mapping[str, Any]) -> str:
    return json.dumps(as_data, indent=1, ensure_ascii=False) if options["json"] else "\n".join(as_lines)
