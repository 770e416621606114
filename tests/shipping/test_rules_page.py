"""The rules page says why, where from, how much and how often; a limit is a new dated row."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone
from django.utils.html import escape

from inventory.ledger import Witness
from inventory.models import Role
from shipping.limits import LimitRefusal, rule_lines, set_limit
from shipping.models import RuleLimit
from shipping.packing.rules import RULES
from shipping.waiving import waive
from tests.factories import IDA, T0
from tests.shipping.test_case_pages import text
from tests.shipping.test_waiving import FOUND

LIMIT = ("lift-band", "person_kg")


def test_every_rule_stands_on_the_page_with_its_sentence_and_source(db, staff, sign_in):
    body = sign_in(staff).get(reverse("rules")).content.decode()
    for rule in RULES.values():
        assert escape(rule.sentence) in body and escape(rule.source) in body
        for limit in rule.limits.values():
            assert escape(limit.words) in body


def test_the_page_says_how_often_a_rule_was_set_aside(db, staff, sign_in):
    for n in range(3):
        waive(replace(FOUND, subject=f"case:{n}"), reason="no other box", by=IDA, at=T0)
    assert "3 times" in text(sign_in(staff).get(reverse("rules")))


def test_the_page_costs_the_same_however_much_was_entered(db, staff, sign_in, django_assert_num_queries):
    client = sign_in(staff)
    client.get(reverse("rules"))
    with django_assert_num_queries(6):
        client.get(reverse("rules"))
    for n in range(30):
        waive(replace(FOUND, subject=f"case:{n}"), reason="no other box", by=IDA, at=T0)
        set_limit(*LIMIT, Decimal(n + 1), valid_from=date(2026, 1, 1), source="ours", by=IDA, at=T0)
    with django_assert_num_queries(6):
        client.get(reverse("rules"))


def test_a_kit_manager_enters_a_limit_from_a_day_on_and_the_old_one_stays(db, kit_manager, sign_in):
    client, day = sign_in(kit_manager), timezone.localdate() + timedelta(days=3)
    address = reverse("rule-limit", args=LIMIT)
    answer = client.post(address, {"value": "25", "valid_from": day.isoformat(), "source": "our competent person"})
    assert answer.status_code == 302
    assert [row.value for row in RuleLimit.objects.all()] == [25]
    before, after = (
        next(line for line in rule_lines(on) if line.rule.id == LIMIT[0]).limits[0].now
        for on in (day - timedelta(days=1), day)
    )
    assert (before, after) == (16, 25)
    assert "our competent person" in text(client.get(address))


@pytest.mark.parametrize(
    "given",
    [{"value": "-1"}, {"value": "0"}, {"value": "heavy"}, {"valid_from": ""}, {"source": " "}, {"value": "NaN"}],
)
def test_what_is_no_limit_is_asked_again(db, kit_manager, sign_in, given):
    data = {"value": "25", "valid_from": "2026-03-01", "source": "ours", **given}
    answer = sign_in(kit_manager).post(reverse("rule-limit", args=LIMIT), data)
    assert answer.status_code == 422 and not RuleLimit.objects.exists()


@pytest.mark.parametrize(
    "role,status", [(Role.ROAD_LEAD, 403), (Role.CREW, 403), (Role.STAFF, 403), (Role.CLIENT, 403)]
)
def test_only_a_kit_manager_changes_a_limit(db, staff, sign_in, role, status):
    staff.role = role
    staff.save()
    client = sign_in(staff)
    data = {"value": "25", "valid_from": "2026-03-01", "source": "ours"}
    assert client.post(reverse("rule-limit", args=LIMIT), data).status_code == status
    assert client.get(reverse("rules")).status_code == (403 if role == Role.CLIENT else 200)
    with pytest.raises(LimitRefusal, match="Only the kit manager"):
        set_limit(*LIMIT, Decimal(25), valid_from=T0.date(), source="x", by=Witness("X", role), at=T0)


def test_a_rule_or_limit_that_is_none_is_not_found(db, kit_manager, sign_in):
    client = sign_in(kit_manager)
    assert client.get(reverse("rule-limit", args=["lift-band", "nothing"])).status_code == 404
    assert client.get(reverse("rule-limit", args=["nothing", "person_kg"])).status_code == 404
