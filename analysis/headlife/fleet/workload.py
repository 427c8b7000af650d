"""How much will the printers print, if all of them grow busier or quieter together?

From installations (how much each printer's hours went up, and between which days): how print hours
vary from quarter to quarter, the part that all printers share and the part of each one, and how
they grow from year to year; then draws of what the printers will print over a horizon, for
forecasts to take in the place of one figure. A printer's own ups and downs average out over a
fleet, what all share does not. Never forecasts a swap.

References
----------
[1] C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine Learning (2006), sections
    2.2 and 2.7: the normal likelihood, and coefficients with a prior, in matrix form.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.linalg import cho_factor, cho_solve

from headlife.errors import DecisionError
from headlife.numbers import Floats, positive
from headlife.units import DAYS_PER_WEEK, WEEKS_PER_QUARTER, WEEKS_PER_YEAR

# Spreads of the log of a quarter's hours [-] that are weighed against each other.
COMMON: Final = (0.0, 0.06, 0.12, 0.18, 0.25, 0.35, 0.55)
SINGLE: Final = (0.04, 0.10, 0.18, 0.30, 0.55)
# Before the records speak. No source: chosen with `studies.changing_shops`, row workload (seeds 5
# and 6, 200 and 300 shops of a kind). Two or three quarters tell little of how far a quarter
# differs from the next. Of shops that swing together with 32 weeks on record 11.3 % are served
# under .90 with 0.20, 10.7 with 0.25 and 9.7 with 0.30; with 100 weeks 10.3, 8.7 and 7.7. A steady
# shop with 32 weeks holds 0.9 of a head more with 0.30 than with 0.20, one with 100 weeks none.
SPREAD_BEFORE: Final = 0.30  # deviation of a half-normal, of either spread [-]
GROWTH_BEFORE: Final = 0.10  # deviation of the growth of the log hours in a year [1/year]
_LEVEL_BEFORE: Final = 1.5  # deviation of the log hours a week of a printer, about their mean [-]
_SHORTEST_WEEKS: Final = 2.0  # an installation shorter than this says little: its days are whole
MOST: Final = 100  # installations looked at, about: of every printer as many of the latest
_QUARTER_DAYS: Final = WEEKS_PER_QUARTER * DAYS_PER_WEEK
_YEAR_DAYS: Final = WEEKS_PER_YEAR * DAYS_PER_WEEK


@dataclass(frozen=True, eq=False)
class Ahead:
    """What printers will print over a horizon."""

    printers: tuple[str, ...]
    """Printers, as in the `Workload`."""
    hours_per_week: Floats
    """Median print hours a week of each, growth included, (printers,) [h/week]."""
    spread: Floats
    """Spread of each one's own factor on them, (printers,) [-]."""
    shared: Floats
    """Factor on the print hours that all share, (draws,) [-]."""


