"""What is kept of the demo world's answers would be the same if it were made anew, up to the next moment named."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from inventory.answers import contents, readiness
from inventory.answers.blankness import blank_sets
from inventory.answers.readiness_rules import judge
from inventory.models import Place, System
from inventory.unchanged import until
from shipping import planning, reconcile, sealing
from shipping.models import Show

pytestmark = pytest.mark.slow


@pytest.fixture
def moments(tonight):
    """Now, and just before anything named in the book or a new day comes."""
    return tonight.zero, until(tonight.zero) - timedelta(microseconds=1)


def test_a_return_tells_the_same_until_then(moments):
    for show in Show.objects.all():
        now, then = (reconcile._reconcile(show.code, at) for at in moments)
        assert replace(now, at=then.at) == then


def test_the_rules_say_the_same_until_then(moments):
    for show in Show.objects.all():
        now, then = (planning._findings_for_show(show, at) for at in moments)
        assert now == then
    assert sealing._sealed_with_blocks(moments[0]) == sealing._sealed_with_blocks(moments[1])


def test_a_case_holds_the_same_until_then(moments):
    for place in Place.objects.filter(item__number__in=("HER-02", "CUR-02", "HER-13")):
        now, then = (contents._contents(place, at, None, 0, 200) for at in moments)
        assert replace(now, at=then.at) == then


def test_systems_are_as_ready_until_then(moments):
    systems = list(System.objects.all())
    now, then = (readiness._rows_of(systems, at, blank_sets) for at in moments)
    day = moments[0].date()
    for system in systems:
        verdicts = [judge(rows[system.pk], on=day, at=moments[0]) for rows in (now, then)]
        assert verdicts[0].reasons == verdicts[1].reasons
        assert verdicts[0].remarks == verdicts[1].remarks
