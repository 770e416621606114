"""reconcile against a naive replay: two vehicles, nested cases, two stores, late words, corrections, any delivery.

Everything that left has exactly one outcome, and each outcome is one that the replay allows. The shares of what the
stories really hold are printed (pytest -s) and asserted.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

import pytest
from django.db import connection, transaction
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.models import Organisation, Person, Place, PlaceKind
from shipping.outcomes import Outcome
from shipping.reconcile import Reconciliation, reconcile, still_out
from tests.factories import T0, make_place, make_show
from tests.inventory.replay import Replay, Told
from tests.inventory.staging import STORED, Stage, calm, make_cast, print_shares, world_of
from tests.inventory.stories import Cast, Story, deliveries
from tests.shipping.naive_return import NaiveReturn

ACTS = (
    ["check in"] * 4 + ["swap", "correct"] * 3 + ["go again", "pack", "load", "out", "home", "unload", "look", "seal"]
    + ["break seal", "take out", "waybill", "leave", "leave", "miss", "miss", "find", "fault", "fault", "mend", "count"]
    + ["use up", "use up", "to client", "to client", "late", "late", "said", "another show", "cannot be", "nest"]
)  # fmt: skip
MUST_HOLD = ("left", "left by a second departure", "acts taken back", "late words", "swaps")


@dataclass(frozen=True)
class Ground:
    """The places of a tour."""

    stores: list[int]
    hall: int
    roads: list[int]
    client: int
    gone: int


class Tour(Story):
    """What a show's crew does, right or wrong."""

    ground: Ground

    @property
    def things(self) -> list[int]:
        return [*self.cast.drives, self.cast.lot, self.cast.plain]

    @property
    def cases(self) -> list[int]:
        return [*self.cast.boxes, self.cast.trunk]

    def pack(self):
        self.tell("packed", self.pick(self.things), self.cast.inside[self.pick(self.cases)])

    def said(self):
        place = self.cast.inside[self.pick(self.cases)]
        self.tell("packed", self.pick(self.things), place, grade=self.pick(["said", "import"]))

    def nest(self):
        self.tell("packed", self.pick(self.cast.boxes), self.cast.inside[self.cast.trunk])

    def load(self):
        self.tell("loaded", self.pick([*self.cases, self.cast.plain]), self.cast.inside[self.pick(self.cast.vans)])

    def out(self):
        self._ride("FMC", self.ground.roads[0], self.ground.hall)

    def home(self):
        self._ride("FMC", self.ground.roads[1], self.pick(self.ground.stores))

    def another_show(self):
        self._ride("CCA", self.ground.roads[1], self.ground.hall)

    def _ride(self, reference: str, road: int, end: int) -> None:
        van = self.pick(self.cast.vans)
        self.tell("departed", van, road, reference=reference)
        if self.pick([True, True, False]):
            self.tell("arrived", van, end, reference=reference)

    def check_in(self):
        """A vehicle comes home, a case is put down in the store, and somebody looks at some of the things."""
        store = self.pick(self.ground.stores)
        self.tell("arrived", self.pick(self.cast.vans), store, reference="FMC")
        self.tell("unloaded", self.pick(self.cases), store)
        for thing in self.draw(st.lists(st.sampled_from(self.things), max_size=1)):
            self.tell("seen", thing, condition=self.pick(["", "good", "damaged"]))

    def go_again(self):
        """A case that came back goes out once more, on another vehicle maybe."""
        store, case, van = self.pick(self.ground.stores), self.pick(self.cases), self.pick(self.cast.vans)
        self.tell("unloaded", case, store)
        self.tell("arrived", van, store)
        self.tell("loaded", case, self.cast.inside[van])
        self.tell("departed", van, self.ground.roads[0], reference="FMC")

    def swap(self):
        """Back in the store an alike drive is put where another was."""
        self.tell("unloaded", self.cast.boxes[0], self.pick(self.ground.stores))
        self.tell("packed", self.pick(self.cast.drives), self.cast.inside[self.cast.boxes[0]])

    def waybill(self):
        self.tell("departed", self.pick(self.cases), self.pick(self.ground.roads), reference="FMC")

    def unload(self):
        self.tell("unloaded", self.pick([*self.cases, self.cast.plain]), self.any_place())

    def any_place(self):
        return self.pick([*self.ground.stores, self.ground.hall])

    def look(self):
        self.tell("seen", self.pick([*self.things, *self.cases]), condition=self.pick(["", "", "good", "damaged"]))

    def leave(self):
        self.tell("left", self.pick([*self.things, *self.cases]), self.ground.hall)

    def to_client(self):
        self.tell("handed over", self.pick(self.things), self.ground.client)

    def miss(self):
        self.tell("missed", self.pick(self.things), reference=self.pick(["FMC", "CCA", ""]))

    def find(self):
        self.tell("found", self.pick(self.things), self.pick([None, *self.ground.stores]))

    def fault(self):
        self.tell("faulted", self.pick(self.things))

    def mend(self):
        self.tell("mended", self.pick(self.things))

    def use_up(self):
        self.tell(self.pick(["consumed", "written off"]), self.pick(self.things), self.ground.gone)

    def late(self):
        """Told at the desk, of a moment long past."""
        verb, place = self.pick([("seen", None), ("packed", self.cast.inside[self.cases[0]])])
        made = self.tell(verb, self.pick(self.things), place, desk=True)
        earlier = T0 + (made.at - T0) * self.draw(st.floats(0, 1))
        self.told[-1] = replace(made, at=earlier.replace(microsecond=0), stated=True)


