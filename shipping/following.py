"""Follow things through their entries in order: what left when, and where each was seen since. Pure."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from uuid import UUID

from inventory.answers.places import Room
from shipping.outcomes import Spot

Key = tuple[datetime, int]


@dataclass(frozen=True, slots=True)
class Step:
    """One live entry of one item."""

    id: UUID
    at: datetime
    item: int
    verb: str
    grade: str
    by: str
    place: int | None = None
    person: str = ""
    due_at: datetime | None = None
    note: str = ""
    condition: str = ""
    quantity: int | None = None
    reference: str = ""
    leg_from: int | None = None  # of a departure: where its leg starts by the plan

    @property
    def key(self) -> Key:
        return self.at, self.id.int


@dataclass(frozen=True, slots=True)
class Leaving:
    """The departure a thing last left a store with, and the case or frame right around it then."""

    step: Step
    store: Room
    around: int | None


@dataclass(slots=True)
class Following:
    """Holders as they stood at one moment; `step` moves that moment on."""

    rooms: Mapping[int, Room]
    holder: dict[int, int]
    planned: Mapping[int, int] = field(default_factory=dict)
    imported: set[int] = field(default_factory=set)
    left: dict[int, Leaving] = field(default_factory=dict)
    spots: dict[int, list[Spot]] = field(default_factory=lambda: defaultdict(list))

    def chain(self, item: int) -> list[Room]:
        """The rooms around an item, innermost first; it ends at a room that is no inside, or where nobody knows."""
        rooms: list[Room] = []
        seen = {item}
        while (place := self.holder.get(item, self.planned.get(item))) is not None:
            room = self.rooms[place]
            rooms.append(room)
            if room.container is None or room.container in seen:
                break
            item = room.container
            seen.add(item)
        return rooms

    def through(self, container: int) -> list[int]:
        """Every item whose chain runs through this container."""
        known = {*self.holder, *self.planned}
        return [item for item in known if any(room.container == container for room in self.chain(item))]

    def step(self, step: Step, departing: bool) -> None:
        if departing:
            store = self._store_left(step)
        self._place(step)
        if departing and store is not None:
            self._leave(step, store)
        self.spots[step.item].append(self._spot(step))

    def _place(self, step: Step) -> None:
        """The K-greatest placing holds; imported ones only while there is no other."""
        if step.place is None or step.place not in self.rooms or self.rooms[step.place].container == step.item:
            return
        if step.grade != "import":
            self.imported.discard(step.item)
        elif step.item in self.holder and step.item not in self.imported:
            return
        else:
            self.imported.add(step.item)
        self.holder[step.item] = step.place

    def _store_left(self, step: Step) -> Room | None:
        """The store it leaves: by the ledger, else by its leg, since nobody may have written that the van came home."""
        chain = self.chain(step.item)
        by_leg = self.rooms.get(step.leg_from) if step.leg_from else None
        return next((room for room in (*chain[-1:], by_leg) if room is not None and room.is_store), None)

    def _leave(self, step: Step, store: Room) -> None:
        for item in (step.item, *self.through(step.item)):
            chain = self.chain(item)
            around = next((room.container for room in chain if room.container), None)
            self.left[item] = Leaving(step, store, around if item != step.item else None)

    def _spot(self, step: Step) -> Spot:
        chain = self.chain(step.item)
        last = chain[-1] if chain else None
        return Spot(
            entry=step.id, verb=step.verb, grade=step.grade, by=step.by, at=step.at,
            fixed_place=last.id if last else None, fixed_kind=last.kind if last else "",
            fixed_name=last.name if last else "", in_store=bool(last and last.is_store),
            holder=chain[0].container if chain else None, store=(last.store or last.id) if last else None,
            person=step.person or (last.person if last else ""),
            person_is_ours=last.person_is_ours if last else True,
            due_at=step.due_at, note=step.note, condition=step.condition, quantity=step.quantity,
            reference=step.reference, places=step.place is not None,
        )  # fmt: skip


def follow(
    steps: Iterable[Step], departures: Sequence[UUID], *, rooms: Mapping[int, Room], holder: Mapping[int, int],
    planned: Mapping[int, int], imported: Iterable[int] = (),
) -> Following:  # fmt: skip
    """Replay live entries in their one order from the holders that stood before the first of them."""
    moving = set(departures)
    state = Following(rooms, dict(holder), planned, set(imported))
    for step in sorted(steps, key=lambda step: step.key):
        state.step(step, step.id in moving)
    return state
