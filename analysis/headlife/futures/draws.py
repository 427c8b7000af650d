"""Lives of heads drawn from Weibull parameters that differ from draw to draw, in bulk.

From drawn parameters of the failure modes and a generator of random numbers. In single precision,
about 1e-6 of a life, which is ample for counting swaps, or in double where evidence is summed.
Knows no calendar and no position.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Final, Protocol

import numpy as np
import numpy.typing as npt

from headlife.futures.random_numbers import exponentials, uniforms
from headlife.numbers import Floats

Index = npt.NDArray[np.intp]
# Print hours, ages or random numbers in single or in double precision.
Hours = npt.NDArray[Any]

# Age taken for a new head where a logarithm is needed [h].
LEAST_AGE: Final = np.float32(1e-30)
# Logarithm of the cumulative hazard that single precision still holds.
MOST_HAZARD: Final = np.float32(80.0)


class DrawnLife(Protocol):
    """A life that gives draws of its Weibull parameters; `Life` is one."""

    def draw(self, n: int, rng: np.random.Generator) -> tuple[Floats, Floats]:
        """Return `n` shapes [-] and scales [h].

        Parameters
        ----------
        n : int
            How many.
        rng : numpy.random.Generator
            Source of the random numbers.

        Returns
        -------
        tuple of array of float
            Shapes [-] and scales [h], (n,) each.
        """


def _draw_to_forecast(life: DrawnLife, n: int, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Draw `n` shapes [-] and scales [h], under the prior of forecasts where a life has one."""
    return getattr(life, "to_forecast", life).draw(n, rng)


@dataclass(frozen=True)
class ModeDraws:
    """Drawn Weibull parameters of one failure mode, kept as the simulation uses them."""

    log_scale: Hours
    """Natural logarithm of the scale in hours, one per draw."""
    shape: Hours
    """Shape [-], one per draw."""
    inverse_shape: Hours
    """1 / shape [-], one per draw."""
    offset: Hours
    """shape * log_scale [-], one per draw."""
    steepest: float
    """Largest shape of all draws [-]."""
    shortest: float
    """Natural logarithm of the smallest scale in hours."""

    @classmethod
    def of_life(cls, life: DrawnLife, draws: int, rng: np.random.Generator) -> ModeDraws:
        """Draw the parameters of a life to forecast with.

        Parameters
        ----------
        life : DrawnLife
            The life of one mode.
        draws : int
            How many.
        rng : numpy.random.Generator
            Source of the random numbers.

        Returns
        -------
        ModeDraws
            Its drawn parameters.
        """
        return cls.from_parameters(*_draw_to_forecast(life, draws, rng))

    @classmethod
    def from_parameters(
        cls, shape: Floats, scale: Floats, precision: Any = np.float32
    ) -> ModeDraws:
        """Keep shapes [-] and scales [h]; in single precision good to about 1e-6 of a life.

        Parameters
        ----------
        shape : array of float
            Weibull shapes [-], (draws,).
        scale : array of float
            Weibull scales [h], (draws,).
        precision : dtype, optional
            In which they are kept.

        Returns
        -------
        ModeDraws
            The parameters, kept.
        """
        log_scale = np.log(scale)
        return cls(
            log_scale.astype(precision),
            shape.astype(precision),
            (1.0 / shape).astype(precision),
            (shape * log_scale).astype(precision),
            float(shape.max()),
            float(log_scale.min()),
        )

    def part(self, draws: slice) -> ModeDraws:
        """Return some of the draws.

        Parameters
        ----------
        draws : slice
            Which draws.

        Returns
        -------
        ModeDraws
            Those draws.
        """
        return ModeDraws(
            self.log_scale[draws],
            self.shape[draws],
            self.inverse_shape[draws],
            self.offset[draws],
            self.steepest,
            self.shortest,
        )

    def stretched(self, times: float) -> ModeDraws:
        """Return lives that are so many times as long.

        Parameters
        ----------
        times : float
            How many [-].

        Returns
        -------
        ModeDraws
            The same draws with other scales.
        """
        more = math.log(times)
        log_scale = (self.log_scale + more).astype(self.log_scale.dtype)
        return replace(
            self,
            log_scale=log_scale,
            offset=self.shape * log_scale,
            shortest=self.shortest + more,
        )

    def hazard(self, ages: Hours, who: Any = ...) -> Hours:
        """Cumulative hazard at ages [h] in the draws `who` [-]; the ages broadcast against them.

        Held where single precision does not overflow: a head that far into its wear-out fails at
        once either way.

        Parameters
        ----------
        ages : Hours
            Ages [h].
        who : index, optional
            Which draws; all when left out.

        Returns
        -------
        Hours
            Hazards [-].
        """
        log_age = np.log(np.maximum(ages, LEAST_AGE))
        hazard = np.asarray(log_age * self.shape[who])
        hazard -= self.offset[who]
        if self.steepest * (float(log_age.max(initial=-np.inf)) - self.shortest) > MOST_HAZARD:
            np.minimum(hazard, MOST_HAZARD, out=hazard)
        return np.asarray(np.exp(hazard, out=hazard))

    def age(self, hazard: Hours, who: Any = ...) -> Hours:
        """Age at which a cumulative hazard is reached in the draws `who` [h]; works in place.

        Parameters
        ----------
        hazard : Hours
            Hazards [-]; overwritten.
        who : index, optional
            Which draws; all when left out.

        Returns
        -------
        Hours
            Ages [h].
        """
        np.log(hazard, out=hazard)
        hazard *= self.inverse_shape[who]
        hazard += self.log_scale[who]
        return np.asarray(np.exp(hazard, out=hazard))


