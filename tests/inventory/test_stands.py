"""The condition that was written out says what the one that Django makes of the rules says."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db.models import Exists, OuterRef

from inventory import ledger
from inventory.answers.stands import Stands
from inventory.answers.told import live, stands_by
from inventory.ledger import Fact, Witness
from inventory.models import Device, Entry, Grade, Item, Role, Verb
from tests.factories import ANA, IDA, T0, make_device, make_item, make_place

pytestmark = pytest.mark.django_db


def by(device: Device) -> Witness:
    return Witness(device.name, Role.CREW, day_pass=device.day_pass, device=device)


@pytest.fixture
def book() -> dict[str, Entry]:
    """Entries by what became of them; Ida has a phone of a pass too."""
    item, pim, jo = make_item(), make_device("Pim Osgood"), make_device("Ana Rell")
    ida_on_a_pass = Witness("Ida Penrake", Role.KIT_MANAGER, day_pass=pim.day_pass, device=pim)
    takers = {
        "stands": None, "taken back by its own phone": by(pim), "not by another's phone": by(jo),
        "by the kit manager": IDA, "not by a kit manager on another's pass": ida_on_a_pass, "not by a road lead": ANA,
    }  # fmt: skip
    told = {}
    for hour, (name, taker) in enumerate(takers.items()):
        teller = by(jo) if "another's pass" in name else by(pim)
        seen = Fact(Verb.SEEN, item, grade=Grade.SCAN)
        told[name] = ledger.record([seen], by=teller, at=T0 + timedelta(hours=hour))[0]
        if taker is not None:
            ledger.record(
                [Fact(Verb.CORRECTED, corrects=told[name].act, note="no")], by=taker, at=T0 + timedelta(days=2)
            )
    told["amended"] = ledger.amend(item, "It has a name.", by=IDA, at=T0 + timedelta(days=3), name="Lamp")[0]
    ledger.correct(told["amended"].act, reason="no", by=IDA, at=T0 + timedelta(days=4))
    told["at the desk"] = ledger.record([Fact(Verb.PLACED, item, place=make_place())], by=ANA, at=T0)[0]
    return told


def test_what_stands_is_what_the_rules_say(book):
    found = set(live().values_list("pk", flat=True))
    assert {name for name, entry in book.items() if entry.pk in found} == {
        "stands", "not by another's phone", "not by a kit manager on another's pass", "not by a road lead", "amended",
        "at the desk",
    }  # fmt: skip


def test_it_is_the_condition_that_django_makes(book):
    written, made = (Entry.objects.filter(one).order_by("pk").values_list("pk") for one in (Stands(), stands_by(None)))
    assert list(written) == list(made)
    assert written.count() == 6


def test_it_holds_where_tables_are_called_otherwise(book):
    """Joined, turned round, and inside another query, where Django names the table anew."""
    standing = Entry.objects.filter(Stands(), label__item=OuterRef("pk"), verb=Verb.PLACED)
    assert Item.objects.filter(Exists(standing)).count() == 1
    assert Entry.objects.exclude(Stands()).exclude(verb=Verb.CORRECTED).count() == 2
    inner = live().filter(place=OuterRef("place"), happened_at__gt=OuterRef("happened_at"))
    assert live().filter(~Exists(inner), place__isnull=False).count() == 1