@st.composite
def tours(draw, cast: Cast, ground: Ground) -> list[Told]:
    """A tour that begins in a store; most of them really leave."""
    tour = Tour(cast, draw)
    tour.ground = ground
    for one in [*cast.vans, *tour.cases]:
        tour.tell("placed", one, draw(st.sampled_from(ground.stores)), desk=True)
    if draw(st.integers(0, 7)):
        go(tour)
    for act in draw(st.lists(st.sampled_from(ACTS), min_size=4, max_size=14)):
        getattr(tour, act.replace(" ", "_"))()
    return tour.told


def go(tour: Tour) -> None:
    """Every thing into some case, by scan or by word, the cases onto one vehicle, and away from the store."""
    van = tour.pick(tour.cast.vans)
    for thing in tour.things:
        grade = tour.pick(["scan", "scan", "tick", "said"])
        tour.tell("packed", thing, tour.cast.inside[tour.pick(tour.cases)], grade=grade)
    for case in tour.cases:
        if tour.pick([True, True, False]):
            tour.tell("sealed", case, seal=f"S{case}")
        tour.tell("loaded", case, tour.cast.inside[van])
    tour.tell("departed", van, tour.ground.roads[0], reference="FMC")


@pytest.fixture
def stage(db) -> tuple[Stage, Ground]:
    cast = make_cast()
    Place.objects.filter(pk__in=cast.rooms).update(is_ours=True)
    client = Person.objects.create(name="Jo Marlow", organisation=Organisation.objects.create(name="Glasswright Trust"))
    make_show("FMC")
    ground = Ground(
        stores=cast.rooms,
        hall=make_place("Fjellmark Hall", PlaceKind.VENUE).pk,
        roads=[make_place(name, PlaceKind.ROAD).pk for name in ("road out", "road home")],
        client=make_place("Jo Marlow", PlaceKind.PERSON, person=client).pk,
        gone=make_place("gone", PlaceKind.GONE).pk,
    )
    return Stage(cast), ground


