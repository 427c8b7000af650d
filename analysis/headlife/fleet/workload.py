"""How much will the printers print, if all of them grow busier or quieter together?

From how print hours vary and grow (`fleet.past_hours` learns it): means and spreads of what the
printers will print over a horizon, and draws of it, for forecasts to take in the place of one
figure. A printer's own ups and downs average out over a fleet, what all share does not. Never
forecasts a swap.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from headlife.numbers import Floats, positive
from headlife.units import WEEKS_PER_QUARTER, WEEKS_PER_YEAR

SHORTEST_WEEKS: Final = 2.0  # an installation shorter than this says little: its days are whole


@dataclass(frozen=True, eq=False)
class WorkloadAhead:
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
    """Spreads weighed against each other, (nodes, 4) [-]: from quarter to quarter the common one,
    that of a printer, and of a role beside its printer; and of a printer from week to week."""
    weights: Floats
    """Posterior weight of each node, (nodes,) [-]."""
    means: Floats
    """At each node, mean of the log hours a week of every printer on the last day, and of their
    growth in a year, (nodes, printers + 1)."""
    variances: Floats
    """At each node, their variances, (nodes, printers + 1)."""
    with_growth: Floats
    """At each node, covariance of every printer's with the growth, (nodes, printers)."""
    together: Floats
    """At each node, variance of the sum of all printers' log hours a week, (nodes,)."""
    quarters: float
    """Length of the records looked at [quarters]."""
    installations: int
    """Installations looked at [-]."""
    stood: frozenset[str] = frozenset()
    """Printers that stood still for much of the time since a present head went in."""

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
        spread = self.variances[:, -1] + (self.means[:, -1] - mean) ** 2
        away = 1.6449 * float(np.sqrt(self.weights @ spread))
        low, high = mean - away, mean + away
        return float(np.expm1(mean)), float(np.expm1(low)), float(np.expm1(high))

    def _varies(self, first: int) -> tuple[Floats, Floats]:
        """Variances of the log hours of a quarter, from one of the spreads on, and of a week."""
        squares = np.square(self.nodes)
        return squares[:, first:3].sum(axis=1)[:, None], squares[:, 3:]

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
        weeks = np.maximum(weeks, SHORTEST_WEEKS)
        squares = _mean_of_quarters(weeks)
        grow = 0.5 * weeks / WEEKS_PER_YEAR  # half way
        means = self.means[:, at] + grow * self.means[:, -1:]
        level, both = self.variances[:, at], self.with_growth[:, at]
        spreads = level + 2.0 * grow * both + grow**2 * self.variances[:, -1:]
        quarterly, weekly = self._varies(0)
        varies = quarterly * squares + weekly / weeks
        centre = self.weights @ means
        variance = self.weights @ (spreads + varies + (means - centre) ** 2)
        return np.exp(centre + 0.5 * variance), np.sqrt(np.expm1(variance))

    def ahead(self, weeks: float, draws: int, rng: np.random.Generator) -> WorkloadAhead:
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
        WorkloadAhead
            What all printers share in every draw, and mean and spread of each one beside it.

        Notes
        -----
        Of what is not known of the levels, what the printers share (their mean covariance) goes
        with the common factor, so that in a large fleet it does not average out.
        """
        weeks = positive("The horizon", weeks, "[weeks]")
        squares = _mean_of_quarters(weeks)
        count = len(self.printers)
        # Level of each printer half way through the horizon: its own and the growth until then.
        grow = 0.5 * weeks / WEEKS_PER_YEAR
        means = self.means[:, :-1] + grow * self.means[:, -1:]
        level, both = self.variances[:, :-1], self.with_growth
        growth = grow**2 * self.variances[:, -1]
        own = level + 2.0 * grow * both + growth[:, None]
        others = max(count - 1, 1)
        between = self.together - level.sum(axis=1)
        shared = between / (count * others) + 2.0 * grow * both.mean(axis=1) + growth
        shared = np.clip(shared if count > 1 else own[:, 0], 0.0, own.min(axis=1))
        centre = self.weights @ means
        node = rng.choice(len(self.weights), size=draws, p=self.weights)
        common = np.sqrt(shared + self.nodes[:, 0] ** 2 * squares)[node]
        shift = (means - centre).mean(axis=1)[node]
        quarterly, weekly = self._varies(1)
        rest = self.weights @ (own - shared[:, None] + quarterly * squares + weekly / weeks)
        return WorkloadAhead(
            printers=self.printers,
            hours_per_week=np.exp(centre),
            spread=np.sqrt(rest),
            shared=np.asarray(np.exp(shift + common * rng.normal(size=draws)), float),
        )


def _mean_of_quarters(weeks: Any) -> Any:
    """How much less a mean over some weeks varies than a quarter that varies by itself [-]."""
    whole = np.floor(weeks / WEEKS_PER_QUARTER)
    rest = weeks - whole * WEEKS_PER_QUARTER
    return (whole * WEEKS_PER_QUARTER**2 + rest**2) / weeks**2
