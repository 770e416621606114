"""Which items a typed text may mean: a bounded number, asked of the index of parts, likeliest first."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from django.db import connection
from rapidfuzz.distance import OSA

from inventory.findable import MOST, SOURCES, TABLE
from inventory.folding import fold_confusable
from inventory.models import ItemAlias, Label

PART = 3
FEW = 3
KEPT = 40
MOST_ITEMS = 60
WORDED = 200  # a word that more things share says too little to tell them apart by
ONE_SLIP = 3.0  # what `_apart` gives for less than two slips
Row = tuple[int, str]
_NOT_WORD = re.compile(r"[^0-9A-Z]+")


def items_meant(text: str) -> list[int]:
    """Ids of items, likeliest first, whose code, number, serial or name holds the text, or is a slip away from it."""
    folded = _word(text)
    holding = _holding("term", [folded]) if len(folded) >= PART else []
    found = _nearest(folded, holding)
    if any(folded in terms.split() for _, terms in holding):
        return _items(found[:MOST_ITEMS])  # typed in full: no name and no slip of the finger is meant
    words = [word for word in map(_word, text.split()) if len(word) >= PART]
    if words and len(found) < KEPT:
        found += [row for row, _ in _holding("words", words)[:KEPT]]
    if len(found) < FEW and not any(_ends_so(folded, terms) for _, terms in holding):
        found += _a_slip_away(folded)
    return _items(list(dict.fromkeys(found))[:MOST_ITEMS])


def items_worded(words: Iterable[str]) -> list[int]:
    """Ids of some items whose name or type holds each of these words, or what begins with it."""
    folded = [_word(word) for word in words]
    rows = _holding("words", [word for word in folded if len(word) >= PART], WORDED)
    return _items(sorted(row for row, _ in rows))


def _ends_so(folded: str, terms: str) -> bool:
    """Is it the tail that people read out? Then it is taken as typed right."""
    return any(term.endswith(folded) for term in terms.split())


def _word(word: str) -> str:
    return _NOT_WORD.sub("", fold_confusable(word))


def _a_slip_away(folded: str) -> list[int]:
    """Rows that a change, a loss, an extra or a swap of two neighbours leads to.

    Each leaves one half of the text as it was, save a swap across the middle: that one is looked up whole. Only where
    all this finds nothing near, whatever shares most parts is looked at.
    """
    if len(folded) >= 2 * PART:
        half = len(folded) // 2
        swapped = folded[: half - 1] + folded[half] + folded[half - 1] + folded[half + 1 :]
        rows = _holding_any([folded[:half], folded[half:], swapped])
        if any(_distance(folded, terms) < ONE_SLIP for _, terms in rows):
            return _nearest(folded, rows)
    if len(folded) <= PART:
        return []
    neighbours = _holding_any(_swaps(folded)) if len(folded) < 2 * PART else []
    return _nearest(folded, dict.fromkeys([*_sharing(folded), *neighbours]))


def _swaps(folded: str) -> list[str]:
    """The text with each two neighbours swapped: a case's number is too short to leave a half as it was."""
    swapped = (f"{folded[:at]}{folded[at + 1]}{folded[at]}{folded[at + 2 :]}" for at in range(len(folded) - 1))
    return list(dict.fromkeys(swapped))


def _nearest(folded: str, rows: Iterable[Row]) -> list[int]:
    """Row numbers by how close their best term is: the same, ending so, one slip, holding it."""
    return [row for row, _ in sorted(rows, key=lambda one: (_distance(folded, one[1]), one[0]))[:KEPT]]


def _distance(folded: str, terms: str) -> float:
    return min((_apart(folded, term) for term in terms.split()), default=99.0)


def _apart(folded: str, term: str) -> float:
    if term == folded:
        return 0
    if term.endswith(folded):
        return 0.5 + len(term) / 100
    return 1 + OSA.distance(folded, term, score_cutoff=3) + (0 if folded in term else 0.5)


def _holding(column: str, texts: list[str], most: int = MOST) -> list[Row]:
    """Rows with every text somewhere in the column."""
    if connection.vendor == "postgresql":
        where = " AND ".join(f"{column} LIKE %s" for _ in texts)
        return _ask(f"SELECT id, term FROM {TABLE} WHERE {where} LIMIT {most}", [f"%{text}%" for text in texts])
    match = " AND ".join(f'{column} : "{text}"' for text in texts)
    return _ask(f"SELECT rowid, term FROM {TABLE} WHERE {TABLE} MATCH %s LIMIT {most}", [match])


def _holding_any(texts: list[str]) -> list[Row]:
    """Rows with any of these texts somewhere in a term."""
    if connection.vendor == "postgresql":
        where = " OR ".join("term LIKE %s" for _ in texts)
        return _ask(f"SELECT id, term FROM {TABLE} WHERE {where} LIMIT {MOST}", [f"%{text}%" for text in texts])
    match = "term : (" + " OR ".join(f'"{text}"' for text in texts) + ")"
    return _ask(f"SELECT rowid, term FROM {TABLE} WHERE {TABLE} MATCH %s LIMIT {MOST}", [match])


def _sharing(folded: str) -> list[Row]:
    """Rows that share parts of three letters with the text, those that share most first."""
    parts = [folded[at : at + PART] for at in range(len(folded) - PART + 1)]
    if connection.vendor == "postgresql":
        where = " OR ".join("term LIKE %s" for _ in parts)
        shared = " + ".join("(term LIKE %s)::int" for _ in parts)
        sql = f"SELECT id, term FROM {TABLE} WHERE {where} ORDER BY {shared} DESC, id LIMIT {5 * KEPT}"
        return _ask(sql, [f"%{part}%" for part in parts] * 2)
    match = "term : (" + " OR ".join(f'"{part}"' for part in parts) + ")"
    sql = f"SELECT rowid, term FROM {TABLE} WHERE {TABLE} MATCH %s ORDER BY rank LIMIT {5 * KEPT}"
    return _ask(sql, [match])


def _ask(sql: str, values: list[str]) -> list[Row]:
    with connection.cursor() as cursor:
        cursor.execute(sql, values)
        found: list[Row] = cursor.fetchall()
    return found


def _items(rows: list[int]) -> list[int]:
    """The items behind the rows, in the same order."""
    labels = [row // SOURCES for row in rows if row % SOURCES == 1]
    aliases = [row // SOURCES for row in rows if row % SOURCES == 2]
    of_label = dict(Label.objects.filter(pk__in=labels, item__isnull=False).values_list("pk", "item_id"))
    of_alias = dict(ItemAlias.objects.filter(pk__in=aliases).values_list("pk", "item_id"))
    known: tuple[Mapping[int, int | None], ...] = ({}, of_label, of_alias)
    found = (row // SOURCES if row % SOURCES == 0 else known[row % SOURCES].get(row // SOURCES) for row in rows)
    return list(dict.fromkeys(item for item in found if item is not None))
