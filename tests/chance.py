"""Chance that falls the same way in every run, so that a red test is red again for whoever looks into it.

Codes are drawn from letters that words are made of too: one code in some hundreds holds three letters of a word that
a test looks for. `HYPOTHESIS_PROFILE=new pytest tests/...` looks for examples that nobody has seen yet.
"""

from __future__ import annotations

import os
import random
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from hypothesis import settings

DICE = random.Random()

settings.register_profile("again", derandomize=True)
settings.register_profile("new", derandomize=False)


def load_profile() -> None:
    settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "again"))


@contextmanager
def codes_by_dice() -> Iterator[None]:
    """Codes of things and of passes come from DICE; tokens stay secret."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("secrets.choice", DICE.choice)
        yield
