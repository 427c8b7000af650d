"""What does exact arithmetic say about the demand, where the life is taken as known?

Renewal convolution on a grid: the distribution of the number of swaps of every position, from
its present age, the cumulative hazard of all modes and the policy, and of the sum over
positions. It checks the simulation and serves studies in which the truth is known; it knows no
posterior and draws no random number.

The sum of a residual life and k new lives has distribution `G[k+1] = F * G[k]` (Cox, Renewal
Theory, 1962, section 3.2); the Stieltjes integral is taken with F at the middle of the steps of
G, so that a density that is infinite at 0 does no harm (Xie, Commun. Statist. Simul. 18, 1989).
The error falls with known powers of the step, which grids of several steps cancel (Richardson);
what is left of a mean number of failures is below 1e-9 for shapes from 0.5 on. A swap age puts an
atom of probability on every sum of swap ages; the atoms are kept apart, and since the failures
between them bend where no grid looks, one fine grid must do there (about 1e-6).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from headlife.futures.calendar import week_lengths
from headlife.futures.demand import KnownLife
from headlife.futures.distribution import Demand
from headlife.futures.engine import MOST_SWAPS, refuse_short_runs
from headlife.numbers import Floats, not_negative, not_negative_array
from headlife.shop.policy import Policy

CumulativeHazard = Callable[[Floats], Floats]

# Steps of the grid on which answers are given; finer ones stand behind it.
GRID: Final = 128
_FINEST: Final = 4
_SMOOTH: Final = 3.0  # with no further power of the step below it three grids are enough
# Powers of the step nearer to each other than this are taken for one.
_APART: Final = 0.002
# Further swaps less likely than this are left out [-].
NEGLIGIBLE: Final = 1e-13


@dataclass(frozen=True)
class SwapDistribution:
    """Swaps of positions over a stretch of print hours, by number and over time."""

    at_least: Floats
    """Probability of at least k swaps in the whole stretch, positions x k = 0, 1, ... [-]."""
    hours: Floats
    """Grid of print hours from 0 to the end of the stretch, positions x grid [h]."""
    swaps: Floats
    """Mean number of swaps by then, positions x grid [heads]."""
    failures: Floats
    """Mean number of failures by then, positions x grid [heads]."""

    def every(self, steps: int) -> SwapDistribution:
        """Keep one in so many steps of the grid.

        Parameters
        ----------
        steps : int
            How many steps are one.

        Returns
        -------
        SwapDistribution
            The distribution on the coarser grid.
        """
        kept = slice(None, None, steps)
        return replace(
            self,
            hours=self.hours[:, kept],
            swaps=self.swaps[:, kept],
            failures=self.failures[:, kept],
        )

    @property
    def pmf(self) -> Floats:
        """Probability of exactly k swaps, positions x k [-]."""
        beyond = np.append(self.at_least[:, 1:], np.zeros((len(self.at_least), 1)), axis=1)
        return np.maximum(self.at_least - beyond, 0.0)


@dataclass(frozen=True)
class WeibullHazard:
    """Cumulative hazard of Weibull lives that compete: theirs add."""

    lives: tuple[KnownLife, ...]
    """The lives."""

    def __call__(self, hours: Floats) -> Floats:
        """Cumulative hazard at ages [h], [-]."""
        return np.asarray(sum((hours / life.scale) ** life.shape for life in self.lives))

    @property
    def powers(self) -> tuple[float, ...]:
        """Powers of the step with which the error of a grid falls, the lowest first."""
        own = {a + b * life.shape for life in self.lives for a in (1, 2, 3) for b in (1, 2, 3)}
        kept: list[float] = []
        for power in sorted({2.0, 4.0, 6.0} | own):
            if not kept or power - kept[-1] > _APART:
                kept.append(power)
        return tuple(kept)


def cumulative_hazard(lives: KnownLife | Sequence[KnownLife]) -> WeibullHazard:
    """Return the cumulative hazard of lives that compete: theirs add [-].

    Parameters
    ----------
    lives : KnownLife or sequence of KnownLife
        The lives.

    Returns
    -------
    WeibullHazard
        Takes ages [h], gives cumulative hazards [-].
    """
    return WeibullHazard(tuple(lives) if isinstance(lives, Sequence) else (lives,))


def swap_distribution(
    hazard: CumulativeHazard,
    ages: npt.ArrayLike,
    stretch: npt.ArrayLike,
    policy: Policy | None = None,
    grid: int = GRID,
) -> SwapDistribution:
    """Distribution of the number of swaps of every position.

    Parameters
    ----------
    hazard : callable
        Cumulative hazard H(t) [-] at ages t [h], all modes together.
    ages : array of float
        Present age of the head in every position [h].
    stretch : array of float
        Print hours ahead of every position [h], above zero.
    policy : Policy, optional
        Swap age; without one every head runs to failure.
    grid : int
        Steps of the grid over each stretch on which means are given.

    Returns
    -------
    SwapDistribution
        Probabilities [-].

    Raises
    ------
    DecisionError
        Ages or print hours are not numbers of zero or more, or the swap age is so low that a
        position would swap hundreds of heads.
    """
    ages = not_negative_array("Ages of heads", ages, "[h]")
    ends = np.broadcast_to(not_negative_array("Print hours", stretch, "[h]"), ages.shape)
    policy = policy or Policy()
    refuse_short_runs(policy, float(ends.max(initial=0.0)))

    def on(finer: int) -> SwapDistribution:
        steps = finer * grid
        found = _Convolution(hazard, ages, ends, policy.comes_out_at, steps).run()
        return found.every(finer)

    if policy.comes_out_at < np.inf:
        return on(_FINEST)
    powers = getattr(hazard, "powers", (2.0, 4.0, 6.0))
    finer = [1, 2, _FINEST] if powers[1] >= _SMOOTH else [1, 2, _FINEST, 2 * _FINEST]
    return _extrapolated([on(each) for each in finer], finer, powers)


def _extrapolated(
    found: Sequence[SwapDistribution], finer: Sequence[int], powers: Sequence[float]
) -> SwapDistribution:
    """Cancel the powers of the step in what grids of several steps gave."""
    steps = 1.0 / np.array(finer)
    orders = np.array([0.0, *powers[: len(finer) - 1]])
    # Weights that leave the constant term alone.
    weights = np.linalg.solve((steps[:, None] ** orders).T, np.eye(len(finer))[0])
    most = max(each.at_least.shape[1] for each in found)

    def total(parts: Sequence[Floats]) -> Floats:
        return np.asarray(sum(w * part for w, part in zip(weights, parts, strict=True)))

    return SwapDistribution(
        total([np.pad(f.at_least, ((0, 0), (0, most - f.at_least.shape[1]))) for f in found]),
        found[0].hours,
        total([each.swaps for each in found]),
        total([each.failures for each in found]),
    )


def exact_demand(
    lives: KnownLife | Sequence[KnownLife] | CumulativeHazard,
    ages: npt.ArrayLike,
    hours_per_week: npt.ArrayLike,
    weeks: float,
    policy: Policy | None = None,
    grid: int = GRID,
) -> Demand:
    """Demand of independent positions whose life is known, without simulation.

    Parameters
    ----------
    lives : KnownLife or sequence of KnownLife or callable
        The life, or the competing ones; or a cumulative hazard as for `swap_distribution`.
    ages : array of float
        Present age of the head in every position [h].
    hours_per_week : float or array of float
        Print hours a week, one for all or one per position [h].
    weeks : float
        Horizon [weeks].
    policy : Policy, optional
        Swap age; without one every head runs to failure.
    grid : int
        Steps of the grid.

    Returns
    -------
    Demand
        The demand, exact to the grid.

    Raises
    ------
    DecisionError
        As for `forecast_demand`.
    """
    weeks = not_negative("The horizon", weeks, "[weeks]")
    ages = not_negative_array("Ages of heads", ages, "[h]")
    usage = not_negative_array("Print hours a week", hours_per_week, "[h]")
    usage = np.broadcast_to(usage, ages.shape)
    if not ages.size or not weeks:
        return Demand.none(weeks)
    lengths = week_lengths(weeks)
    # Ends of whole weeks fall on the grid.
    grid = lengths.size * -(-grid // lengths.size)
    hazard = lives if callable(lives) else cumulative_hazard(lives)
    found = swap_distribution(hazard, ages, usage * weeks, policy, grid)
    total = np.ones(1)
    for pmf in found.pmf:
        total = np.convolve(total, np.trim_zeros(pmf, "b"))
    ends = np.cumsum(lengths) / weeks * grid
    steps = np.arange(grid + 1)
    swaps = np.diff([np.interp(ends, steps, each) for each in found.swaps], prepend=0.0)
    failures = np.diff([np.interp(ends, steps, each) for each in found.failures], prepend=0.0)
    return Demand(
        pmf=total / total.sum(),
        weeks=weeks,
        failure_mean=float(found.failures[:, -1].sum()),
        planned_mean=float((found.swaps - found.failures)[:, -1].sum()),
        failures_by_week=failures.sum(axis=0),
        planned_by_week=(swaps - failures).sum(axis=0),
    )


def renewal_function(hazard: CumulativeHazard, hours: float) -> float:
    """Mean number of replacements of a new head and its successors, to about ten digits.

    Parameters
    ----------
    hazard : callable
        Cumulative hazard H(t) [-] at ages t [h].
    hours : float
        Print hours [h].

    Returns
    -------
    float
        [heads]
    """
    found = swap_distribution(hazard, [0.0], [hours], grid=2 * GRID)
    return float(found.swaps[0, -1])


class _Convolution:
    """The sums of lives of every position on its own grid of print hours."""

    def __init__(
        self, hazard: CumulativeHazard, ages: Floats, ends: Floats, swap_age: float, grid: int
    ) -> None:
        self._hazard = hazard
        self._ages = ages[:, None]
        self._swap_age = swap_age
        self._steps = grid
        self.hours = ends[:, None] * np.linspace(0.0, 1.0, grid + 1)
        # F at the middles of the steps, ready for convolution.
        middles = ends[:, None] * (np.arange(grid) + 0.5) / grid
        self._size = 1 << (2 * grid - 1).bit_length()
        self._kernel = np.fft.rfft(self._new_head_failed(middles), self._size)
        self._survives = float(np.exp(-hazard(np.asarray(swap_age)))) if swap_age < np.inf else 0.0

    def _new_head_failed(self, hours: Floats) -> Floats:
        """Probability that a new head has failed by `hours`, before any swap age [-]."""
        reached = np.clip(hours, 0.0, self._swap_age)
        return np.asarray(-np.expm1(-self._hazard(reached)))

    def _present_head_failed(self) -> tuple[Floats, Floats, Floats]:
        """Failure distribution of present heads; when and how probably they are swapped."""
        wait = np.maximum(self._swap_age - self._ages, 0.0)
        at_age = self._hazard(self._ages)
        reached = np.minimum(self.hours, wait)
        failed = -np.expm1(at_age - self._hazard(self._ages + reached))
        survives = np.zeros_like(wait)
        finite = np.isfinite(wait)
        survives[finite] = np.exp(at_age - self._hazard(self._ages + np.where(finite, wait, 0.0)))[
            finite
        ]
        return failed, wait, survives

    def run(self) -> SwapDistribution:
        """Add swaps until a further one is negligible everywhere."""
        smooth, atom_at, atom = self._present_head_failed()
        failures = smooth.copy()
        swaps = np.zeros_like(self.hours)
        at_least = [np.ones(len(self.hours))]
        for _ in range(MOST_SWAPS):
            done = smooth + self._stepped(atom_at, atom)
            swaps += done
            at_least.append(done[:, -1])
            if done[:, -1].max() < NEGLIGIBLE:
                break
            failed = self._add_failure(smooth) + atom * self._new_head_failed(self.hours - atom_at)
            failures += failed
            smooth = failed + self._survives * self._later(smooth)
            atom_at, atom = atom_at + self._swap_age, atom * self._survives
        return SwapDistribution(np.array(at_least).T, self.hours, swaps, failures)

    def _add_failure(self, smooth: Floats) -> Floats:
        """Convolve: the present sum plus a new life that ends in failure."""
        steps = np.fft.rfft(np.diff(smooth, axis=1), self._size)
        result = np.zeros_like(smooth)
        result[:, 1:] = np.fft.irfft(steps * self._kernel, self._size)[:, : self._steps]
        return np.maximum(result, 0.0)

    def _later(self, smooth: Floats) -> Floats:
        """Move a distribution to the right by the swap age."""
        if not np.isfinite(self._swap_age):
            return np.zeros_like(smooth)
        moved = self.hours - self._swap_age
        return np.array(
            [
                np.interp(m, h, s, left=0.0)
                for m, h, s in zip(moved, self.hours, smooth, strict=True)
            ]
        )

    def _stepped(self, place: Floats, mass: Floats) -> Floats:
        """Distribution function of the atom: its mass from its place on."""
        return np.where(self.hours >= place, mass, 0.0)
