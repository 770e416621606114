"""Load files: JSON text to a job, or to a deck with its cases. What is wrong is said with its place in the file."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from shipping.packing.wanted import LEAD, LITHIUM, Air, Gear, Job, Shell, Size, Van

Raw = Mapping[str, Any]


class Unreadable(ValueError):
    """A sentence that says where the file is wrong, and what belongs there."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One object of the file, read field by field; `done` refuses the fields that nobody asked for."""

    raw: Raw
    where: str
    seen: set[str]

    def text(self, name: str, default: str | None = None) -> str:
        found = self._get(name, default)
        if not isinstance(found, str) or (default is None and not found.strip()):
            raise Unreadable(f"{self.where}: “{name}” must be a text.")
        return found

    def whole(self, name: str, default: int | None = 0, *, least: int = 0) -> int:
        found = self._get(name, default)
        if isinstance(found, bool) or not isinstance(found, int) or found < least or found > 10**9:
            raise Unreadable(f"{self.where}: “{name}” must be a whole number from {least} up.")
        return found

    def grams(self, name: str, default: int | None = None) -> int:
        """Kilograms in the file, grams here."""
        return self._thousandths(name, default, "kilograms", "gram")

    def milliwatt_hours(self, name: str, default: int) -> int:
        """Watt-hours in the file, thousandths of them here."""
        return self._thousandths(name, default, "watt-hours", "thousandth")

    def _thousandths(self, name: str, default: int | None, of: str, digits: str) -> int:
        """Finer digits than thousandths are refused rather than dropped."""
        found = self._get(name, default)
        if isinstance(found, bool) or not isinstance(found, int | Decimal):
            raise Unreadable(f"{self.where}: “{name}” must be a number of {of}.")
        parts = Decimal(found) * 1000
        if not parts.is_finite() or parts < 0 or parts > 10**9 or parts != int(parts):
            raise Unreadable(f"{self.where}: “{name}” must be {of} from 0 up, to the {digits}.")
        return int(parts)

    def yes(self, name: str, default: bool = False) -> bool:
        found = self._get(name, default)
        if not isinstance(found, bool):
            raise Unreadable(f"{self.where}: “{name}” must be true or false.")
        return found

    def size(self, name: str, *, needed: bool = False) -> Size | None:
        found = self._get(name, None if needed else [])
        if found == [] and not needed:
            return None
        sides = found if isinstance(found, list) else []
        if len(sides) != 3 or any(isinstance(one, bool) or not isinstance(one, int) or one < 1 for one in sides):
            raise Unreadable(f"{self.where}: “{name}” must be [length, width, height] in whole millimetres.")
        return (sides[0], sides[1], sides[2])

    def many(self, name: str) -> list[Any]:
        found = self._get(name, [])
        if not isinstance(found, list):
            raise Unreadable(f"{self.where}: “{name}” must be a list.")
        return found

    def _get(self, name: str, default: Any) -> Any:
        self.seen.add(name)
        if name not in self.raw and default is None:
            raise Unreadable(f"{self.where}: “{name}” is missing.")
        return self.raw.get(name, default)

    def done(self) -> None:
        if strange := sorted(set(self.raw) - self.seen):
            raise Unreadable(f"{self.where}: “{strange[0]}” is not known. Known are: {', '.join(sorted(self.seen))}.")


def entry(raw: object, where: str) -> Entry:
    if not isinstance(raw, dict):
        raise Unreadable(f"{where} must be an object in curly braces.")
    return Entry(raw, where, set())


def parsed(text: str) -> Entry:
    """The file as one object. Numbers with a point stay exact."""
    try:
        return entry(json.loads(text, parse_float=Decimal, parse_constant=_no_constant), "The file")
    except (json.JSONDecodeError, RecursionError) as wrong:
        at = f" at line {wrong.lineno}" if isinstance(wrong, json.JSONDecodeError) else ""
        raise Unreadable(f"The file is not JSON{at}. Check commas, quotes and brackets there.") from wrong


def _no_constant(word: str) -> object:
    raise Unreadable(f"The file says {word} where a number belongs.")


def entries(whole: Entry, name: str, one: str) -> Iterator[Entry]:
    for at, raw in enumerate(whole.many(name), 1):
        yield entry(raw, f"{one} {at}")


def job_of(text: str) -> Job:
    """A load to plan: gear, cases, vehicles. Raises Unreadable."""
    return _job(parsed(text))


def job_from(data: Raw) -> Job:
    """The same from data that was stored; kilograms may be floats there. Raises Unreadable."""
    return job_of(json.dumps(data))


def _job(whole: Entry) -> Job:
    whole.text("name", "")
    job = Job(
        gear=tuple(_gear(one) for one in entries(whole, "gear", "gear")),
        shells=tuple(_shell(one) for one in entries(whole, "cases", "case")),
        vans=tuple(_van(one) for one in entries(whole, "vehicles", "vehicle")),
        clearance_mm=whole.whole("clearance_mm", 75),
        split_batteries=whole.yes("split_batteries"),
        moves_first=whole.yes("moves_first"),
        air=_air(whole),
    )
    whole.done()
    _checked(job)
    return job


