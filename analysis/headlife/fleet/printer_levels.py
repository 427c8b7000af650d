"""How likely are some spreads of print hours, and at which level does each printer print then?

A normal linear model of many printers with a few installations each: a level of every printer, a
growth and factors that all share, and what varies within a printer. What printers share is a few
numbers, the rest is a small matrix for each printer, so the whole is solved without a matrix over
all installations: its cost grows with the printers, not with their cube.

References
----------
[1] C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine Learning (2006), sections
    2.2 and 2.7: the normal likelihood and coefficients with a prior; appendix A.3: the inverse and
    the determinant of a matrix plus one of few columns.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from headlife.numbers import Floats


class Levels(NamedTuple):
    """What is known of the levels of p printers and of their growth, given the spreads."""

    means: Floats
    """Of every level, then of the growth, (p + 1,)."""
    variances: Floats
    """Of the same, (p + 1,)."""
    with_growth: Floats
    """Covariance of every level with the growth, (p,)."""
    together: float
    """Variance of the sum of some levels."""


class PrinterLevels(NamedTuple):
    """Log hours a week of installations, printer by printer; 0 where a printer has fewer."""

    values: Floats
    """About their mean, (p, k)."""
    inside: Floats
    """1 where there is an installation, (p, k)."""
    middle: Floats
    """Its middle, counted from the last day [years], (p, k)."""
    shares: Floats
    """Share of it in each quarter [-], (p, k, quarters)."""
    kernels: Floats
    """Covariance within a printer of what varies by each spread but the common one, for a spread
    of 1, (spreads - 1, p, k, k)."""
    dates: Floats
    """Variance that dates in whole days make, (p, k)."""
    level: float
    """Deviation of a level before the records speak."""
    growth: float
    """Deviation of the growth before the records speak [1/year]."""

    def height(self, spreads: Floats) -> float:
        """Give the log evidence of some spreads, up to a constant.

        Parameters
        ----------
        spreads : array of float
            The common one, then those of `kernels` [-].

        Returns
        -------
        float
            [-]
        """
        parts = self._solved(spreads)
        square = float(np.sum(parts.values * parts.values)) - float(parts.told @ parts.shared)
        return -0.5 * square - parts.log_size

    def levels(self, spreads: Floats, summed: Floats) -> Levels:
        """Give what is known of levels and growth.

        Parameters
        ----------
        spreads : array of float
            As for `height` [-].
        summed : array of float
            1 for the printers whose levels are summed, else 0, (p,).

        Returns
        -------
        Levels
            Of all printers.
        """
        parts, before = self._solved(spreads), self.level**2
        # How each level goes with what printers share, and how much its own values tell of it.
        tied = np.einsum("pk,pkf->pf", parts.ones, parts.factors)
        own = np.sum(parts.ones**2, axis=1)
        through, whole = tied @ parts.inverse, summed @ tied
        means = before * (np.sum(parts.ones * parts.values, axis=1) - tied @ parts.shared)
        known = own - np.sum(through * tied, axis=1)
        least = parts.inverse[-1, -1]
        return Levels(
            np.append(means, self.growth * parts.shared[-1]),
            np.append(before - before**2 * known, self.growth**2 * least),
            -before * self.growth * through[:, -1],
            float(
                summed.sum() * before - before**2 * (summed @ own - whole @ parts.inverse @ whole)
            ),
        )

    def _solved(self, spreads: Floats) -> _Solved:
        """Take what varies within printers out of values, levels and what printers share."""
        block = np.tensordot(np.square(spreads[1:]), self.kernels, axes=1)
        block += self.level**2 * self.inside[:, :, None] * self.inside[:, None, :]
        diagonal = np.einsum("pkk->pk", block)
        diagonal += np.where(self.inside > 0, self.dates, 1.0)
        root = np.linalg.cholesky(block)
        right = np.concatenate(
            [
                self.values[..., None],
                self.inside[..., None],
                spreads[0] * self.shares,
                self.growth * self.middle[..., None],
            ],
            axis=2,
        )
        half = np.linalg.solve(root, right)
        values, ones, factors = half[..., 0], half[..., 1], half[..., 2:]
        shared = np.eye(factors.shape[2]) + np.einsum("pkf,pkg->fg", factors, factors)
        told = np.einsum("pk,pkf->f", values, factors)
        inverse = np.linalg.inv(shared)
        size = float(np.log(np.einsum("pkk->pk", root)).sum())
        size += 0.5 * float(np.linalg.slogdet(shared)[1])
        return _Solved(values, ones, factors, told, inverse, inverse @ told, size)


class _Solved(NamedTuple):
    values: Floats  # (p, k)
    ones: Floats  # of each printer's level, (p, k)
    factors: Floats  # of what all share, the growth last, (p, k, f)
    told: Floats  # what the values tell of these, (f,)
    inverse: Floats  # their covariance, (f, f)
    shared: Floats  # and their mean, (f,)
    log_size: float  # half the log determinant of the covariance of all values
