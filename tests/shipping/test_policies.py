"""What is insured: dated policies, only added, and how far they go for what a vehicle carries in a night."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
import time_machine
from django.db import DatabaseError, transaction
from django.urls import reverse

from inventory.ledger import Fact, Witness, record
from inventory.models import Role, Verb
from inventory.registering import inside_of
from shipping.insuring import PolicyRefusal, enter, in_force, insured
from shipping.models import Policy
from tests.factories import IDA, T0, make_item
from tests.shipping.packed import make_vehicle

DAY = date(2026, 3, 14)
GIVEN = {
    "insurer": "Saltmere Mutual", "number": "K-2207", "currency": "gbp", "in_one_vehicle": Decimal(50_000),
    "excess": Decimal(1_000), "basis": "new for old", "overnight": "only in a locked, guarded yard",
    "valid_from": date(2026, 1, 1), "valid_to": date(2026, 12, 31),
}  # fmt: skip


def policy(**more: object) -> Policy:
    return enter({**GIVEN, **more}, by=IDA, at=T0)


@pytest.mark.django_db
def test_it_counts_from_its_first_day_to_its_last_and_no_longer():
    policy()
    for day, counts in ((date(2025, 12, 31), False), (date(2026, 1, 1), True), (date(2026, 12, 31), True),
                        (date(2027, 1, 1), False)):  # fmt: skip
        assert bool(in_force(day)) == counts, day
    policy(valid_to=None, number="K-3000")
    assert in_force(date(2030, 1, 1))["GBP"].number == "K-3000"


@pytest.mark.django_db
def test_of_those_in_force_the_one_entered_last_counts():
    policy(valid_from=date(2026, 3, 1), number="new")
    enter({**GIVEN, "number": "mended"}, by=IDA, at=T0 + timedelta(hours=1))
    assert in_force(DAY)["GBP"].number == "mended"


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("value", "currency", "word", "words"),
    [
        (
            50_000,
            "GBP",
            "INSURED",
            "Insured for up to 50,000 GBP in one vehicle. Saltmere Mutual, policy K-2207; new",
        ),
        (62_500, "GBP", "TOO LITTLE", "12,500 GBP less than it costs new"),
        (10, "EUR", "NOT KNOWN", "No policy in EUR is entered"),
        (10, "", "NOT KNOWN", "No policy in this currency is entered"),
    ],
)
def test_a_sum_is_told_against_the_policy_of_its_own_currency(value, currency, word, words):
    policy()
    line = insured([(currency, Decimal(value))], DAY)[0]
    assert line.word == word and words in line.sentence
    assert (line.meaning == "settled") == (word == "INSURED")


@pytest.mark.django_db
def test_the_sentence_names_excess_and_the_words_for_the_night():
    policy()
    said = insured([("GBP", Decimal(1))], DAY)[0].sentence
    assert "excess 1,000 GBP of each loss. Overnight: only in a locked, guarded yard." in said
    enter({**GIVEN, "excess": Decimal(0), "overnight": ""}, by=IDA, at=T0 + timedelta(hours=1))
    assert insured([("GBP", Decimal(1))], DAY)[0].sentence.endswith("no excess.")


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"currency": "£££"}, "three letters"),
        ({"in_one_vehicle": Decimal(0)}, "above zero"),
        ({"excess": Decimal(-1)}, "above zero"),
        ({"valid_to": date(2025, 1, 1)}, "ends before it begins"),
    ],
)
def test_what_is_no_policy_is_refused_with_a_sentence(wrong, words):
    with pytest.raises(PolicyRefusal, match=words):
        policy(**wrong)
    assert not Policy.objects.exists()


@pytest.mark.django_db
def test_only_the_kit_manager_enters_one_and_nobody_changes_it():
    with pytest.raises(PolicyRefusal, match="Only the kit manager"):
        enter(GIVEN, by=Witness("Wes", Role.CREW), at=T0)
    row = policy()
    with pytest.raises(DatabaseError), transaction.atomic():
        super(type(row.__class__.objects.all()), row.__class__.objects.all()).update(number="other")


@pytest.fixture
def carried(db):
    """A van with one thing in it that costs 62,500 GBP new."""
    van, thing = make_vehicle(), make_item()
    thing.type.replacement_value, thing.type.currency = Decimal(62_500), "GBP"
    thing.type.save()
    record([Fact(Verb.LOADED, thing, place=inside_of(van))], by=IDA, at=T0)
    return van


def look(sign_in, person) -> str:
    with time_machine.travel(T0 + timedelta(hours=10), tick=False):
        return sign_in(person).get(reverse("if-it-burns")).content.decode()


def test_the_burning_page_tells_worth_and_insured_apart(carried, kit_manager, staff, sign_in):
    page = look(sign_in, staff)
    assert "To buy it new costs 62,500 GBP" in page and "No policy in GBP is entered for that day" in page
    assert reverse("policies") not in page
    policy()
    page = look(sign_in, kit_manager)
    assert "TOO LITTLE" in page and "12,500 GBP less than it costs new" in page and "policy K-2207" in page
    assert reverse("policies") in page


def test_a_policy_is_entered_on_its_page_and_a_bad_one_is_told(kit_manager, sign_in):
    client, address = sign_in(kit_manager), reverse("policies")
    assert "Have the policy beside you" in client.get(address).content.decode()
    form = {**GIVEN, "valid_from": "2026-01-01", "valid_to": "2025-01-01"}
    bad = client.post(address, form)
    assert bad.status_code == 422 and "It ends before it begins" in bad.content.decode()
    assert client.post(address, {**form, "valid_to": ""}).status_code == 302
    page = client.get(address).content.decode()
    assert "Saltmere Mutual, policy K-2207" in page and "50,000 GBP" in page and "new for old" in page