def test_what_left_has_one_outcome_each_and_one_the_naive_replay_allows(stage):
    stage, ground = stage
    world, shares = world_of(stage.cast), Counter()

    @settings(max_examples=STORED * 3 // 2, **calm)
    @given(st.data())
    def run(data):
        told = data.draw(tours(stage.cast, ground))
        at = max(one.at for one in told)
        naive = NaiveReturn(Replay(world, told, at), "FMC", frozenset(ground.stores))
        with transaction.atomic():
            stage.deliver(data.draw(deliveries(told)))
            found = reconcile_reference_of(at)
            check_each_has_one(found, naive)
            check_outcomes(found, naive, ground)
            assert still_out("FMC", at) == found.owed
            transaction.set_rollback(True)
        tally(shares, told, found, naive)

    run()
    print_shares(f"returns on {connection.vendor}", shares)
    assert [name for name in MUST_HOLD if not shares[name]] == []
    assert sum(shares[str(outcome)] > 0 for outcome in Outcome) >= 8, "too few of the ten outcomes were met"


def reconcile_reference_of(at) -> Reconciliation:
    from shipping.models import Show

    return reconcile(Show.objects.get(code="FMC"), at)


def outcomes(found: Reconciliation) -> list[tuple[int, Outcome]]:
    """Every outcome that the lines give, the second serial of a swap included."""
    own = [(line.item.id, line.outcome) for line in found.lines]
    return own + [(line.other.id, line.other_outcome) for line in found.lines if line.other_outcome]


def check_each_has_one(found: Reconciliation, naive: NaiveReturn) -> None:
    given_to = [item for item, _ in outcomes(found)]
    assert sorted(given_to) == sorted(naive.left)
    assert sum(found.counts.values()) == len(naive.left)
    assert found.answer == ("not gone yet" if not naive.left else "owed" if found.owed else "all back")
    cases = [line.item.id for group in found.by_case() for line in ((group.line,) if group.line else ()) + group.lines]
    assert sorted(cases) == sorted(line.item.id for line in found.lines)


def check_outcomes(found: Reconciliation, naive: NaiveReturn, ground: Ground) -> None:
    for item, outcome in outcomes(found):
        assert allowed(item, outcome, naive, ground), (item, outcome)


def allowed(item: int, outcome: Outcome, naive: NaiveReturn, ground: Ground) -> bool:  # noqa: C901, PLR0911
    """May the thing have this outcome, by a replay that looks at everything anew?"""
    if outcome == Outcome.MISSED:
        return naive.is_missing(item)
    if naive.is_missing(item):
        return naive.is_back(item)  # only another show's word may be passed over, once it is back
    if naive.is_back(item):
        return outcome in (Outcome.BACK, Outcome.DAMAGED, Outcome.SHORT)
    ended = naive.newest_word(item, "consumed", "written off")
    if ended:
        return outcome == {"consumed": Outcome.SHORT, "written off": Outcome.DAMAGED}[ended]
    way, end = naive.around(item, len(naive.replay.live))
    match outcome:
        case Outcome.LEFT:
            return any(naive.left.get(one) is not None and naive.newest_word(one, "left") for one in way)
        case Outcome.CLIENT:
            return end == ground.client
        case Outcome.BACK_SEALED:
            return naive.replay.link(item)["strength"] == "sealed in" and naive.stands_in_store(item)
        case Outcome.NEVER:
            return not naive.seen_before(item)
        case Outcome.ELSEWHERE:
            return end in (*ground.roads, *ground.stores, ground.client)
        case Outcome.NOT_LOOKED:
            return True
    return False


def tally(shares: Counter[str], told: list[Told], found: Reconciliation, naive: NaiveReturn) -> None:
    shares["stories"] += 1
    shares["left"] += bool(naive.left)
    shares["not gone yet"] += not naive.left
    shares["left by a second departure"] += len(set(naive.left.values())) > 1
    shares["acts taken back"] += any(one.verb != "corrected" and not naive.replay.stands(one) for one in told)
    shares["late words"] += any(one.stated for one in told)
    shares["swaps"] += any(line.other for line in found.lines)
    for outcome in {outcome for _, outcome in outcomes(found)}:
        shares[str(outcome)] += 1
