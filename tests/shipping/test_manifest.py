"""The figures of a leg as freight on what is printed: the manifest, the lists in and on the cases, the border list."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory import papers
from inventory.ledger import Fact, record
from inventory.models import Kind, Verb
from shipping import carriers
from shipping.documents.around import Around
from shipping.documents.border_list import build
from shipping.documents.forms import draft, looked_at
from shipping.freighting import freight_of
from shipping.models import BorderList
from shipping.packing.freight import plain
from tests.factories import IDA, T0, make_case, make_case_type, make_item, make_type
from tests.shipping.packed import make_leg, make_show, make_vehicle, put

SIZE = {"length_mm": 800, "width_mm": 500, "height_mm": 500}
AT = T0 + timedelta(minutes=40)
PRICED = {"replacement_value": 1500, "currency": "GBP"}


def trunk(number: str, **battery):
    """20 kg on the scale, 0.2 m³ outside, with one lamp worth 1,500 in it."""
    case = make_case(number, make_case_type("trunk", tare_kg=Decimal(10), type_fields=SIZE))
    kind = make_type(f"Lamp {number}", mass_kg=Decimal(10), **PRICED, **battery)
    put(case, make_item(kind, serial=f"L-{number}", home_case=case))
    record([Fact(Verb.WEIGHED, case, mass_g=20000)], by=IDA, at=T0 + timedelta(minutes=30))
    return case


@pytest.fixture
def leg(db):
    lithium = {"battery_chemistry": "lithium-ion", "battery_wh": 640, "battery_count": 1, "kind": Kind.UPS}
    show = make_show("FMC", contact="Hall office 7", discreet=True)
    cases = [trunk("WRE-06", **lithium), trunk("WRE-07")]
    return make_leg(show, cases, mode="air", carrier="Skerry Air", waybill="AWB-0417")


def body(kind: str, subject: str, at=T0):
    return draft(kind, subject, "", at).body


def test_the_manifest_has_every_case_with_size_volume_mass_and_what_is_billed(leg):
    told = body("manifest", f"leg {leg.pk}")
    assert [(one.label, one.size, one.volume, one.kg, one.counts, one.larger) for one in told.lines] == [
        ("WRE-06", "80×50×50", "0.200 m³", "20", "33.3", True), ("WRE-07", "80×50×50", "0.200 m³", "20", "33.3", True),
    ]  # fmt: skip
    assert told.total == "2 cases; gross 40 kg, volume 0.400 m³; chargeable 67 kg, by volume"
    assert (told.value, told.insured, told.contact) == ("3,000.00 GBP", "", "Hall office 7")
    assert "Skerry Air" in told.by and "AWB-0417" in told.by


def test_paper_and_page_reckon_alike(leg):
    charged = plain(freight_of(leg, T0).bill.chargeable_kg)
    assert f"chargeable {charged} kg" in body("manifest", f"leg {leg.pk}").total


def test_the_divisor_of_the_day_it_leaves_counts_on_every_paper(leg):
    for value, day in ((5000, T0), (4000, T0 + timedelta(days=5))):
        carriers.enter(
            leg, "divisor", Decimal(value), currency="", every_carrier=False, valid_from=day.date(),
            source="their terms", by=IDA, at=T0,
        )  # fmt: skip
    assert "chargeable 80 kg" in body("manifest", f"leg {leg.pk}").total
    leg.departs_at = T0 + timedelta(days=6)
    leg.save()
    told = body("manifest", f"leg {leg.pk}")
    assert "chargeable 100 kg" in told.total and "4,000 cm³ per kg (their terms" in told.terms
    for kind in ("case-list", "case-list-outside"):
        assert "its volume counts as 50 kg" in body(kind, "WRE-06").billed


def test_batteries_are_asked_about_and_nothing_is_worded_for_a_declaration(leg):
    told = body("manifest", f"leg {leg.pk}")
    (asked,) = told.batteries
    assert asked.heading.endswith("Lamp WRE-06 in WRE-06: UN 3481, packing instruction 967?")
    assert all(question.rstrip().endswith(("?", ".")) for question in asked.questions)


def test_no_client_and_no_show_stand_on_what_leaves_the_house(leg):
    words = str(body("manifest", f"leg {leg.pk}"))
    assert "Fjellmark Masters Chess" not in words and "FMC" not in words


def test_what_is_not_measured_makes_the_sums_a_least(leg):
    bare = make_case("WRE-08", make_case_type("bare"))
    leg.consignment.cases.create(case=bare, position=3)
    told = body("manifest", f"leg {leg.pk}")
    assert "at least 40 kg" in told.total and told.lacks == ("WRE-08",)
    assert (told.lines[2].size, told.lines[2].volume, told.lines[2].kg) == ("not known", "not measured", "not known")


def test_on_a_vehicle_of_ours_nothing_is_billed(leg):
    leg.carrier, leg.mode, leg.vehicle = "", "road", make_vehicle()
    leg.save()
    assert body("manifest", f"leg {leg.pk}").total == "2 cases; gross 40 kg, volume 0.400 m³"


def test_by_road_loading_metres_are_said(leg):
    road = make_leg(leg.consignment.show, [make_case("WRE-09", make_case_type("flat", type_fields=SIZE))])
    assert body("manifest", f"leg {road.pk}").loading == "0.17"
    assert body("manifest", f"leg {leg.pk}").loading == ""


def test_the_lists_of_a_case_say_its_size_and_volume(leg):
    for kind in ("case-list", "case-list-outside"):
        assert body(kind, "WRE-06").size == "80×50×50 cm, 0.200 m³"
        assert "its volume counts as 33.3 kg (6,000 cm³ per kg)" in body(kind, "WRE-06").billed


def test_the_border_list_says_at_each_crossing_what_goes_over_as_freight(leg):
    leg.crosses_border = True
    leg.save()
    listed = BorderList.objects.create(show=leg.consignment.show, number="GL-1")
    (crossing,) = build(listed, "a4", Around([listed], T0)).body.crossings
    assert crossing.carried == "2 cases; gross 40 kg, volume 0.400 m³; chargeable 67 kg, by volume"


def test_a_manifest_goes_stale_when_a_case_is_weighed_anew_and_costs_the_same_however_many(leg):
    paper = papers.issue(draft("manifest", f"leg {leg.pk}", "", AT), by="Ida Penrake", at=AT)
    assert looked_at([paper], T0 + timedelta(days=3))[0].changed == ()

    def cost(issued) -> int:
        with CaptureQueriesContext(connection) as caught:
            looked_at(issued, AT)
        return len(caught)

    before = cost([paper])
    more = make_leg(leg.consignment.show, [trunk("WRE-10"), trunk("WRE-11")], mode="air", carrier="Skerry Air")
    second = papers.issue(draft("manifest", f"leg {more.pk}", "", AT), by="Ida Penrake", at=AT)
    assert cost([paper, second]) == before
    record([Fact(Verb.WEIGHED, leg.consignment.cases.first().case, mass_g=25000)], by=IDA, at=AT + timedelta(hours=1))
    assert any("total" in one for one in looked_at([paper], AT + timedelta(hours=2))[0].changed)


def test_the_freight_page_prints_it(leg, kit_manager, sign_in):
    client = sign_in(kit_manager)
    address = reverse("paper-issue", args=["manifest", f"leg {leg.pk}"])
    assert address in client.get(reverse("freight", args=[leg.pk])).content.decode()
    assert client.post(address, {"medium": "a4"}, follow=True)["Content-Type"] == "application/pdf"
