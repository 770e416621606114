"""How ready systems are for what comes next, as the ready card prints it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from functools import cached_property

from inventory import signing, trials
from inventory.answers.readiness import readiness_of
from inventory.answers.readiness_rows import Readiness
from inventory.models import Item, System
from shipping import preparing
from shipping.models import Show


class Readied:
    """These systems at one moment: the verdicts are read at once for all of them, and only if a paper wants them."""

    def __init__(self, systems: Sequence[System], at: datetime) -> None:
        self._systems, self._at = systems, at

    @cached_property
    def _shows(self) -> dict[int, Show]:
        return preparing.next_shows(self._systems, self._at)

    def show_of(self, system: System) -> Show | None:
        return self._shows.get(system.pk)

    @cached_property
    def _ready(self) -> dict[tuple[int, date], Readiness]:
        asked = [(system, preparing.day_for(self.show_of(system), self._at)) for system in self._systems]
        return readiness_of(asked, self._at)

    def readiness(self, system: System) -> Readiness:
        """The verdict for the end of its next show, else for today."""
        return self._ready[system.pk, preparing.day_for(self.show_of(system), self._at)]

    def signature(self, system: System) -> signing.Signature | None:
        return signing.last_signature(system, self._at)

    def checks(self, system: System) -> list[preparing.Checked]:
        return preparing.checks(system, self._at)

    def runs(self, system: System) -> list[tuple[Item, trials.Trial]]:
        """Things at home in a system that somebody ran, by their words."""
        own = list(Item.objects.in_stock().filter(home_system=system).select_related("type", "owner"))
        ran = trials.newest([item.pk for item in own], self._at)
        return sorted(((item, ran[item.pk]) for item in own if item.pk in ran), key=lambda one: str(one[0]))
