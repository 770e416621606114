"""Do the stored places still follow from the entries? A replay of every item, compared row by row.

And does each place stand in lists by what it is called?
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from django.db.models import Max

from inventory import ledger, place_order
from inventory.answers import loading
from inventory.answers.book import bay_of
from inventory.answers.oddities import of_devices, of_uploads
from inventory.answers.values import Reason, Verdict
from inventory.models import Entry, Holding, Item, Place

STEP = 500


def audit(*, mend: bool = False) -> Verdict:
    """Compare every Holding row with a replay, and list gaps, clocks and uploads kept aside.

    The answer is `fits`, `differs`, or `mended` when the rows were computed anew and now fit.
    """
    at = Entry.objects.aggregate(newest=Max("happened_at"))["newest"]
    wrong, astray = list(_wrong(at)), list(_astray())
    word = "differs" if wrong or astray else "fits"
    if word == "differs" and mend:
        ledger.rebuild()
        place_order.put_in_order(Place.objects.all())
        word = "differs" if any(_wrong(at)) or any(_astray()) else "mended"
    count = Entry.objects.count()
    sentence = {
        "fits": f"Every stored place follows from the {count} entries.",
        "differs": f"{len(wrong)} stored places do not follow from the {count} entries.",
        "mended": f"{len(wrong)} stored places did not follow from the {count} entries; they do now.",
    }[word]
    if astray:
        stand = "stood" if word == "mended" else "stand"
        sentence += f" Places that {stand} in lists where they do not belong: {len(astray)}."
    return Verdict(word, sentence, (*wrong, *astray, *of_devices(), *of_uploads()))


def _astray() -> Iterator[Reason]:
    for place in place_order.out_of_order(Place.objects.all()):
        sentence = f"Lists by place do not have {place.called} where its name belongs."
        yield Reason("order of places differs", sentence, "Run audit_ledger --mend.")


def _wrong(at: datetime | None) -> Iterator[Reason]:
    if at is None:
        return
    ids = list(Item.objects.order_by("pk").values_list("pk", flat=True))
    for start in range(0, len(ids), STEP):
        yield from _wrong_of(ids[start : start + STEP], at)


def _wrong_of(ids: list[int], at: datetime) -> Iterator[Reason]:
    stored = {row.pk: (row.place_id, row.bay, row.entry_id) for row in Holding.objects.filter(pk__in=ids)}
    book = loading.bays_of(ids, at)
    for item in ids:
        stay = book.stay(item)
        told = (stay[-1].place, bay_of(book, item).label, stay[-1].id) if stay else (None, "", None)
        if stored.get(item, (None, "", None)) != told:
            name = book.things[item].ref.words
            place = book.spots[told[0]].ref.name if told[0] else "nowhere known"
            entries = tuple(one for one in (told[2], stored.get(item, (None, "", None))[2]) if one)
            sentence = f"{name} is stored elsewhere than where its entries put it ({place})."
            yield Reason("stored place differs", sentence, "Run audit_ledger --mend.", entries, (item,))
