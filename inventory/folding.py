"""How two written forms are compared: folded for equality, never rewritten."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

_CONFUSED = str.maketrans("OQDILSBZ", "00011582")


@lru_cache(maxsize=32768)  # a sheet says the same few names in each of its rows, and asks of them many times
def fold(text: str) -> str:
    """Case, space, dash and Unicode form removed: two writings of one serial fold to the same text."""
    plain = unicodedata.normalize("NFKC", text).upper()
    return re.sub(r"[\s\-\u2010-\u2015\u2212_]+", "", plain)


_DIGITS = re.compile(r"[0-9]{1,18}")


@lru_cache(maxsize=32768)  # a list is sorted by the same few thousand names each time it is looked at
def natural(text: str) -> bytes:
    """A key that sorts as people do, here and in a database: HER-2 before HER-10, whatever the case.

    A number is written with how many digits it has before it, and a zero byte, which no text holds, before that.
    """
    return _DIGITS.sub(_counted, text.casefold()).encode("utf-8", "surrogatepass")


def _counted(found: re.Match[str]) -> str:
    digits = found[0].lstrip("0") or "0"
    return f"\0{len(digits):02}{digits}"


@lru_cache(maxsize=4096)  # search asks it of the same names again and again
def fold_confusable(text: str) -> str:
    """Fold, then map the characters people misread on to one of each pair (0/O/Q/D, 1/I/L, 5/S, 8/B, 2/Z).

    Pairs after Unicode UTS #39's idea of a confusable skeleton (from memory); for search and warnings only.
    """
    return fold(text).translate(_CONFUSED)