def _air(whole: Entry) -> Air | None:
    whole.seen.add("air")
    if whole.raw.get("air") is None:
        return None
    one = entry(whole.raw["air"], "air")
    most, net = one.milliwatt_hours("most_wh", 100), one.grams("net_kg", 5)
    found = Air(one.yes("passenger", True), one.yes("baggage"), most, one.whole("spares", 2), net)
    one.done()
    return found


def _chemistry(one: Entry) -> str:
    found = one.text("chemistry", "")
    if found not in ("", LITHIUM, LEAD, "other"):
        known = "“lithium”, “lead” or “other”"
        raise Unreadable(f"{one.where}: “chemistry” is {known}; leave it out where nobody has said.")
    return found


def _gear(one: Entry) -> Gear:
    homes = one.raw.get("homes", {})
    one.seen.add("homes")
    if not isinstance(homes, dict) or any(type(many) is not int or many < 1 for many in homes.values()):
        raise Unreadable(f"{one.where}: “homes” must say how many live in which case, like {{“HER-01”: 2}}.")
    found = Gear(
        id=one.text("id"), name=one.text("name", one.raw.get("id", "")), family=one.text("family"),
        count=one.whole("count", 1, least=1), mass_g=one.grams("mass_kg"), units=one.whole("units"),
        depth_mm=one.whole("depth_mm"), slots=one.whole("slots"), size_mm=one.size("size_mm"),
        upright=one.yes("upright"), fragile=one.yes("fragile"), battery=one.yes("battery"),
        together=one.text("together", ""), apart=one.text("apart", ""), convoy=one.text("convoy", ""),
        spare=one.text("spare", ""), copies=_texts(one, "copies"), runs_on=one.whole("runs_on"),
        chemistry=_chemistry(one), battery_mwh=one.milliwatt_hours("battery_wh", 0),
        homes=tuple(sorted(homes.items())), stays=one.yes("stays"), rails=one.text("rails", ""), boxed=one.yes("boxed"),
    )  # fmt: skip
    one.done()
    return found


def _shell(one: Entry) -> Shell:
    families = one.many("families")
    if not families or any(not isinstance(name, str) for name in families):
        raise Unreadable(f"{one.where}: “families” must list what may go in, like [“rack”].")
    found = Shell(
        id=one.text("id"), name=one.text("name", one.raw.get("id", "")), families=tuple(sorted(set(families))),
        tare_g=one.grams("tare_kg"), max_gross_g=one.grams("max_gross_kg"), units=one.whole("units"),
        depth_mm=one.whole("depth_mm"), slots=one.whole("slots"), inside_mm=one.size("inside_mm"),
        compartments=_compartments(one), lift_g=one.grams("lift_kg", 0), made_for=_texts(one, "made_for"),
        rides=one.yes("rides"), off_vans=one.yes("off_vehicles"),
    )  # fmt: skip
    one.done()
    return found


def _compartments(one: Entry) -> tuple[tuple[str, int], ...]:
    found = one.raw.get("compartments", {})
    one.seen.add("compartments")
    if not isinstance(found, dict) or any(type(many) is not int or many < 1 for many in found.values()):
        raise Unreadable(f"{one.where}: “compartments” must say how many slots which family has, like {{“drive”: 6}}.")
    return tuple(sorted(found.items()))


def _texts(one: Entry, name: str) -> tuple[str, ...]:
    found = one.many(name)
    if any(not isinstance(each, str) for each in found):
        raise Unreadable(f"{one.where}: “{name}” must be a list of texts.")
    return tuple(sorted(set(found)))


def _van(one: Entry) -> Van:
    found = Van(one.text("id"), one.text("name", one.raw.get("id", "")), one.grams("payload_kg"))
    one.done()
    return found


def _checked(job: Job) -> None:
    if not job.gear or not job.shells:
        raise Unreadable("The file needs at least one “gear” and one of “cases”.")
    for name, rows in (("gear", job.gear), ("case", job.shells), ("vehicle", job.vans)):
        ids = [one.id for one in rows]
        if twice := next((one for one in ids if ids.count(one) > 1), None):
            raise Unreadable(f"{twice} is the id of two rows of {name}. Each id may stand once.")
    for at, gear in enumerate(job.gear, 1):
        _checked_gear(job, gear, at)


def _checked_gear(job: Job, gear: Gear, at: int) -> None:
    is_rails = any(one.rails == gear.id for one in job.gear)
    if gear.rails and gear.rails not in job.kinds:
        raise Unreadable(f"{gear.id} needs the rails {gear.rails}, which are not among the gear.")
    if not (gear.units or gear.slots or gear.size_mm or is_rails or gear.stays):
        raise Unreadable(f"gear {at}: say what it takes: “units”, “slots” or “size_mm”; or that it “stays”.")
    if gear.not_in_one_case and gear.count > 1:
        raise Unreadable(f"{gear.id}: things that are to be apart need a row each, with a “count” of 1.")
    for case, _ in gear.homes:
        if case not in job.cases:
            raise Unreadable(f"{gear.id} lives in {case}, which is not among the cases.")
    if sum(many for _, many in gear.homes) > gear.count:
        raise Unreadable(f"{gear.id}: more live in cases than there are ({gear.count}).")
