"""What is kept of the demo world's answers would be the same if it were made anew, up to the next moment named."""

from __future__ import annotations

import gc
import random
import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from functools import partial
from itertools import count

import pytest
import time_machine
from django.contrib.auth import get_user_model
from django.db import connection
from django.db.models import F, Manager, Model, Q, QuerySet

from inventory import tallies, unchanged
from inventory.answers import contents, readiness
from inventory.answers.blankness import blank_sets
from inventory.answers.readiness_rules import judge
from inventory.answers.values import Strength
from inventory.answers.whereabouts import then_and_now, whereabouts
from inventory.ledger import Fact, Witness, record
from inventory.models import Entry, Grade, Item, Place, Role, System, Verb
from inventory.rereading import read_again
from inventory.unchanged import until
from shipping import desk_changes, planning, reconcile, sealing, trips
from shipping.models import Leg, Show
from shipping.planning.going import Question

pytestmark = pytest.mark.slow
WEEK = timedelta(days=7)


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
        now, then = (planning._findings_for_show(show.pk, at) for at in moments)
        assert now == then
    assert sealing._sealed_with_blocks(moments[0]) == sealing._sealed_with_blocks(moments[1])


def test_many_things_then_and_now_are_as_sure_as_each_asked_alone(moments):
    """What a return reads of all that left in one go: how sure it was when it left, and where it is."""
    at = moments[0]
    for show in Show.objects.all():
        trip = trips.followed(show.code, at)
        left = {} if trip is None else {pk: how.step.at for pk, how in trip.state.left.items()}
        if not left:
            continue
        asked = {when: [pk for pk in left if left[pk] == when] for when in left.values()}
        told = then_and_now(asked, list(left), at)
        for item in Item.objects.filter(pk__in=left).order_by("pk")[::9]:
            then, now = whereabouts(item, left[item.pk]), whereabouts(item, at)
            assert told.then[item.pk] == (then.links[0].strength if then.links else Strength.UNKNOWN)
            assert told.now[item.pk] == replace(now, reasons=())


def test_a_case_holds_the_same_until_then(moments):
    for place in Place.objects.filter(item__number__in=("HER-02", "CUR-02", "HER-13")):
        now, then = (contents._contents(place, at, None, 0, 200) for at in moments)
        assert replace(now, at=then.at) == then


def test_systems_are_as_ready_until_then(moments):
    systems = list(System.objects.all())
    now, then = (readiness._rows_of([one.pk for one in systems], at, blank_sets) for at in moments)
    day = moments[0].date()
    for system in systems:
        verdicts = [judge(rows[system.pk], on=day, at=moments[0]) for rows in (now, then)]
        assert verdicts[0].reasons == verdicts[1].reasons
        assert verdicts[0].remarks == verdicts[1].remarks


def test_a_plan_of_a_show_is_the_same_until_then(moments):
    show = Show.objects.get(code="FMC")
    now, then = (desk_changes._made_now(show, Question(), at) for at in moments)
    assert now is not None and now == then


TOKEN = re.compile(r'(?<=csrfmiddlewaretoken" value=")\w+')
PAGES = (
    "/", "/systems/", "/show/FMC/", "/show/SBR/return/", "/case/HER-02/", "/case/CUR-02/", "/system/heron/",
    "/set/heron-2/", "/show/FMC/packing/?also=curlew",
)  # fmt: skip


@pytest.fixture
def pages(tonight, client, monkeypatch) -> Iterator[object]:
    """The main pages as the kit manager sees them, at a moment with a fraction; a mark that each act changes."""
    marks = count()
    standing = [next(marks)]
    monkeypatch.setattr(unchanged, "mark", lambda: standing[0])
    monkeypatch.setattr(unchanged, "file_of", lambda connection: ("book", 1))  # which lies in memory
    monkeypatch.setattr(tallies, "reader_of", lambda file: connection.connection)
    unchanged.forget()
    client.force_login(get_user_model().objects.get(username="ida"))

    def ask(minutes: int) -> list[str]:
        standing[0] = next(marks)
        with time_machine.travel(tonight.zero + timedelta(minutes=minutes, microseconds=12345), tick=False):
            return [TOKEN.sub("", client.get(page).content.decode()) for page in PAGES]

    yield ask
    unchanged.forget()


