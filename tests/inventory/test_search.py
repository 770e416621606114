"""What is found when people misread, mistype or half remember."""

from __future__ import annotations

from datetime import timedelta

import pytest

from inventory import ledger
from inventory.answers.search import is_sure, search
from inventory.answers.worded import stem
from inventory.ledger import Fact
from inventory.models import Item, ItemAlias, Verb
from tests.factories import ANA, IDA, T0, make_case, make_drive, make_item, make_place, make_set, make_system, make_type


@pytest.fixture
def book(db):
    drives = [make_drive(serial) for serial in ("71B04K", "71B05L", "72C35H")]
    case = make_case("HER-04")
    ItemAlias.objects.create(item=case, number="CBL-01", since=T0)
    make_system("Heron"), make_set("HERON-2"), make_place("Fjellmark Hall", "venue")
    return {"drives": drives, "case": case}


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        ("71B04K", "71B04K"),
        ("71b04k", "71B04K"),
        ("71 B0 4K", "71B04K"),
        ("7IBO4K", "71B04K"),
        ("B04K", "71B04K"),
        ("71B0K", "71B04K"),
        ("17B04K", "71B04K"),
        ("71B04KX", "71B04K"),
        ("72C33H", "72C35H"),
    ],
)
def test_a_serial_is_found_through_one_slip(book, typed, found):
    hits = search(typed)
    assert hits[0].named.texts[1] == found
    assert is_sure(hits)


@pytest.mark.parametrize("typed", ["71804K", "71B40K", "71BO4KK", "17B04K", "1B04K", "71B04", "71B0XK", "7LB04K"])
def test_a_slip_is_found_among_many_that_look_alike(book, typed):
    for n in range(60):
        make_drive(f"{n + 10}B04{'ACEFHJ'[n % 6]}"), make_drive(f"71C{n + 10}K")
    assert "71B04K" in {hit.named.texts[1] for hit in search(typed)[:3] if hit.named.kind == "item"}


def test_of_two_that_fit_alike_the_one_handled_last_is_first(book):
    older, newer = make_drive("55X77Y"), make_drive("44X77Y")
    for drive, days in ((older, 2), (newer, 1)):
        at = T0 - timedelta(days=days)
        ledger.record([Fact(Verb.PLACED, drive, place=make_place())], by=ANA, at=at)
    assert [hit.named.key for hit in search("X77Y")[:2]] == [newer.pk, older.pk]
    ledger.record([Fact(Verb.PLACED, older, place=make_place("Quay Unit"))], by=ANA, at=T0)
    assert [hit.named.key for hit in search("X77Y")[:2]] == [older.pk, newer.pk]


@pytest.mark.parametrize("typed", ["HER-04", "her-04", "her 4", "HER4", "CBL-01", "HER-O4"])
def test_a_case_is_found_as_people_write_it(book, typed):
    assert search(typed)[0].named.key == book["case"].pk


@pytest.mark.parametrize("typed", ["HRE-04", "EHR-04", "HER-40", "hre 04", "HE-R04"])
def test_a_cases_number_with_two_swapped_is_among_the_first(book, typed):
    for n in range(1, 10):
        make_case(f"WRE-0{n}"), make_case(f"ERA-0{n}"), make_case(f"HER-{n + 50}")
    assert book["case"].pk in [hit.named.key for hit in search(typed)[:3]]


@pytest.mark.parametrize(
    ("typed", "kind", "words"),
    [("herion 2", "drive set", "HERON-2"), ("heron", "system", "Heron"), ("fjelmark", "place", "Fjellmark Hall")],
)
def test_names_are_found_through_a_slip(book, typed, kind, words):
    first = search(typed)[0].named
    assert (first.kind, first.words) == (kind, words)


def test_several_alike_are_offered_and_none_is_guessed(book):
    hits = search("71B0")
    assert {hit.named.texts[1] for hit in hits if hit.named.kind == "item"} >= {"71B04K", "71B05L"}
    assert not is_sure(hits)


@pytest.mark.parametrize("typed", ["", "   ", "%", "zzqqxx", "'; drop table", "\x00"])
def test_nothing_and_nonsense_find_nothing(book, typed):
    assert search(typed) == ()


