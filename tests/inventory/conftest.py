"""Histories with a clock that stands one hour after their last line."""

from __future__ import annotations

from datetime import timedelta

import pytest
import time_machine

from tests.inventory.histories import History


@pytest.fixture
def told():
    """told(story): the history, with the clock one hour after its last line."""
    with time_machine.travel(0, tick=False) as clock:

        def tell(story: str) -> History:
            history = History().tell(story)
            clock.move_to(history.now + timedelta(hours=1))
            history.clock = clock
            return history

        yield tell
