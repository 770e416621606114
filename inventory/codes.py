"""The codes on labels: a safe alphabet, a check character, and no two codes close enough to mix up."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Iterable, Iterator, Set
from datetime import datetime
from itertools import chain, islice

from stdnum.iso7064 import mod_37_36

from inventory.models import Item, Label, LabelKind, slim
from inventory.models.adding import add_all

# Without 0 O Q D, 1 I L, 2 Z, 5 S, 8 B, 6 G, U V: the pairs people misread on a label (common practice).
ALPHABET = "3479ACEFHJKMNPRTWXY"
LENGTH = 7  # six characters and the check character: room for 47 million, and a version 1 QR at level H
FEW = 20  # up to so many are looked up one by one, more against all that were issued
TRIES = 500  # for one code: as many draws as a space nearly full would need


class CodesExhausted(RuntimeError):
    """No free code was found in many tries: the codes in use crowd the space."""


def with_check(body: str) -> str:
    """Add the ISO/IEC 7064 MOD 37,36 check character."""
    return body + mod_37_36.calc_check_digit(body)


def is_whole(code: str) -> bool:
    """Does the check character fit the rest?"""
    return mod_37_36.is_valid(code)


def neighbours(code: str, alphabet: str = ALPHABET) -> Iterator[str]:
    """Every text one edit (change, loss, extra) or one swap of neighbours away from code."""
    yield from _as_long(code, alphabet)
    for i in range(len(code) + 1):
        yield from (code[:i] + c + code[i:] for c in alphabet)
    for i in range(len(code)):
        yield code[:i] + code[i + 1 :]


def _as_long(code: str, alphabet: str = ALPHABET) -> Iterator[str]:
    """Those neighbours that are as long as the code: one character changed, or two swapped."""
    for i in range(len(code)):
        yield from (code[:i] + c + code[i + 1 :] for c in alphabet if c != code[i])
        if i + 1 < len(code) and code[i] != code[i + 1]:
            yield code[:i] + code[i + 1] + code[i] + code[i + 2 :]


def _draw() -> str:
    while True:
        code = with_check("".join(secrets.choice(ALPHABET) for _ in range(LENGTH - 1)))
        if code[-1] in ALPHABET:
            return code


def new_codes(count: int) -> list[str]:
    """Draw codes that no issued code, and none of each other, is one slip away from."""
    found: list[str] = []
    try:
        found.extend(islice(drawn(many=count > FEW), count))
    except CodesExhausted:
        raise CodesExhausted(f"only {len(found)} of {count} codes could be drawn") from None
    return found


def drawn(*, many: bool) -> Iterator[str]:
    """Codes without end, each as new_codes() wants it. Many: the issued codes are read once, at the first."""
    taken = set(Label.objects.values_list("code", flat=True)) if many else set()
    slips = _as_long if many and {len(code) for code in taken} <= {LENGTH} else neighbours
    while True:
        code = _far_from(taken, slips, many)
        taken.add(code)
        yield code


def drawn_ahead(count: int) -> Iterator[str]:
    """The same, so many of them drawn now: nobody has to wait for that later. No other code may be issued meanwhile."""
    endless = drawn(many=count > FEW)
    return chain(list(islice(endless, count)), endless)


def _far_from(taken: Set[str], slips: Callable[[str], Iterator[str]], many: bool) -> str:
    for _ in range(TRIES):
        code = _draw()
        near = {code, *slips(code)}
        if near.isdisjoint(taken) and (many or not Label.objects.filter(code__in=near).exists()):
            return code
    raise CodesExhausted(f"no code could be drawn in {TRIES} tries")


def issue(
    items: Iterable[Item], *, at: datetime, kind: str = LabelKind.ITEM, drawn: Iterator[str] | None = None
) -> list[Label]:  # fmt: skip
    """Give each item a new code, of those being drawn where many are issued bit by bit."""
    wanted = list(items)
    codes = new_codes(len(wanted)) if drawn is None else list(islice(drawn, len(wanted)))
    same = {"kind": kind, "issued_at": at, "bound_at": at}
    pairs = zip(wanted, codes, strict=True)
    return add_all([slim.new(Label, {**same, "code": code, "item_id": item.pk}, item=item) for item, code in pairs])


def issue_blank(count: int, *, at: datetime) -> list[Label]:
    """Codes printed ahead, to be adopted by a scan."""
    labels = [Label(code=code, kind=LabelKind.BLANK, issued_at=at) for code in new_codes(count)]
    return Label.objects.bulk_create(labels)
