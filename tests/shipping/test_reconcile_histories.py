"""Whatever happens, every item that left stands in reconcile exactly once (random histories)."""

import pytest
from django.db import transaction
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from inventory.ledger import Fact
from inventory.models import Grade, PlaceKind, Verb
from shipping.reconcile import reconcile
from tests.factories import make_item, make_place
from tests.shipping.test_reconcile import Tour

ACTS = ["pack", "said", "leave", "home", "see", "left", "missed", "found", "fault", "out"]
SOME = st.lists(st.tuples(st.sampled_from(ACTS), st.integers(0, 3)), max_size=9)
# Something is always packed and leaves; what is done before and after is drawn.
STEPS = st.builds(lambda a, b: [*a, ("pack", 0), ("said", 1), ("leave", 0), *b], SOME, SOME)


def run(tour, items, act, item):
    facts = {
        "said": Fact(Verb.PACKED, item, place=tour.case.inside, grade=Grade.SAID),
        "left": Fact(Verb.LEFT, item, place=tour.hall),
        "missed": Fact(Verb.MISSED, item, reference="FMC"),
        "found": Fact(Verb.FOUND, item, place=tour.yard),
        "fault": Fact(Verb.FAULTED, item, note="hums"),
        "out": Fact(Verb.PULLED, item, place=tour.other),
    }
    if act in facts:
        tour.do([facts[act]])
        return
    {"pack": lambda: tour.pack(item), "leave": tour.leave, "home": tour.come_home, "see": lambda: tour.see(item)}[act]()


def naive_left(steps, items, case):
    """By hand: what was in the case at the last departure from the yard, replayed without the book."""
    inside, at_yard, left = set(), True, set()
    for act, n in steps:
        if act in ("pack", "said"):
            inside.add(items[n].pk)
        elif act in ("left", "found", "out"):
            inside.discard(items[n].pk)
        elif act == "leave" and at_yard:
            left |= {case.pk, *inside}
            at_yard = False
        elif act == "home":
            at_yard = True
    return left


@pytest.mark.django_db
@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(steps=STEPS)
def test_every_item_that_left_has_exactly_one_outcome(steps):
    with transaction.atomic():
        tour = Tour()
        tour.other = make_place("Hall control room", PlaceKind.ROOM)
        items = [make_item(name=f"thing {n}") for n in range(4)]
        for act, n in steps:
            run(tour, items, act, items[n])
        lines = reconcile(tour.show, tour.at).lines
        told = [line.item.id for line in lines] + [line.other.id for line in lines if line.other_outcome]
        assert len(told) == len(set(told))
        assert set(told) == naive_left(steps, items, tour.case)
        for line in lines:
            event(str(line.outcome))
        transaction.set_rollback(True)
