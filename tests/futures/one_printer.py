"""Printers put together by hand, for tests of what the engine makes of them."""

from __future__ import annotations

import numpy as np

from headlife.futures.draws import DrawnLives, ModeDraws
from headlife.futures.position import HeadKind, Position
from headlife.shop.policy import Policy


def lives_of(life, draws, precision=np.float32):
    """Draws of one life."""
    drawn = life.draw(draws, np.random.default_rng(0))
    return DrawnLives([ModeDraws.from_parameters(*drawn, precision)])


def position(lives, age=0.0, policy=None, role="model", lag=0.0):
    """One position with a head of type A that is never changed."""
    kind = HeadKind(lives, policy or Policy(), lag)
    return Position(np.full((1, 1), age, np.float32), [kind], places=[("A", role, "here")])


def changing(ages, kinds, changes_per_hour, change_to):
    """One position whose material is changed, and the kinds of head A, B, ... that it may hold."""
    return Position(
        np.full((1, 1), ages, np.float32),
        kinds,
        changes_per_hour=changes_per_hour,
        change_to=change_to,
        places=[(name, "model", "here") for name, _ in zip("ABC", kinds, strict=False)],
    )
