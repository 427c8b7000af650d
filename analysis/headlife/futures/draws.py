"""Lives of heads drawn from Weibull parameters that differ from draw to draw, in bulk.

From drawn parameters of the failure modes and a generator of random numbers; single precision,
about 1e-6 of a life, is ample for counting swaps. Knows no calendar and no position.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Protocol

import numpy as np
import numpy.typing as npt

from headlife.numbers import Floats

Floats32 = npt.NDArray[np.float32]
Index = npt.NDArray[np.intp]

# Age taken for a new head where a logarithm is needed [h].
LEAST_AGE: Final = np.float32(1e-30)
# Logarithm of the cumulative hazard that single precision still holds.
MOST_HAZARD: Final = np.float32(80.0)


class DrawnLife(Protocol):
    """A life that gives draws of its Weibull parameters; `Life` is one."""

    def draw(self, n: int, rng: np.random.Generator) -> tuple[Floats, Floats]:
        """Return `n` shapes [-] and scales [h]."""


def draw_to_forecast(life: DrawnLife, n: int, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Draw `n` shapes [-] and scales [h], under the prior of forecasts where a life has one."""
    return getattr(life, "to_forecast", life).draw(n, rng)


@dataclass(frozen=True)
class ModeDraws:
    """Drawn Weibull parameters of one failure mode, kept as the simulation uses them."""

    log_scale: Floats32
    """Natural logarithm of the scale in hours, one per draw."""
    shape: Floats32
    """Shape [-], one per draw."""
    inverse_shape: Floats32
    """1 / shape [-], one per draw."""
    offset: Floats32
    """shape * log_scale [-], one per draw."""
    steepest: float
    """Largest shape of all draws [-]."""
    shortest: float
    """Natural logarithm of the smallest scale in hours."""

    @classmethod
    def of_life(cls, life: DrawnLife, draws: int, rng: np.random.Generator) -> ModeDraws:
        """Draw the parameters of a life to forecast with."""
        return cls.from_parameters(*draw_to_forecast(life, draws, rng))

    @classmethod
    def from_parameters(cls, shape: Floats, scale: Floats) -> ModeDraws:
        """Keep shapes [-] and scales [h] in single precision: about 1e-6 of a life."""
        log_scale = np.log(scale)
        return cls(
            log_scale.astype(np.float32),
            shape.astype(np.float32),
            (1.0 / shape).astype(np.float32),
            (shape * log_scale).astype(np.float32),
            float(shape.max()),
            float(log_scale.min()),
        )

    def part(self, draws: slice) -> ModeDraws:
        """Return some of the draws."""
        return replace(
            self,
            log_scale=self.log_scale[draws],
            shape=self.shape[draws],
            inverse_shape=self.inverse_shape[draws],
            offset=self.offset[draws],
        )


def share_beyond(mode: ModeDraws, hours: float) -> Floats32:
    """Reliability of a new head at an age, in every draw [-]."""
    log_hours = np.float32(math.log(max(hours, float(LEAST_AGE))))
    return np.asarray(np.exp(-np.exp(mode.shape * (log_hours - mode.log_scale))))


def early_failures(
    modes: Sequence[ModeDraws], outlast: Sequence[Floats32], who: Index, rng: np.random.Generator
) -> tuple[Index, Floats32]:
    """Places in `who` whose new head fails within the longest horizon, and its life [h].

    The uniform number behind a life is compared with the share that lasts longer, so that most
    lives are never worked out.
    """
    found = []
    for mode, beyond in zip(modes, outlast, strict=True):
        numbers = uniforms(who.size, rng)
        early = np.flatnonzero(numbers >= beyond[who])
        draw = who[early]
        found.append((early, age_at(-np.log(numbers[early]), mode, draw)))
    if len(found) == 1:
        return found[0]
    return _first_of(found, who.size)


def age_at(hazard: Floats32, mode: ModeDraws, who: Index) -> Floats32:
    """Age at which the cumulative hazard is reached, in the draws `who` [h]; works in place."""
    np.log(hazard, out=hazard)
    hazard *= mode.inverse_shape[who]
    hazard += mode.log_scale[who]
    return np.exp(hazard, out=hazard)


def _first_of(found: Sequence[tuple[Index, Floats32]], size: int) -> tuple[Index, Floats32]:
    """Join what several modes found: places and the earliest age at each."""
    first = np.full(size, np.inf, dtype=np.float32)
    for some, at in found:
        first[some] = np.minimum(first[some], at)
    where = np.flatnonzero(np.isfinite(first))
    return where, first[where]


def new_lives(modes: Sequence[ModeDraws], who: Index, rng: np.random.Generator) -> Floats32:
    """Hours that new heads last, one for each draw in `who`; infinite beyond single precision."""
    lives = np.full(who.size, np.inf, dtype=np.float32)
    for mode in modes:
        np.minimum(lives, age_at(exponentials(who.size, rng), mode, who), out=lives)
    return lives


def remaining_hours(
    modes: Sequence[ModeDraws], ages: Floats32, who: Index, rng: np.random.Generator
) -> Floats32:
    """Hours that heads of these ages still run, one for each draw in `who` [h].

    Parameters
    ----------
    modes : sequence of ModeDraws
        Drawn parameters of the competing modes.
    ages : array of float
        Present age of each head [h].
    who : array of int
        The draw each head belongs to.
    rng : numpy.random.Generator
        Source of random numbers.

    Returns
    -------
    array of float
    """
    if not ages.any():
        return new_lives(modes, who, rng)
    left = np.full(who.size, np.inf, dtype=np.float32)
    log_age = np.log(np.maximum(ages, LEAST_AGE))
    for mode in modes:
        hazard = log_age * mode.shape[who] - mode.offset[who]
        # H(age) may be beyond single precision for a head far into its wear-out: it fails at once.
        hazard = np.exp(np.minimum(hazard, MOST_HAZARD))
        hazard += exponentials(who.size, rng)
        left = np.minimum(left, np.maximum(age_at(hazard, mode, who) - ages, np.float32(0)))
    return left


def exponentials(n: int, rng: np.random.Generator) -> Floats32:
    """Draw standard exponential numbers in single precision, by inversion."""
    numbers = uniforms(n, rng)
    np.log(numbers, out=numbers)
    return np.negative(numbers, out=numbers)


def uniforms(n: int, rng: np.random.Generator) -> Floats32:
    """Draw numbers between 0 and 1 in single precision, two from each word of the generator.

    That takes half the time of its own method. Steps are 2e-10 near 0, which is where the
    logarithm needs them, and 6e-8 near 1.
    """
    words = rng.bit_generator.random_raw((n + 1) // 2).view(np.uint32)[:n]
    numbers = words.astype(np.float32)
    numbers *= np.float32(2.0**-32)
    return numbers
