"""Codes against ISO/IEC 7064 and entry ids against RFC 9562 (vectors and their sources: tests/standards/codes.json)."""

from __future__ import annotations

import json
import string
from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import UUID

import pytest
from stdnum.iso7064 import mod_37_36

from inventory import codes, ledger
from inventory.models import Label
from inventory.naming import item_named
from tests.factories import T0, make_item, make_owner, make_type

VECTORS = json.loads((Path(__file__).parent / "codes.json").read_text())
CHARACTERS = string.digits + string.ascii_uppercase


def by_hand(body: str) -> str:
    """The hybrid system MOD 37,36 step by step, as the standard's text has it."""
    p = 36
    for character in body:
        p = (p + CHARACTERS.index(character)) % 36 or 36
        p = p * 2 % 37
    return CHARACTERS[(1 - p) % 36]


@pytest.mark.parametrize("vector", VECTORS["mod_37_36"], ids=lambda vector: vector["body"])
def test_the_check_character_is_the_standards(vector):
    whole = codes.with_check(vector["body"])
    assert whole == vector["body"] + vector["check"]
    assert by_hand(vector["body"]) == vector["check"]
    assert codes.is_whole(whole)


def test_every_wrong_character_breaks_the_check():
    for vector in VECTORS["mod_37_36"]:
        whole = vector["body"] + vector["check"]
        wrong = {
            whole[:n] + other + whole[n + 1 :] for n in range(len(whole)) for other in CHARACTERS if other != whole[n]
        }
        assert len(wrong) == 35 * len(whole)
        assert not any(codes.is_whole(one) for one in wrong)


@pytest.fixture
def issued(db):
    """Codes issued one by one, a few at once, many at once, and blank ones ahead."""
    item_type, owner = make_type(), make_owner()
    items = [make_item(item_type, owner=owner) for _ in range(5)]
    codes.issue(items, at=T0)
    codes.issue(items * 395, at=T0)
    codes.issue_blank(15, at=T0)
    return list(Label.objects.values_list("code", flat=True))


def test_issued_codes_are_whole_safe_and_agree_with_a_second_implementation(issued):
    assert len(issued) == len(set(issued)) == 2000
    for code in issued:
        assert len(code) == codes.LENGTH
        assert set(code) <= set(codes.ALPHABET)
        assert code[-1] == by_hand(code[:-1]) == mod_37_36.calc_check_digit(code[:-1])


def test_no_slip_of_one_code_is_another_issued_code(issued):
    taken = set(issued)
    for code in issued:
        slips = set(codes.neighbours(code, CHARACTERS)) - {code}
        assert len(slips) > 36 * len(code)
        assert slips.isdisjoint(taken)


def test_a_mistyped_code_names_no_item(issued):
    for code in issued[:3]:
        assert item_named(code) is not None
        slips = [
            code[1] + code[0] + code[2:],
            code[:3] + code[4:],
            code + "7",
            code[:-1] + ("A" if code[-1] != "A" else "C"),
        ]
        assert [item_named(slip) for slip in slips if slip != code] == [None] * len([s for s in slips if s != code])


def test_a_crowded_space_is_said_rather_than_given_a_code_too_close(issued, monkeypatch):
    monkeypatch.setattr(codes, "_draw", lambda: issued[0])
    with pytest.raises(codes.CodesExhausted, match="only 0 of 1"):
        codes.new_codes(1)


def test_the_rfcs_example_id_reads_as_the_rfc_says():
    vector = VECTORS["uuidv7"]
    example = UUID(vector["uuid"])
    assert (example.version, example.int >> 62 & 0b11) == (7, 0b10)
    assert example.int >> 80 == vector["unix_ms"]
    assert example.int >> 64 & 0xFFF == int(vector["rand_a"], 16)
    assert example.int & (1 << 62) - 1 == int(vector["rand_b"], 16)


def test_an_entrys_id_carries_its_time_as_the_example_does():
    vector = VECTORS["uuidv7"]
    made = ledger.new_id(datetime(2022, 2, 22, 19, 22, 22, tzinfo=UTC))
    assert made.int >> 80 == vector["unix_ms"] == UUID(vector["uuid"]).int >> 80
    assert (made.version, made.int >> 62 & 0b11) == (7, 0b10)


def test_ids_of_one_millisecond_rise_even_when_others_come_between():
    made = []
    for n in range(2000):
        made.append(ledger.new_id(T0))
        ledger.new_id(T0 + timedelta(milliseconds=n + 1))
    assert made == sorted(set(made))
    assert {one.int >> 80 for one in made} == {int(T0.timestamp() * 1000)}
    assert {one.version for one in made} == {7}