Act = Callable[[datetime], object]


def _acts() -> list[tuple[str, Act]]:
    """Things that people do to what the pages tell of, one after another."""
    frame = Item.objects.filter(type__kind="frame", home_system__slug="heron").first()
    drive = Item.objects.filter(home_set__slug="heron-2").first()
    case, other = (Item.objects.get(number=number) for number in ("HER-02", "CUR-02"))
    elsewhere = Place.objects.filter(kind="store").first()
    facts = [
        ("a sight", Fact(Verb.SEEN, drive, grade=Grade.SCAN)),
        ("a fault", Fact(Verb.FAULTED, frame, note="It smells burnt.", grade=Grade.TICK)),
        ("an opened seal", Fact(Verb.SEAL_BROKEN, case, note="Customs.", grade=Grade.TICK)),
        ("a move", Fact(Verb.PLACED, other, place=elsewhere, grade=Grade.SCAN)),
    ]
    return [*((what, partial(_record, fact)) for what, fact in facts), ("edits at the desk", _edit)]


def _record(fact: Fact, at: datetime) -> None:
    record([fact], by=Witness("Ida Penrake", Role.KIT_MANAGER), at=at)


def _edit(at: datetime) -> None:
    """Rows that pages read before they ask for what is kept: a show, its legs, a system."""
    Show.objects.filter(code="FMC").update(name="Fjellmark Open", discreet=True, leaves_at=F("leaves_at") - WEEK)
    Leg.objects.filter(consignment__show__code="FMC").update(mode="air", passenger_aircraft=True, driver="")
    System.objects.filter(slug="heron").update(name="Heron Blue")


def test_pages_after_a_write_read_as_if_nothing_had_been_kept(pages, tonight):
    pages(0)
    for minute, (what, act) in enumerate(_acts(), 1):
        act(tonight.zero + timedelta(minutes=minute, microseconds=-7))
        before = {key: answer.given for key, answer in unchanged._kept[0].answers.items()}
        again = pages(minute)
        assert _same(before) > 5, f"nothing outlived {what}, so this showed nothing"
        unchanged.forget()
        for page, kept, made in zip(PAGES, again, pages(minute), strict=True):
            assert kept == made, f"{page} after {what}"


