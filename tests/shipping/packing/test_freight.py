"""What a carrier bills, what it would owe, and what to ask about batteries."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from shipping.packing.battery_questions import CAUTION, ENTRIES, SOURCE, battery_questions
from shipping.packing.engine import default_limits
from shipping.packing.freight import Unit, bill, covers
from tests.shipping.packing.examples import AIR, LAMP, PACK, ROAD, UPS, A, but, case, load

KG = Decimal
ROAD_FIGURES = {"kg_per_m3": KG(333), "kg_per_ldm": KG(1750)}


def unit(number="HER-01", sides=(1200, 600, 800), gross="75", **over) -> Unit:
    return Unit(1, number, sides, KG(gross) if gross else None, **over)


def test_the_largest_of_mass_volume_and_loading_metres_is_billed():
    assert bill([unit(gross="600")], ROAD_FIGURES).by == "mass"
    assert bill([unit()], ROAD_FIGURES).by == "loading metres"
    assert bill([unit()], {"kg_per_m3": KG(333)}).by == "volume"


def test_what_stands_on_another_takes_no_floor():
    found = bill([unit(), unit("HER-02", on_floor=False)], ROAD_FIGURES)
    assert found.loading_m == KG("0.3") and found.volume_m3 == 2 * KG("0.576")


def test_what_was_not_measured_or_weighed_is_named_and_the_sum_is_a_floor():
    found = bill([unit(), unit("HER-02", sides=None), unit("HER-03", gross="")], ROAD_FIGURES)
    assert found.lacks == ("HER-02", "HER-03") and "at least" in found.sentence
    assert "Not measured or weighed: HER-02, HER-03." in found.sentence
    assert found.lines[1].volume_m3 is None and not found.lines[2].by_volume


def test_sides_count_in_whole_centimetres():
    assert bill([unit(sides=(1204, 596, 805))], {"kg_per_m3": KG(1000)}).volume_m3 == KG("0.5832")


def test_the_value_stands_beside_what_is_owed_and_insured():
    units = [unit(values={"GBP": KG(40000)}, unvalued=2), unit("HER-02", values={"GBP": KG(1200), "NOK": KG(900)})]
    pounds, crowns = covers(units, KG(150), (KG(10), "GBP"), (KG(30000), "GBP"))
    assert pounds.sentence == (
        "Worth 41,200 GBP, and 2 things without a value. If all were lost the carrier would owe at most 1,500 GBP. "
        "It is insured for 30,000 GBP: 11,200 GBP too little."
    )
    assert pounds.meaning == "doubtful"
    # A figure in pounds says nothing of crowns.
    assert crowns.owed is None and "not known" in crowns.sentence and "not entered" in crowns.sentence


def test_enough_cover_is_settled():
    (one,) = covers([unit(values={"GBP": KG(100)})], KG(1), None, (KG(100), "GBP"))
    assert one.meaning == "settled" and "too little" not in one.sentence


def asked(*pieces, leg=AIR, on=date(2026, 3, 14)):
    return battery_questions(load(case(*pieces), leg=leg, on=on), default_limits())


@pytest.mark.parametrize(
    "pieces,un,instruction",
    [
        ([PACK], "UN 3480", "965"),
        ([PACK, LAMP], "UN 3481", "966"),
        ([LAMP], "UN 3481", "967"),
        ([but(PACK, battery_chemistry="lithium-metal")], "UN 3090", "968"),
        ([but(PACK, battery_chemistry="lithium-metal"), LAMP], "UN 3091", "969"),
        ([but(LAMP, battery_chemistry="lithium metal")], "UN 3091", "970"),
        ([but(PACK, battery_chemistry="sodium-ion")], "UN 3551", "976"),
        ([but(LAMP, battery_chemistry="sodium-ion")], "UN 3552", "978"),
        ([UPS], "UN 2800", "872"),
        ([but(UPS, battery_chemistry="wet cell")], "UN 2794", "870"),
    ],
)
def test_each_battery_is_asked_about_under_its_entry(pieces, un, instruction):
    first = asked(*pieces)[0]
    assert (first.entry.un, first.entry.instruction) == (un, instruction)
    assert un in first.heading and first.questions


def test_a_ups_is_no_company_for_a_battery_and_may_itself_count_as_one():
    small = but(UPS, battery_chemistry="lithium-ion", battery_wh=Decimal(90))
    pack, ups = asked(PACK, small)
    assert (pack.entry.un, ups.entry.un) == ("UN 3480", "UN 3481")
    assert "as a battery alone, as power banks are?" in " ".join(ups.questions)
    assert "power banks" not in " ".join(asked(LAMP)[0].questions)


def test_what_nobody_entered_is_asked_first():
    (one,) = asked(but(UPS, battery_chemistry=""))
    assert one.entry is None and one.questions == (
        "What battery is in it? Read the plate, enter the chemistry with the type, then ask again.",
    )


def test_alike_batteries_in_one_case_are_asked_about_once():
    (one,) = asked(PACK, but(PACK, id=74))
    assert one.count == 6


def test_charge_is_asked_for_packed_with_equipment_and_says_since_when():
    def charge(on):
        return " ".join(asked(PACK, LAMP, on=on)[0].questions)

    assert "since January 2026" in charge(date(2026, 3, 1)) and "since January" not in charge(date(2025, 12, 31))
    assert "charged" not in " ".join(asked(LAMP)[0].questions)


def test_the_aircraft_is_asked_about_as_entered():
    passenger, cargo = asked(LAMP)[0], asked(LAMP, leg=but(AIR, passenger_aircraft=False))[0]
    assert "passenger aircraft: may it go on one at all?" in passenger.questions[-1]
    assert "cargo aircraft: is that booked" in cargo.questions[-1]
    assert "By road: which rules apply" in asked(LAMP, leg=ROAD)[0].questions[-1]


def test_only_questions_are_asked_and_nothing_is_ready_to_copy():
    for pieces in ([PACK], [PACK, LAMP], [UPS], [but(LAMP, battery_wh=None)]):
        for one in asked(*pieces):
            for question in one.questions:
                assert question.endswith((".", "?")) and "?" in question
    said = " ".join([CAUTION, SOURCE, *(q for one in asked(PACK, UPS) for q in one.questions)]).lower()
    assert not any(word in said for word in ("compliant", "not restricted", "complies", "safe ", "may fly"))


def test_what_has_no_battery_is_asked_nothing():
    assert asked(A) == []


def test_entries_are_numbered_as_one_list():
    assert all(entry.un.startswith("UN ") and entry.instruction.isdigit() for entry in ENTRIES.values())
