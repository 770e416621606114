"""For each rule one load that passes, one that fails, one that asks, one where nobody knows."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

from shipping.packing.facts import (
    BorderLine,
    BorderList,
    Case,
    DriveSet,
    Expected,
    Kept,
    Leg,
    Load,
    Member,
    Piece,
    Proof,
    Show,
    Stand,
    System,
    Vehicle,
    Wanted,
)


def but(piece: Any, **over: Any) -> Any:
    return replace(piece, **over)


YES, NO = Proof("yes"), Proof("no")
KG = Decimal
HERON = System(
    1, "Heron", rails=(Wanted("left rail", item_id=61), Wanted("right rail", item_id=62)), needs_true_sine=True
)
SHOW = Show("FMC", "Fjellmark Masters Chess", date(2026, 3, 20))
ROAD = Leg(3, "Mill Yard to Fjellmark Hall", vehicle=Vehicle(9, "Meadowrue", KG(1150), 4200, 1750))
AIR = Leg(4, "Mill Yard to Quay Unit", mode="air", passenger_aircraft=True)
COURIER = Leg(5, "Mill Yard to Quay Unit", mode="courier")
SET = DriveSet(5, "HERON-1", members=(Member(11, "71B04K", "A"), Member(12, "71B05K", "B")))
OTHER = DriveSet(6, "CURLEW-1", members=(Member(21, "88C01T", "D"),))
A = Piece(11, "71B04K", "drive", bay="A", set_id=5, set_bay="A")
B = Piece(12, "71B05K", "drive", bay="B", set_id=5, set_bay="B")
FRAME = Piece(
    31, "Ebbmark 6", "frame", bays=("A", "B"), mass_kg=KG(31), rack_units=5, rack_depth_mm=600, needs_rails=True,
    supplies=2, system_id=1, bay="U1",
)  # fmt: skip
RAILS = (Piece(61, "left rail", "rails"), Piece(62, "right rail", "rails"))
UPS = Piece(41, "Steady 15", "ups", battery_chemistry="lead-acid", battery_count=1, system_id=1, true_sine=True)
BAGS = but(AIR, baggage=True)
HERE = but(ROAD, arrived=True)
NIGHT = but(ROAD, overnight=True)
STACKED = but(ROAD, stands=(Stand(1, 1, 1, 1), Stand(1, 1, 2, 2)))
SIDE_BY_SIDE = but(ROAD, stands=(Stand(1, 1, 1, 1), Stand(1, 2, 1, 2)))
DEAR = Piece(33, "Ebbmark 6", "frame", value=KG(21000), currency="GBP")
LAMP = Piece(72, "lamp", "other", battery_chemistry="lithium-ion", battery_wh=KG(50), battery_count=1)
PACK = Piece(73, "pack", "battery", battery_chemistry="lithium-ion", battery_count=1, quantity=3, mass_kg=KG("0.6"))
KEPT = Kept(11, 2, "FMC")
LINE = BorderLine(1, "Pomandre Ingot 4T drive", 11, "71B04K", "71B04K", 1, KG("0.7"), KG(400), "GBP", "GB")


def case(*pieces: Piece, ident: int = 1, number: str = "HER-01", proofs: dict[str, Proof] | None = None, **over: Any):
    return Case(ident, number, pieces=pieces, proofs=proofs or {}, **over)


def load(*cases: Case, **over: Any) -> Load:
    return Load(cases=cases, **{"on": date(2026, 3, 14), "systems": (HERON,), "sets": (SET, OTHER), **over})


def box(*pieces: Piece, **over: Any) -> Case:
    return case(*pieces, **{"number": "HER-03", "for_drives": True, "ident": 2, **over})


def looked(rule: str, *pieces: Piece, make: Any = case, unknown: Load | None = None, **over: Any) -> dict[str, Load]:
    """The examples of a rule that only a look can tell."""
    made = {
        "good": load(make(*pieces, proofs={rule: YES}, **over)),
        "wrong": load(make(*pieces, proofs={rule: NO}, **over)),
        "not confirmed": load(make(*pieces, **over)),
    }
    return made | ({"not known": unknown} if unknown else {})


def measured(rule: str, *pieces: Piece, enough: str, little: str, **over: Any) -> dict[str, Load]:
    return {
        "good": load(case(*pieces, proofs={rule: Proof(enough)}, **over)),
        "wrong": load(case(*pieces, proofs={rule: Proof(little)}, **over)),
        "not confirmed": load(case(*pieces, **over)),
    }


def border(*lines: BorderLine, **over: Any) -> Load:
    return load(**{"border": BorderList(7, "CA-1", lines=lines), **over})


NO_BAYS = load(case(but(FRAME, bays=None)))
NO_RAILS_SAID = load(case(but(FRAME, needs_rails=None)))
PANEL = Piece(51, "Ebbmark Wide", "panel", shock_critical=True, mass_kg=KG(18), stays_upright=True)
CORD = Piece(52, "panel cord", "cord", belongs_here=True)
SUPPLIES = (Piece(32, "supply 1", "power supply", within=31), Piece(33, "supply 2", "power supply", within=31))
HEAVY = {"tare_kg": KG(20), "max_gross_kg": KG(60)}
CROSSING = Leg(8, "Carrowmere to Fjellmark", crosses_border=True)
ISSUED = BorderList(7, "CA-1", issued=True, lines=(LINE,))

EXAMPLES: dict[str, dict[str, Load]] = {
    "drives-out": {
        **looked("drives-out", FRAME, unknown=NO_BAYS),
        "wrong": load(case(FRAME, but(A, within=31))),
    },
    "bays-closed": looked("bays-closed", FRAME, unknown=NO_BAYS),
    "one-set-one-box": {
        "good": load(box(A, B)),
        "wrong": load(box(A, B, Piece(21, "88C01T", "drive", bay="E", set_id=6, set_bay="D"))),
        "not known": load(box(A, B, Piece(99, "unlabelled", "drive"))),
    },
    "set-complete": {
        "good": load(box(A, B)),
        "wrong": load(box(A)),
        "not known": load(box(Piece(99, "unlabelled", "drive"))),
    },
    "bay-order": {
        "good": load(box(A, B)),
        "wrong": load(box(but(A, bay="B"), but(B, bay="A"))),
        "not known": load(box(A, but(B, bay=""))),
    },
    "one-of-each-bay": {
        "good": load(box(A, B)),
        "wrong": load(box(A, B, Piece(13, "old A", "drive", bay="pocket", set_id=5, set_bay="A"))),
        "not known": load(box(A, but(B, set_bay=""))),
    },
    "antistatic": looked("antistatic", A, B, make=box),
    "foam-round-drives": measured("foam-round-drives", A, enough="30", little="12", for_drives=True),
    "foam-round-delicate": {
        **measured("foam-round-delicate", PANEL, enough="55", little="20"),
        "not known": load(case(but(PANEL, mass_kg=None))),
    },
    "nothing-loose": {
        **looked("nothing-loose", PANEL, CORD),
        "wrong": load(case(but(PANEL, bay="tray"), but(CORD, bay="tray"))),
    },
    "panel-in-its-own-case": {
        **looked("panel-in-its-own-case", PANEL),
        "wrong": load(case(PANEL, FRAME, proofs={"panel-in-its-own-case": YES})),
    },
    "rear-support": looked(
        "rear-support", FRAME, unknown=load(case(but(FRAME, mass_kg=None, rack_depth_mm=None)))
    ),
    "rails-are-no-support": looked("rails-are-no-support", FRAME, unknown=NO_RAILS_SAID),
    "heavy-low": {
        "good": load(case(FRAME, rack_units=12)),
        "wrong": load(case(but(FRAME, bay="U8"), rack_units=12)),
        "not known": load(case(but(FRAME, bay=""), rack_units=12)),
    },
    "lid-gap": measured("lid-gap", FRAME, enough="35 mm", little="10 mm", rack_units=12),
    "supplies-latched": looked("supplies-latched", FRAME),
    "bracket-fitted": looked("bracket-fitted", but(FRAME, transport_bracket=True)),
    "shut-down": looked("shut-down", FRAME),
    "cords-with-their-unit": {
        "good": load(case(CORD)),
        "wrong": load(case(but(CORD, belongs_here=False, home_case="CUR-02"))),
        "not known": load(case(but(CORD, belongs_here=None))),
    },
    "lift-band": {
        "good": load(case(FRAME, tare_kg=KG(22), wheels=True)),
        "wrong": load(case(FRAME, tare_kg=KG(22))),
        "not known": load(case(FRAME)),
    },
    "within-rating": {
        "good": load(case(FRAME, **HEAVY)),
        "wrong": load(case(FRAME, PANEL, **HEAVY)),
        "not known": load(case(but(FRAME, mass_kg=None), **HEAVY)),
    },
    "scale-agrees": {
        "good": load(case(FRAME, weighed_kg=KG(52), **HEAVY)),
        "wrong": load(case(FRAME, weighed_kg=KG("46.9"), **HEAVY)),
        "not known": load(case(but(FRAME, mass_kg=None), weighed_kg=KG(52), **HEAVY)),
    },
    "air-piece": {
        "good": load(case(A, weighed_kg=KG(11), length_mm=600, width_mm=400, height_mm=250), leg=AIR),
        "wrong": load(case(A, weighed_kg=KG(92), length_mm=1200, width_mm=600, height_mm=600), leg=AIR),
        "not known": load(case(A), leg=AIR),
    },
    "baggage-piece": {
        "good": load(case(A, weighed_kg=KG(22), length_mm=700, width_mm=500, height_mm=300), leg=BAGS),
        "wrong": load(case(A, weighed_kg=KG(34), length_mm=700, width_mm=500, height_mm=300), leg=BAGS),
        "not known": load(case(A), leg=BAGS),
    },
    "billed-by-volume": {
        "good": load(case(A, weighed_kg=KG(40), length_mm=800, width_mm=500, height_mm=500), leg=AIR),
        "wrong": load(case(A, weighed_kg=KG(20), length_mm=800, width_mm=500, height_mm=500), leg=AIR),
        "not known": load(case(A), leg=AIR),
    },
    "rear-gap": measured("rear-gap", FRAME, enough="80 mm", little="40 mm", rack_units=12),
    "lithium-with-equipment-by-air": {
        "good": load(case(LAMP, PACK, proofs={"lithium-with-equipment-by-air": Proof("25 %")}), leg=AIR),
        "wrong": load(case(LAMP, PACK, proofs={"lithium-with-equipment-by-air": Proof("80 %")}), leg=AIR),
        "not confirmed": load(case(LAMP, PACK), leg=AIR),
        "not known": load(case(LAMP, but(PACK, mass_kg=None)), leg=AIR),
    },
    "load-balanced": {
        "good": load(case(weighed_kg=KG(60)), case(ident=2, weighed_kg=KG(56)), leg=SIDE_BY_SIDE),
        "wrong": load(case(weighed_kg=KG(60)), case(ident=2, weighed_kg=KG(30)), leg=SIDE_BY_SIDE),
        "not known": load(case(weighed_kg=KG(60)), case(A, ident=2), leg=SIDE_BY_SIDE),
    },
    "warm-before-power": {
        "good": load(case(FRAME, seal="0041", proofs={"warm-before-power": Proof("4 °C")}), leg=HERE),
        "wrong": load(case(FRAME, seal="0041", proofs={"warm-before-power": Proof("18 °C")}), leg=HERE),
        "not confirmed": load(case(FRAME, seal="0041"), leg=HERE),
    },
    "guarded-overnight": {
        "good": load(case(DEAR), leg=but(NIGHT, proofs={"guarded-overnight": YES})),
        "wrong": load(case(DEAR), leg=but(NIGHT, proofs={"guarded-overnight": NO})),
        "not confirmed": load(case(DEAR), leg=NIGHT),
        "not known": load(case(DEAR), leg=but(NIGHT, overnight=None)),
    },
    "drives-with-a-holder": {
        "good": load(box(A), leg=but(COURIER, holder="Ana Rell"), kept=(KEPT,)),
        "wrong": load(box(A), leg=COURIER, kept=(KEPT,)),
    },
    "not-with-the-only-copy": {
        "good": load(box(A), leg=ROAD, kept=(but(KEPT, copies_aboard=1, copies_elsewhere=1),)),
        "wrong": load(box(A), leg=ROAD, kept=(but(KEPT, copies_aboard=1),)),
        "not known": load(box(A), leg=ROAD, kept=(but(KEPT, copies_unplaced=1),)),
    },
    "lithium-alone-by-air": {
        "good": load(case(Piece(71, "cells", "battery", battery_chemistry="alkaline", battery_count=4)), leg=AIR),
        "wrong": load(case(Piece(71, "pack", "battery", battery_chemistry="lithium-ion", battery_count=1)), leg=AIR),
        "not confirmed": load(case(but(UPS, battery_chemistry="lithium", battery_wh=KG(90))), leg=AIR),
        "not known": load(case(Piece(71, "pack", "battery")), leg=AIR),
    },
    "lithium-in-equipment-by-air": {
        "good": load(case(but(UPS, battery_chemistry="lithium", battery_wh=KG(100))), leg=AIR),
        "wrong": load(case(but(UPS, battery_chemistry="lithium", battery_wh=KG("100.048"))), leg=AIR),
        "not known": load(case(but(UPS, battery_chemistry="lithium", battery_wh=None)), leg=AIR),
    },
    "lead-acid-by-air": {
        "good": load(case(UPS), leg=ROAD),
        "wrong": load(case(UPS), leg=AIR),
        "not known": load(case(but(UPS, battery_chemistry="")), leg=AIR),
    },
    "ups-on-the-road": looked("ups-on-the-road", UPS),
    "spare-batteries": looked("spare-batteries", Piece(71, "pack", "battery")),
    "drive-box-discreet": looked("drive-box-discreet", A, make=box),
    "sealed-by-number": {"good": load(box(A, seal="004470"), leg=ROAD), "wrong": load(box(A), leg=ROAD)},
    "old-labels-off": looked("old-labels-off", A, old_numbers=("CBL-01",)),
    "labels-on-two-faces": looked("labels-on-two-faces", A),
    "list-in-the-lid": {
        "good": load(case(A, list_printed=True, list_current=True)),
        "wrong": load(case(A, list_printed=True)),
    },
    "stacks-allowed": {
        "good": load(
            case(weighed_kg=KG(60), max_on_top_kg=KG(50)), case(ident=2, weighed_kg=KG(40)),
            leg=STACKED,
        ),
        "wrong": load(
            case(weighed_kg=KG(60), max_on_top_kg=KG(50)), case(ident=2, weighed_kg=KG(55)),
            leg=STACKED,
        ),
        "not known": load(case(weighed_kg=KG(60)), case(ident=2, weighed_kg=KG(40)), leg=STACKED),
    },
    "this-way-up": looked("this-way-up", PANEL),
    "rows-restrained": {
        "good": load(case(A), leg=but(ROAD, proofs={"rows-restrained": YES})),
        "wrong": load(case(A), leg=but(ROAD, proofs={"rows-restrained": NO})),
        "not confirmed": load(case(A), leg=ROAD),
    },
    "within-payload": {
        "good": load(case(weighed_kg=KG(669)), leg=ROAD),
        "wrong": load(case(weighed_kg=KG(1161)), leg=ROAD),
        "not known": load(case(A), leg=ROAD),
    },
    "first-off-said": {
        "good": load(case(A, first_off=True), case(B, ident=2), leg=ROAD),
        "wrong": load(case(A), case(B, ident=2), leg=ROAD),
    },
    "spare-apart": {
        "good": load(
            case(Piece(81, "licence key", type_id=8)), case(Piece(82, "licence key", type_id=8), ident=2), show=SHOW,
            systems=(but(HERON, stoppers=(Wanted("licence key", type_id=8),)),),
        ),
        "wrong": load(
            case(Piece(81, "licence key", type_id=8), Piece(82, "licence key", type_id=8)), show=SHOW,
            systems=(but(HERON, stoppers=(Wanted("licence key", type_id=8),)),),
        ),
        "not known": load(
            case(Piece(81, "licence key", type_id=8)), show=SHOW,
            systems=(but(HERON, stoppers=(Wanted("licence key 7", item_id=81),)),),
        ),
    },
    "inspected-through": {
        "good": load(case(but(UPS, inspected=True, inspection_due=date(2026, 3, 27))), show=SHOW),
        "wrong": load(case(but(UPS, inspected=True, inspection_due=date(2026, 3, 26))), show=SHOW),
        "not known": load(case(but(UPS, inspected=True)), show=SHOW),
    },
    "lines-concrete": {
        "good": border(LINE),
        "wrong": border(but(LINE, description="assorted adapters")),
        "not known": border(but(LINE, mass_kg=None)),
    },
    "serials-on-the-list": {
        "good": border(LINE),
        "wrong": border(but(LINE, serial="71B40K")),
        "not known": border(but(LINE, item_id=None, serial="ZZ99", our_serial="")),
    },
    "hired-with-consent": {
        "good": border(but(LINE, hired_from="Brambleside Hire")),
        "wrong": border(but(LINE, hired_from="Brambleside Hire", owner_consents=False)),
        "not known": border(but(LINE, item_id=None, serial="", our_serial="")),
    },
    "listed-at-the-border": {
        "good": load(case(but(A, serial="71B04K")), leg=CROSSING, border=ISSUED),
        "wrong": load(case(but(B, serial="71B05K")), leg=CROSSING, border=ISSUED),
        "not known": load(case(but(B, serial="", serials_required=True)), leg=CROSSING, border=ISSUED),
    },
    "belongs-here": {
        "good": load(case(but(PANEL, belongs_here=True))),
        "wrong": load(case(but(PANEL, belongs_here=False, home_case="CUR-02"))),
        "not known": load(case(PANEL)),
    },
    "as-listed": {
        "good": load(case(CORD)),
        "wrong": load(case(missing=(Expected(52, "panel cord", "in rack 3, Glasswright Rooms"),))),
    },
    "no-open-fault": {"good": load(case(A)), "wrong": load(case(but(A, fault="failed health")))},
    "original-packaging": {
        "good": load(case(but(PANEL, type_id=5, needs_original_packaging=True), packaging_for=frozenset({5}))),
        "wrong": load(case(but(PANEL, type_id=5, needs_original_packaging=True)), packaged_types=frozenset({5})),
        "not known": load(case(but(PANEL, type_id=5, needs_original_packaging=True))),
    },
    "packaging-sound": {
        **looked("packaging-sound", but(PANEL, type_id=5), packaging_for=frozenset({5})),
        "wrong": load(case(but(PANEL, type_id=5), packaging_for=frozenset({5}), fault="foam torn")),
    },
    "rails-with-frame": {
        "good": load(case(FRAME), case(*RAILS, ident=10, number="HER-10"), leg=ROAD),
        "wrong": load(case(FRAME), case(RAILS[0], ident=10, number="HER-10"), leg=ROAD),
        "not known": NO_RAILS_SAID,
    },
    "redundant-supply": {
        "good": load(case(FRAME, *SUPPLIES)),
        "wrong": load(case(FRAME, SUPPLIES[0])),
        "not known": load(case(but(FRAME, system_id=None), *SUPPLIES)),
    },
    "ups-true-sine": {
        "good": load(case(UPS)),
        "wrong": load(case(but(UPS, true_sine=False))),
        "not known": load(case(but(UPS, true_sine=None))),
    },
}  # fmt: skip