@pytest.mark.skipif(connection.vendor != "sqlite", reason="elsewhere all is read again")
def test_no_query_that_is_passed_over_says_something_else(pages, tonight):
    """What is not read again after a write, since nothing it reads was written, reads the same: of all the pages."""
    pages(0)
    readings = {one for answer in unchanged._kept[0].answers.values() for one in answer.readings}
    at, passed = tonight.zero + timedelta(minutes=1, microseconds=4), Counter()
    for what, act in [*_scans(random.Random(5)), *_acts()]:
        before = tallies.state(("book", 1), unchanged._kept[0].state)
        said = {one: read_again(connection, one, at) for one in readings}
        act(at)
        changes = tallies.changes(before, tallies.state(("book", 1), before))
        left = [one for one in readings if not changes.may_touch(one.sql, one.bound)]
        passed[what] += len(left)
        assert [one.sql for one in left if read_again(connection, one, at) != said[one]] == [], what
    assert all(many > len(readings) // 8 for many in passed.values()), passed


def _scans(draw: random.Random) -> Iterator[tuple[str, Act]]:
    """People scan, place, open, report and take back, anything anywhere; some of it was long ago."""
    things = list(Item.objects.filter(labels__isnull=False, retired_at=None).distinct().order_by("pk"))
    places = list(Place.objects.filter(Q(item=None) | Q(item__type__kind="case")).order_by("pk"))
    for number in range(24):
        thing, place = draw.choice(things), draw.choice(places)
        verb = Verb.SEEN if place.item_id == thing.pk else draw.choice((Verb.SEEN, Verb.PLACED, Verb.RECEIVED))
        where = {} if verb == Verb.SEEN else {"place": place}
        ago = timedelta(days=draw.choice((0, 0, 2, 400)))
        yield "scans", partial(_record_then, Fact(verb, thing, grade=Grade.SCAN, **where), ago)
        if number % 6 == 0:
            last = Entry.objects.filter(corrects=None).order_by("-happened_at", "-pk")[draw.randrange(40)]
            taken_back = Fact(Verb.CORRECTED, last.label.item, corrects=last.act)
            yield "taken back", partial(_record_then, taken_back, timedelta())


def _record_then(fact: Fact, ago: timedelta, at: datetime) -> None:
    record([fact], by=Witness("Ida Penrake", Role.KIT_MANAGER), at=at - ago)


def test_a_scan_of_what_was_once_in_sealed_cases_makes_only_their_seals_anew(pages, tonight):
    """What the rules say of them stands on the seals, and those come out as they were."""
    pages(0)
    before = {key: answer.given for key, answer in unchanged._kept[0].answers.items()}
    sealed = Entry.objects.filter(verb=Verb.SEALED).values("label__item")
    was_in = Item.objects.filter(labels__entries__place__item__in=sealed, type__container=None)
    thing = was_in.exclude(holding__place__kind="inside").order_by("pk").first()
    _record(Fact(Verb.SEEN, thing, grade=Grade.SCAN), tonight.zero + timedelta(seconds=59))
    pages(1)
    after = {key: answer.given for key, answer in unchanged._kept[0].answers.items()}
    told = ("needs", "_sealed_over_a_block")
    assert after[told] is before[told]
    seals = [key for key in before if key[0] == "seals" and key in after]
    assert all(after[key] == before[key] for key in seals)
    assert any(after[key] is not before[key] for key in seals)


def test_an_opened_seal_tells_the_story_of_cases_anew_and_not_what_is_in_them(pages, tonight):
    pages(0)
    before = {key: answer.given for key, answer in unchanged._kept[0].answers.items()}
    opened = Fact(Verb.SEAL_BROKEN, Item.objects.get(number="HER-02"), note="Customs.", grade=Grade.TICK)
    _record(opened, tonight.zero + timedelta(seconds=59))
    pages(1)
    after = {key: answer.given for key, answer in unchanged._kept[0].answers.items()}
    packed = [key for key in before if key[0] == "packed" and key in after]
    assert packed and all(after[key] is before[key] for key in packed)
    told = [key for key in before if key[0] == "cases" and key in after]
    assert any(after[key] != before[key] for key in told)


def _same(before: dict[object, object]) -> int:
    """How many of the answers kept now are those of before."""
    return sum(before.get(key) is answer.given for key, answer in unchanged._kept[0].answers.items())


def test_every_answer_of_the_pages_can_be_proved_and_holds_nothing_that_loads_more(pages):
    pages(0)
    answers = unchanged._kept[0].answers
    assert len(answers) > 20
    assert [key for key, answer in answers.items() if not answer.whole] == []
    assert {key: found for key, answer in answers.items() if (found := _loaders(answer.given))} == {}


def _loaders(answer: object) -> set[str]:
    """Names of models and queries anywhere in an answer."""
    seen, todo, found = set(), [answer], set()
    while todo:
        one = todo.pop()
        if id(one) in seen or isinstance(one, (type, str, bytes)):
            continue
        seen.add(id(one))
        if isinstance(one, (Model, QuerySet, Manager)):
            found.add(type(one).__name__)
        else:
            todo += [inner for inner in gc.get_referents(one) if not hasattr(inner, "__code__")]
    return found
