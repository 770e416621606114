"""Things meant by plain words, as people say them: `curlew panels`, `left rail of Heron`, `headsets`."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator

from inventory.answers.candidates import items_worded
from inventory.models import Item, System

ALL_OF_IT, SOME_OF_IT = 92.0, 85.0  # of 100; a serial or code that fits counts 91 to 99
FILLERS = frozenset(
    ("a", "an", "and", "for", "from", "in", "its", "my", "of", "on", "our", "the", "their", "to", "with")
)
SHORT = 3  # letters of a word that says anything by itself
Found = tuple[int, str, str, str]  # key, name, maker, type


def by_words(text: str) -> dict[int, float]:
    """Things whose name and type hold every word of the text, by their keys; how well each fits, of 100.

    A word may be the name of a system: then it is that system's things that are meant. Words may be in the plural.
    Nothing for a text without a word of three letters or more, such as a serial.
    """
    words = [word for word in _words(text) if word not in FILLERS]
    if not any(word.isalpha() and len(word) >= SHORT for word in words):
        return {}
    systems = {pk: name for pk, name in System.objects.values_list("pk", "name") if _named_in(name, words)}
    of_systems = {word for name in systems.values() for word in _words(name)}
    wanted = [stem(word) for word in words if word not in of_systems]
    if not any(len(word) >= SHORT for word in wanted):
        return {}
    found = ((row[0], _fit(wanted, row)) for row in _rows(wanted, systems))
    return {pk: fit if systems else min(fit, SOME_OF_IT) for pk, fit in found if fit}


def stem(word: str) -> str:
    """What a word and its plural begin with alike: rails and rail, boxes and box, batteries and battery."""
    for ending in ("ies", "es", "s"):
        if word.endswith(ending) and not word.endswith("ss") and len(word) >= len(ending) + SHORT:
            return word[: -len(ending)]
    return word


def _words(text: str) -> list[str]:
    return re.findall(r"[^\W_]+", text.casefold())


def _named_in(name: str, words: Collection[str]) -> bool:
    return bool(own := _words(name)) and all(word in words for word in own)


def _rows(wanted: Iterable[str], systems: Collection[int]) -> Iterator[Found]:
    """All that a system has is looked through; of everything, what the index knows by these words."""
    things = Item.objects.in_stock()
    if systems:
        things = things.filter(home_system__in=systems)
    else:
        things = things.filter(pk__in=items_worded([word for word in wanted if len(word) >= SHORT]))
    yield from things.order_by("pk").values_list("pk", "name", "type__maker", "type__name")


def _fit(wanted: Collection[str], row: Found) -> float:
    """All that is wanted stands there; more so where that is the whole of its name."""
    _pk, name, *kind = row
    own = _words(name)
    if not all(any(word.startswith(one) for word in (*own, *_words(" ".join(kind)))) for one in wanted):
        return 0.0
    return ALL_OF_IT if own and all(any(word.startswith(one) for one in wanted) for word in own) else SOME_OF_IT
