"""Scans that a phone made and that have not come in."""

from __future__ import annotations

import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory import clocks
from tests.factories import make_device
from tests.inventory.uploading import a_scan, answers, later


def code(item) -> str:
    return item.labels.first().code


@time_machine.travel(later(minutes=60), tick=False)
def test_gaps_in_a_phones_count_are_told_by_what_lies_beside_them(leg, cases, db):
    phone = make_device("Pim Osgood")
    whole = make_device("Ana Rell", day_pass=phone.day_pass)
    answers([a_scan(code(cases[0]), device_seq=1), a_scan(code(cases[1]), device_seq=5, at=later(minutes=9))])
    answers([a_scan(code(cases[2]), device_seq=7, at=later(minutes=20))])
    answers([a_scan(code(cases[2]), device_seq=1)], "Ana Rell", offset_ms=0)
    told = {one.device: one.sentences for one in clocks.phones_of([phone, whole])}
    first, second, third = (timezone.localtime(later(minutes=one)).strftime("%H:%M") for one in (0, 9, 20))
    assert told[phone.pk][-1] == (
        f"3 are missing between {cases[0]} at {first} and {cases[1]} at {second}; 1 is missing between {cases[1]} at "
        f"{second} and {cases[2]} at {third}. That phone may still hold them: open its scan page near a signal."
    )
    assert not any("missing" in one or "come in" in one for one in told[whole.pk])
    with CaptureQueriesContext(connection) as asked:
        clocks.phones_of([whole])
    assert len(asked) == 2  # no holes, no questions about them