@dataclass(frozen=True, eq=False)
class Workload:
    """How the print hours of a shop's printers vary and grow."""

    printers: tuple[str, ...]
    """Printers with a record of hours."""
    nodes: Floats
    """Spreads weighed against each other: common and single, (nodes, 2) [-]."""
    weights: Floats
    """Posterior weight of each node, (nodes,) [-]."""
    means: Floats
    """At each node, mean of the log hours a week of every printer on the last day, and of their
    growth in a year, (nodes, printers + 1)."""
    covariances: Floats
    """At each node, covariance of these, (nodes, printers + 1, printers + 1)."""
    quarters: float
    """Length of the records looked at [quarters]."""
    installations: int
    """Installations looked at [-]."""

    @property
    def common(self) -> float:
        """Spread from quarter to quarter that all printers share, of the log hours [-]."""
        return float(self.weights @ self.nodes[:, 0])

    @property
    def single(self) -> float:
        """Spread from quarter to quarter of one printer beside that [-]."""
        return float(self.weights @ self.nodes[:, 1])

    @property
    def growth(self) -> tuple[float, float, float]:
        """Growth of print hours in a year: mean, and two one-sided 95 % bounds; 0.2 is 20 % [-]."""
        mean = float(self.weights @ self.means[:, -1])
        spread = self.covariances[:, -1, -1] + (self.means[:, -1] - mean) ** 2
        away = 1.6449 * float(np.sqrt(self.weights @ spread))
        low, high = mean - away, mean + away
        return float(np.expm1(mean)), float(np.expm1(low)), float(np.expm1(high))

    def of_printers(self, at: npt.NDArray[np.intp], weeks: Floats) -> tuple[Floats, Floats]:
        """Say what printers will print on average over horizons, each by itself.

        Parameters
        ----------
        at : array of int
            Which of `printers`, (n,).
        weeks : array of float
            Horizon of each, from the last day on [weeks].

        Returns
        -------
        mean : array of float
            Print hours a week, growth included, (n,) [h/week].
        spread : array of float
            What is not known of them, the part that all share included, as a share of the mean
            (log-normal), (n,) [-].
        """
        weeks = np.maximum(weeks, _SHORTEST_WEEKS)
        whole = np.floor(weeks / WEEKS_PER_QUARTER)
        rest = weeks - whole * WEEKS_PER_QUARTER
        squares = (whole * WEEKS_PER_QUARTER**2 + rest**2) / weeks**2
        grow = 0.5 * weeks / WEEKS_PER_YEAR  # half way
        means = self.means[:, at] + grow * self.means[:, -1:]
        level, both = self.covariances[:, at, at], self.covariances[:, at, -1]
        spreads = level + 2.0 * grow * both + grow**2 * self.covariances[:, -1:, -1]
        varies = np.square(self.nodes).sum(axis=1)[:, None] * squares
        centre = self.weights @ means
        variance = self.weights @ (spreads + varies + (means - centre) ** 2)
        return np.exp(centre + 0.5 * variance), np.sqrt(np.expm1(variance))

    def ahead(self, weeks: float, draws: int, rng: np.random.Generator) -> Ahead:
        """Draw what the printers will print over a horizon.

        Parameters
        ----------
        weeks : float
            Horizon from the last day on [weeks].
        draws : int
            Draws [-].
        rng : numpy.random.Generator
            Source of random numbers.

        Returns
        -------
        Ahead
            What all printers share in every draw, and mean and spread of each one beside it.

        Notes
        -----
        Of what is not known of the levels, what the printers share (their mean covariance) goes
        with the common factor, so that in a large fleet it does not average out.
        """
        weeks = positive("The horizon", weeks, "[weeks]")
        shares = _shares(np.zeros(1), np.array([weeks * DAYS_PER_WEEK]), _QUARTER_DAYS)[0]
        squares = float(shares @ shares)  # a mean over quarters varies less than each
        count = len(self.printers)
        # Level of each printer half way through the horizon.
        grow = np.column_stack([np.eye(count), np.full(count, 0.5 * weeks / WEEKS_PER_YEAR)])
        means = self.means @ grow.T
        spreads = grow @ self.covariances @ grow.T
        own = np.einsum("npp->np", spreads)
        others = max(count - 1, 1)
        shared = (spreads.sum(axis=(1, 2)) - own.sum(axis=1)) / (count * others)
        shared = np.clip(shared if count > 1 else own[:, 0], 0.0, own.min(axis=1))
        centre = self.weights @ means
        node = rng.choice(len(self.weights), size=draws, p=self.weights)
        common = np.sqrt(shared + self.nodes[:, 0] ** 2 * squares)[node]
        shift = (means - centre).mean(axis=1)[node]
        rest = self.weights @ (own - shared[:, None] + self.nodes[:, 1:] ** 2 * squares)
        return Ahead(
            printers=self.printers,
            hours_per_week=np.exp(centre),
            spread=np.sqrt(rest),
            shared=np.asarray(np.exp(shift + common * rng.normal(size=draws)), float),
        )


