"""Floor files: JSON text to a deck with its cases. What is wrong is said with its place in the file."""

from __future__ import annotations

from shipping.packing.floor.deck import Axle, Cargo, Deck, Freight
from shipping.packing.reading import Entry, Unreadable, entries, entry, parsed

MOST_TIERS, MOST_STOPS, MOST_CASES, FURTHEST_MM = 4, 12, 400, 30_000


def freight_of(text: str) -> Freight:
    """A vehicle, its stops and its cases. Raises Unreadable."""
    whole = parsed(text)
    whole.text("name", "")
    stops = tuple(whole.many("stops")) or ("the end",)
    if not all(isinstance(one, str) and one.strip() for one in stops) or len(stops) > MOST_STOPS:
        raise Unreadable(f"“stops” must list the names of at most {MOST_STOPS} stops, in driving order.")
    whole.seen.add("vehicle")
    deck = _deck(entry(whole.raw.get("vehicle"), "“vehicle”"), stops)
    freight = Freight(deck, tuple(_cargo(one, len(stops)) for one in entries(whole, "cases", "case")))
    whole.done()
    _checked(freight)
    return freight


def _grams(one: Entry, name: str) -> int | None:
    one.seen.add(name)
    return one.grams(name) if name in one.raw else None


def _deck(one: Entry, stops: tuple[str, ...]) -> Deck:
    size = one.size("inside_mm", needed=True) or (0, 0, 0)
    deck = Deck(
        id=one.text("id", "vehicle"), name=one.text("name", one.raw.get("id", "the vehicle")), size_mm=size,
        payload_g=_grams(one, "payload_kg"), door_mm=_door(one), front_pct=one.whole("front_percent"),
        axles=tuple(_axle(each) for each in entries(one, "axles", "axle")), tiers=one.whole("tiers", 2, least=1),
        lift_g=_grams(one, "lift_kg"), play_mm=one.whole("play_mm", 20), stops=stops,
        floor_first=one.yes("floor_first"),
    )  # fmt: skip
    one.done()
    if deck.tiers > MOST_TIERS or deck.front_pct > 100:
        raise Unreadable(f"{one.where}: “tiers” is at most {MOST_TIERS}, “front_percent” at most 100.")
    if deck.width_mm < 1:
        raise Unreadable(f"{one.where}: “play_mm” leaves nothing of the width.")
    return deck


def _door(one: Entry) -> tuple[int, int] | None:
    sides = one.many("door_mm")
    if not sides:
        return None
    if len(sides) != 2 or any(type(side) is not int or side < 1 for side in sides):
        raise Unreadable(f"{one.where}: “door_mm” must be [width, height] in whole millimetres.")
    return (sides[0], sides[1])


def _axle(one: Entry) -> Axle:
    at = one.whole("at_mm", None, least=-FURTHEST_MM)
    found = Axle(one.text("name", one.where), at, _grams(one, "limit_kg"), _grams(one, "empty_kg"))
    one.done()
    return found


def _cargo(one: Entry, stops: int) -> Cargo:
    ident = one.text("id")
    found = Cargo(
        id=ident, name=one.text("name", ident), size_mm=one.size("size_mm"), mass_g=_grams(one, "mass_kg"),
        stop=one.whole("stop", 1, least=1), first_off=one.yes("first_off"), on_top_g=_grams(one, "on_top_kg"),
        turns=one.yes("turns", True), stacks=one.yes("stacks", True), count=one.whole("count", 1, least=1),
    )  # fmt: skip
    one.done()
    if found.stop > stops:
        raise Unreadable(f"{one.where}: “stop” is {found.stop}, and the file names {stops}.")
    return found


def _checked(freight: Freight) -> None:
    if not freight.cargo:
        raise Unreadable("The file needs at least one of “cases”.")
    ids = [one.id for one in freight.cargo]
    if twice := next((one for one in ids if ids.count(one) > 1), None):
        raise Unreadable(f"{twice} is the id of two rows of case. Each id may stand once.")
    if freight.cases > MOST_CASES:
        raise Unreadable(f"{freight.cases} cases are more than one deck is planned for here: at most {MOST_CASES}.")
