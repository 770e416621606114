"""Where a person meets each of the demo world's 22 faults, and the words they read there."""

from __future__ import annotations

import html
import re

from django.test import Client

from inventory.answers.wiping import wipe_answer
from inventory.models import DriveSet, Person
from tests.factories import T0

# fault: the page (or "wipe SET") and the words on it.
TOLD = {
    1: ("wipe heron-2", "HERON-2 may not be wiped: 7 of 7 drives"),
    2: ("/case/HER-04/", "Two Cs of HERON-2: cold spare 2"),
    3: ("/case/HER-03/", "A drive of CURLEW-1 (bay D) is in slot E"),
    4: ("/system/curlew/", "which is Heron's. Heron's panel Wide"),
    5: ("/system/curlew/", "Collect right rail from Rooms rack 3; ask Jo Marlow"),
    6: ("/case/CUR-02/", "cord, 5 m, not ours belongs"),
    7: ("/system/curlew/", "Ask Jo Marlow to release it, serial by serial"),
    8: ("/where/?q=72C51P", "CURLEW-2 A 72C51P is with Jo Marlow"),
    9: ("/case/HER-03/", "HERON-1 E is missing: at shelf Q"),
    10: ("wipe wren-1", "nothing says that Odd Varley may"),
    11: ("/case/WRE-06/", "holds 640 Wh of lithium and goes by air"),
    12: ("border list", "Two digits are exchanged"),
    13: ("/", "Ask Nell Harrow, +44 7700 900133 for WRE-07"),
    14: ("/where/?q=HER-07", "by the newer of two stories"),
    15: ("/where/?q=HER-12", "customs, on the way out; their seal 004481"),
    16: ("/", "back to Brambleside Hire: the hire ended"),
    17: ("/ledger/", "keyboard, no tag"),
    18: ("wipe curlew-1", "came back fitted in the frame: shock-suspect"),
    19: ("/case/GEN-03/", "GEN-03 used to be CBL-01"),
    20: ("/case/HER-05/", "2.9 kg less: not in it; it was put in here, and the case was open after that"),
    21: ("/where/?q=WRE-02", "plate worn"),
    22: ("/system/curlew/", "The inspection of distribution unit 1"),
}


def words(world: object, where: str) -> str:
    if where.startswith("wipe "):
        answer = wipe_answer(DriveSet.objects.get(slug=where.removeprefix("wipe ")), T0)
        return " ".join([answer.sentence, *(reason.sentence for reason in answer.reasons)])
    if where == "border list":
        where = f"/border/{world.shows['FMC'].border_lists.get().pk}/"
    client = Client()
    client.force_login(Person.objects.get(name="Ida Penrake").user)
    page = client.get(where)
    assert page.status_code == 200
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", page.content.decode())))