def test_what_is_not_allowed_is_not_found(book):
    assert search("71B04K", allowed=lambda found: [one.meant for one in found if one.kind != "item"]) == ()


def test_the_pages_questions_do_not_grow_with_the_book(book, django_assert_max_num_queries):
    with django_assert_max_num_queries(20) as before:
        search("71B0")
    for n in range(30):
        make_drive(f"71B0{n:02}M")
    with django_assert_max_num_queries(len(before.captured_queries)):
        search("71B0")


@pytest.fixture
def worded(db):
    """Two systems with alike parts, named as people name them."""
    wide, rail = make_type("Ebbmark Wide", kind="panel"), make_type("Rail pair 900")
    found = {}
    for name in ("Heron", "Curlew"):
        system = make_system(name)
        for kind, part in ((wide, "panel Wide"), (wide, "panel cover"), (rail, "left rail"), (rail, "right rail")):
            found[name, part] = make_item(
                kind, serial=f"{name[0]}{part[0]}{len(found)}7", name=part, home_system=system
            ).pk
    return found


def items_found(typed: str) -> list[int]:
    return [int(hit.named.key) for hit in search(typed) if hit.named.kind == "item"]


@pytest.mark.parametrize(
    ("typed", "system", "parts"),
    [
        ("curlew panel", "Curlew", {"panel Wide", "panel cover"}),
        ("the panels of Curlew", "Curlew", {"panel Wide", "panel cover"}),
        ("heron rails", "Heron", {"left rail", "right rail"}),
        ("rail HERON right", "Heron", {"right rail"}),
    ],
)
def test_plain_words_find_a_systems_parts(worded, typed, system, parts):
    assert set(items_found(typed)) == {worded[system, part] for part in parts}


def test_a_whole_name_and_a_system_are_sure(worded):
    hits = search("left rail of Heron")
    assert hits[0].named.key == worded["Heron", "left rail"] and is_sure(hits)
    assert not is_sure(search("heron rails"))


@pytest.mark.parametrize(
    ("typed", "parts"), [("rails", 4), ("panels", 4), ("covers", 2), ("rail cover", 0), ("tail", 0)]
)
def test_words_alone_find_the_things_of_all_systems(worded, typed, parts):
    assert len(items_found(typed)) == parts


def test_what_was_written_off_is_not_meant_by_words(worded):
    Item.objects.filter(pk=worded["Heron", "left rail"]).update(retired_at=T0)
    assert items_found("heron rails") == [worded["Heron", "right rail"]]


@pytest.mark.parametrize(
    ("plural", "one"),
    [("rails", "rail"), ("boxes", "box"), ("batteries", "battery"), ("switches", "switch"), ("cases", "case")],
)
def test_a_plural_and_its_singular_begin_alike(plural, one):
    assert one.startswith(stem(plural))


@pytest.mark.parametrize("word", ["ups", "glass", "bus", "yes"])
def test_what_is_no_plural_stays(word):
    assert stem(word) == word


def sealed(case, number, *, days=1, verb=Verb.SEALED):
    return ledger.record([Fact(verb, case, seal=number)], by=ANA, at=T0 - timedelta(days=days))


@pytest.mark.parametrize("typed", ["005103", "seal 005103", "Seal  005103"])
def test_a_seal_that_was_found_leads_to_its_case(book, typed):
    sealed(book["case"], "005103")
    hits = search(typed)
    assert hits[0].named.key == book["case"].pk and is_sure(hits)
    assert hits[0].named.why.startswith("Seal 005103 was put on HER-04 on ")


def test_a_seal_put_on_two_cases_offers_both_the_newer_first(book):
    sealed(book["case"], "AB-77", days=2), sealed(make_case("HER-05"), "AB-77", days=1)
    hits = search("ab-77")
    assert [hit.named.words for hit in hits[:2]] == ["HER-05", "HER-04"] and not is_sure(hits)


def test_a_sealing_taken_back_leads_nowhere(book):
    [entry] = sealed(book["case"], "005103")
    ledger.correct(entry.act, reason="wrong case", by=IDA, at=T0)
    assert search("005103") == ()


def test_a_case_is_offered_once_though_its_seal_looks_like_its_number(book):
    sealed(book["case"], "HER04")
    assert [hit.named.words for hit in search("HER04")].count("HER-04") == 1
