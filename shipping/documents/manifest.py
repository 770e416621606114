"""What one consignment is on one leg, for its carrier: cases with size and mass, what is billed, worth, batteries."""

from __future__ import annotations

from dataclasses import dataclass

from django.conf import settings

from inventory.papers import Draft, Form, moment
from shipping.documents.around import Around
from shipping.documents.carried import Carried, carried, total_words, volume_words
from shipping.documents.case_list import totals
from shipping.documents.stowage import size_words
from shipping.models import Leg
from shipping.packing.battery_questions import battery_questions
from shipping.packing.freight import Line, plain

FORM = Form("manifest", "manifest", "leg", ("a4", "letter"), values=True)


@dataclass(frozen=True, slots=True)
class Carriage:
    """One case. `counts` is its mass by volume where the carrier bills so; `larger` when that is more than its mass."""

    key: str
    turn: int
    label: str
    name: str
    size: str
    volume: str
    kg: str
    weighed: bool
    counts: str
    larger: bool
    pieces: int
    seal: str


@dataclass(frozen=True, slots=True)
class Battery:
    key: str
    heading: str
    questions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Manifest:
    sender: str
    phone: str
    away: str
    to: str
    contact: str
    by: str
    driver: str
    departs: str
    arrives: str
    lines: tuple[Carriage, ...]
    total: str
    loading: str
    terms: str
    lacks: tuple[str, ...]
    value: str
    not_valued: int
    insured: str
    batteries: tuple[Battery, ...]


def _line(turn: int, line: Line, around: Around, leg: Leg) -> Carriage:
    case = around.case(line.unit.id)
    rows, kg = around.rows(case, leg.consignment.show), line.unit.gross_kg
    return Carriage(
        key=str(case.pk), turn=turn, label=str(case), name=case.name, size=size_words(case),
        volume=volume_words(line.volume_m3), kg="not known" if kg is None else plain(kg),
        weighed=around.gross(case, rows).weighed is not None,
        counts="" if line.by_volume_kg is None else plain(line.by_volume_kg), larger=line.by_volume,
        pieces=sum(row.item.quantity for row in rows if row.here), seal=around.seal(case),
    )  # fmt: skip


def _by(leg: Leg) -> str:
    parts = (
        leg.get_mode_display(), str(leg.vehicle or ""), leg.vehicle.registration if leg.vehicle else "", leg.carrier,
        f"waybill {leg.waybill}" if leg.waybill else "",
    )  # fmt: skip
    return ", ".join(part for part in parts if part)


def _batteries(found: Carried) -> tuple[Battery, ...]:
    asked = battery_questions(found.load, found.load.limits)
    return tuple(Battery(f"{one.case} {one.thing}", one.heading, one.questions) for one in asked)


def build(leg: Leg, medium: str, around: Around) -> Draft:
    """No show and no client by name: this paper goes out of the house."""
    found, show = carried(leg, around), leg.consignment.show
    units = [line.unit for line in found.bill.lines]
    value, _ = totals([(one, currency) for unit in units for currency, one in (unit.values or {}).items()])
    insured = found.figures.get("insured")
    loading = found.bill.loading_m if found.bill.by_floor_kg is not None else None
    body = Manifest(
        sender=settings.OWNER_NAME, phone=settings.OWNER_PHONE, away=str(leg.from_place), to=str(leg.to_place),
        contact=show.contact, by=_by(leg), driver=f"{leg.driver} {leg.driver_phone}".strip(),
        departs=moment(leg.departs_at) if leg.departs_at else "not planned",
        arrives=moment(leg.arrives_at) if leg.arrives_at else "not planned",
        lines=tuple(_line(turn, line, around, leg) for turn, line in enumerate(found.bill.lines, 1)),
        total=total_words(found), loading="" if loading is None else f"{loading:.2f}", terms=found.terms,
        lacks=found.bill.lacks, value=value, not_valued=sum(unit.unvalued for unit in units),
        insured=insured.words if insured and insured.value is not None else "", batteries=_batteries(found),
    )  # fmt: skip
    return Draft(FORM, medium, f"leg {leg.pk}", f"Manifest {leg.from_place} to {leg.to_place}", body, show.code)