def learn_workload(
    printer: npt.ArrayLike,
    day_in: npt.ArrayLike,
    day_out: npt.ArrayLike,
    run_hours: npt.ArrayLike,
) -> Workload:
    """Learn how print hours vary and grow from installations.

    Parameters
    ----------
    printer : array of str
        Printer of each installation, (n,).
    day_in, day_out : array of float
        Days of its first and last reading, counted from any day [days], (n,); the last day on
        record is the day from which forecasts go on.
    run_hours : array of float
        Print hours between them [h], (n,).

    Returns
    -------
    Workload
        The print hours to come.

    Raises
    ------
    DecisionError
        No installation is long enough to tell.

    Notes
    -----
    The log of an installation's hours a week is normal about its printer's level, a trend, and
    means over its quarters of a common and of a single normal factor; the spreads are weighed on
    a grid, the rest is a linear model in closed form [1, eq. (2.42), (2.43)].
    """
    names, start, end, run = _checked(printer, day_in, day_out, run_hours)
    printers, who = np.unique(names, return_inverse=True)
    last = float(end.max())
    # Quarters are counted back from the last day, so that those to come are new ones.
    shares = _shares(last - end, last - start, _QUARTER_DAYS)
    rate = np.log(run / (end - start) * DAYS_PER_WEEK)
    middle = (0.5 * (start + end) - last) / _YEAR_DAYS
    design = np.column_stack([np.eye(printers.size)[who], middle])
    before = np.append(np.full(printers.size, _LEVEL_BEFORE**2), GROWTH_BEFORE**2)
    centre = float(rate.mean())
    together = shares @ shares.T
    own = together * (who[:, None] == who)
    dates = 2.0 / (end - start) ** 2  # readings are of whole days
    nodes = np.array(list(product(COMMON, SINGLE)))
    heights, means, covariances = [], [], []
    for common, single in nodes:
        noise = common**2 * together + single**2 * own
        noise[np.diag_indices_from(noise)] += dates
        height, mean, covariance = _linear(design, rate - centre, noise, before)
        heights.append(height - 0.5 * (common**2 + single**2) / SPREAD_BEFORE**2)
        means.append(mean)
        covariances.append(covariance)
    weights = np.exp(np.array(heights) - max(heights)) * _steps()
    levels = np.array(means)
    levels[:, :-1] += centre
    return Workload(
        printers=tuple(str(name) for name in printers),
        nodes=nodes,
        weights=weights / weights.sum(),
        means=levels,
        covariances=np.array(covariances),
        quarters=float((last - start.min()) / _QUARTER_DAYS),
        installations=int(rate.size),
    )


def _checked(
    printer: npt.ArrayLike,
    day_in: npt.ArrayLike,
    day_out: npt.ArrayLike,
    run_hours: npt.ArrayLike,
) -> tuple[npt.NDArray[np.str_], Floats, Floats, Floats]:
    """Keep installations that are long enough to tell, of every printer the latest."""
    names = np.atleast_1d(np.asarray(printer, str))
    start, end, run = (
        np.atleast_1d(np.asarray(values, float)) for values in (day_in, day_out, run_hours)
    )
    keep = latest(names, start, end, run)
    if not keep.size:
        raise DecisionError(
            "No installation on record ran for two weeks or more, so nothing can be learned of how "
            "print hours vary; state them in [usage]."
        )
    return names[keep], start[keep], end[keep], run[keep]


def latest(
    printer: npt.NDArray[np.str_], start: Floats, end: Floats, run: Floats
) -> npt.NDArray[np.intp]:
    """Find the latest installations of every printer that are long enough, about `MOST` in all.

    Those of a part of a record hold all that the whole would keep of it, in an order that does
    not depend on the order given.

    Parameters
    ----------
    printer : array of str
        Printer of each installation, (n,).
    start, end, run : array of float
        First and last day [days] and print hours between them [h], (n,).

    Returns
    -------
    array of int
        Which they are.
    """
    tells = np.flatnonzero((end - start >= _SHORTEST_WEEKS * DAYS_PER_WEEK) & (run > 0))
    printers, who = np.unique(printer[tells], return_inverse=True)
    order = np.lexsort((-run[tells], -start[tells], -end[tells], who))
    place = who[order]
    first = np.flatnonzero(np.r_[True, place[1:] != place[:-1]])
    turn = np.arange(order.size) - np.repeat(first, np.diff(np.r_[first, order.size]))
    kept: npt.NDArray[np.intp] = tells[order[turn < -(-MOST // max(printers.size, 1))]]
    return kept


def _linear(
    design: Floats, values: Floats, noise: Floats, before: Floats
) -> tuple[float, Floats, Floats]:
    """Log evidence, and mean and covariance of the coefficients, of a normal linear model."""
    spread = design * before
    whole = cho_factor(noise + spread @ design.T, lower=True)
    solved = cho_solve(whole, values)
    height = -0.5 * float(values @ solved) - float(np.log(np.diag(whole[0])).sum())
    mean = spread.T @ solved
    covariance = np.diag(before) - spread.T @ cho_solve(whole, spread)
    return height, mean, 0.5 * (covariance + covariance.T)


def _shares(near: Floats, far: Floats, width: float) -> Floats:
    """Share of each stretch that lies in each of the equal steps from 0 on, (n, steps)."""
    steps = int(np.ceil(far.max() / width - 1e-9))
    edges = width * np.arange(steps + 1)
    inside = np.minimum(far[:, None], edges[1:]) - np.maximum(near[:, None], edges[:-1])
    return np.asarray(np.maximum(inside, 0.0) / (far - near)[:, None], float)


def _steps() -> Floats:
    """Width that each node of the spreads stands for, (nodes,)."""
    widths = [np.gradient(np.array(values)) for values in (COMMON, SINGLE)]
    return np.asarray(np.outer(*widths).ravel(), float)