def remaining_hours(
    modes: Sequence[ModeDraws], ages: Hours, gained: Iterable[Hours], who: Any = ...
) -> Hours:
    """Hours that heads of these ages still run until the first mode ends them [h].

    A head fails by a mode when its hazard from now on reaches a standard exponential number.

    Parameters
    ----------
    modes : sequence of ModeDraws
        Drawn parameters of the competing modes.
    ages : array of float
        Present age of each head [h].
    gained : iterable of array of float
        Standard exponential numbers, an array for each mode [-].
    who : array of int, optional
        The draw each head belongs to; left out where ages and draws broadcast.

    Returns
    -------
    Hours
        Hours [h].
    """
    first: Hours | None = None
    for mode, more in zip(modes, gained, strict=True):
        hazard = mode.hazard(ages, who)
        hazard += more.reshape(hazard.shape)
        fails = mode.age(hazard, who)
        first = fails if first is None else np.minimum(first, fails)
    if first is None:
        return np.full(ages.shape, np.inf, dtype=ages.dtype)
    first -= ages
    # A head beyond its life still fails after it was put in.
    return np.maximum(first, LEAST_AGE, out=first)


@dataclass(frozen=True)
class DrawnLives:
    """Lives of heads whose failure modes compete, under the drawn parameters of each."""

    modes: Sequence[ModeDraws]
    """Drawn parameters of the competing modes, all with the same number of draws."""
    longest: float = np.inf
    """Hours that no new head needs to last longer than: a horizon, or a swap age [h]."""

    def part(self, draws: slice) -> DrawnLives:
        """Return some of the draws.

        Parameters
        ----------
        draws : slice
            Which draws.

        Returns
        -------
        DrawnLives
            The lives in those draws.
        """
        return DrawnLives([mode.part(draws) for mode in self.modes], self.longest)

    def stretched(self, times: float) -> DrawnLives:
        """Return lives that are so many times as long.

        Parameters
        ----------
        times : float
            How many [-].

        Returns
        -------
        DrawnLives
            Those lives.
        """
        return DrawnLives([mode.stretched(times) for mode in self.modes], self.longest * times)

    def within(self, hours: float) -> DrawnLives:
        """As in `Lives`."""
        return DrawnLives(self.modes, hours)

    @cached_property
    def _outlast(self) -> list[Hours]:
        """Share of new heads that last longer, in every draw [-], one array for each mode."""
        return [
            np.exp(-mode.hazard(np.array(self.longest, dtype=np.float32))) for mode in self.modes
        ]

    def remaining(self, ages: Hours, who: Any, rng: np.random.Generator) -> Hours:
        """As in `Lives`."""
        size = ages.size if who is not ... else np.broadcast(ages, self.modes[0].shape).size
        gained = (exponentials(size, rng) for _ in self.modes)
        return remaining_hours(self.modes, ages, gained, who)

    def new(self, size: int, who: Any, paths: Any, rng: np.random.Generator) -> Hours:
        """As in `Lives`; infinite beyond the longest that counts.

        The uniform number behind a life is compared with the share that lasts longer, so that most
        lives are never worked out.
        """
        life = np.empty(size, dtype=self.modes[0].shape.dtype)
        life.fill(np.inf)
        for number, (mode, beyond) in enumerate(zip(self.modes, self._outlast, strict=True)):
            numbers = uniforms(size, rng)
            early = (numbers >= beyond[who]).nonzero()[0]
            whose = who if who is ... else who[early]
            gained = np.log(numbers[early]).astype(life.dtype, copy=False)
            ends = mode.age(np.negative(gained, out=gained), whose)
            life[early] = np.minimum(life[early], ends) if number else ends
        return life


def hazard_ahead(modes: Sequence[ModeDraws], ages: Hours, hours: Any) -> Hours:
    """Cumulative hazard that heads gain while they run some hours more, heads x draws [-].

    The chance that a head gets that far is ``exp`` of its negative.

    Parameters
    ----------
    modes : sequence of ModeDraws
        Drawn parameters of the competing modes.
    ages : array of float
        Present ages [h], heads x 1.
    hours : float or array of float
        Hours ahead [h], heads x 1.

    Returns
    -------
    Hours
        Hazards [-].
    """
    end = np.maximum(ages + hours, LEAST_AGE)
    gained: Any = 0.0
    with np.errstate(divide="ignore"):
        log_share = np.log(ages / end)
    for mode in modes:
        # H(end) - H(age) as H(end) times a share, so that nothing cancels.
        gained = gained - mode.hazard(end) * np.expm1(mode.shape * log_share)
    return np.asarray(gained)


class GivenLives:
    """Lives that are given: in every path of a draw heads last equally long, one after another."""

    def __init__(self, lives: Hours, printers: int) -> None:
        """Take the age at which each head fails [h], heads x draws, for so many printers."""
        self._first, self._lives = lives[0], lives.ravel()
        # Where the life of the head in place stands, for every path.
        self._at = np.tile(np.arange(lives.shape[1]), printers)

    def part(self, draws: slice) -> GivenLives:
        """Refuse: in every draw there is a head in place already.

        Parameters
        ----------
        draws : slice
            Which draws.

        Returns
        -------
        GivenLives
            Never.

        Raises
        ------
        NotImplementedError
            Always.
        """
        raise NotImplementedError("given lives are walked whole")

    def within(self, hours: float) -> GivenLives:
        """As in `Lives`: the same lives."""
        return self

    def remaining(self, ages: Hours, who: Any, rng: np.random.Generator) -> Hours:
        """As in `Lives`, of the first heads."""
        return np.asarray(self._first - ages)

    def new(self, size: int, who: Any, paths: Index, rng: np.random.Generator) -> Hours:
        """As in `Lives`, of the next heads."""
        at = self._at[paths] + self._first.size
        self._at[paths] = at
        return np.asarray(self._lives[at])
