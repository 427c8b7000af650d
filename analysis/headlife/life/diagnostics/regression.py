"""By which factor does something stretch or shorten the life of heads? One Weibull regression.

From lives and numbers per head: the accelerated-failure-time fit of lifelines, with its bounds in
hours, or nothing where it finds no answer. Never leaks a warning and never judges.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from typing import Final

import numpy as np

from headlife.life.diagnostics.replicas import Ages, FloatArray

_NORMAL_95: Final = 1.6448536269514722  # two-sided 90 %
_LARGEST_ERROR: Final = 3.0  # standard error of a log factor that means nothing was learned


@dataclass(frozen=True, eq=False)
class Regression:
    """Log life = intercept + columns @ coefficients + Weibull noise."""

    coefficients: FloatArray
    """Intercept [log h] first, then one log factor [-] per column, then log shape [-]."""
    covariance: FloatArray
    """Of the coefficients."""

    def hours(self, share: float, column: int | None) -> tuple[float, float, float]:
        """Age [h] that ``share`` [-] reach with one column at 1, and its 90 % bounds [h].

        Parameters
        ----------
        share : float
            Share of heads [-] that reach the age.
        column : int or None
            Which column is at 1, the others at 0; None for all at 0.

        Returns
        -------
        tuple of float
            The age [h] and its lower and upper bound [h].
        """
        shape = float(np.exp(self.coefficients[-1]))
        place = float(np.log(-np.log(share)))
        gradient = np.zeros(self.coefficients.size)
        gradient[0] = 1.0
        if column is not None:
            gradient[1 + column] = 1.0
        centre = float(gradient @ self.coefficients) + place / shape
        gradient[-1] = -place / shape
        variance = float(gradient @ self.covariance @ gradient)
        reach = _NORMAL_95 * float(np.sqrt(max(variance, 0.0)))
        return (
            float(np.exp(centre)),
            float(np.exp(centre - reach)),
            float(np.exp(centre + reach)),
        )

    def factor(self, column: int) -> float:
        """Factor on life [-] for one more of a column.

        Parameters
        ----------
        column : int
            Which column.

        Returns
        -------
        float
            The factor [-]; above 1 the lives are longer.
        """
        return float(np.exp(self.coefficients[1 + column]))

    def factor_bounds(self, column: int) -> tuple[float, float]:
        """Its 90 % bounds [-].

        Parameters
        ----------
        column : int
            Which column.

        Returns
        -------
        tuple of float
            Lower and upper bound [-], 90 % two-sided.
        """
        centre = float(self.coefficients[1 + column])
        reach = _NORMAL_95 * float(np.sqrt(self.covariance[1 + column, 1 + column]))
        return float(np.exp(centre - reach)), float(np.exp(centre + reach))


def regress(ages: Ages, columns: FloatArray) -> Regression | None:
    """Fit a Weibull regression, or return None where there is no usable answer.

    Parameters
    ----------
    ages : Ages
        Lives.
    columns : array of float
        Numbers per head, (n, k); k may be 0.

    Returns
    -------
    Regression or None
        The fitted regression; None where the fit has no peak.
    """
    if ages.failures < 2 or np.unique(ages.exit[ages.failed]).size < 2:
        return None
    import pandas as pd
    from lifelines import WeibullAFTFitter
    from lifelines.exceptions import ConvergenceError

    names = [f"x{at}" for at in range(columns.shape[1])]
    # ages relative to the longest keep the optimiser's steps of one size
    longest = float(ages.exit.max())
    table = pd.DataFrame(columns, columns=pd.Index(names))
    table["exit"], table["failed"] = ages.exit / longest, ages.failed
    late = bool((ages.entry > 0).any())
    if late:
        table["entry"] = ages.entry / longest
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            fit = WeibullAFTFitter().fit(
                table, "exit", "failed", entry_col="entry" if late else None
            )
        except (ConvergenceError, np.linalg.LinAlgError, ValueError):
            return None
    order = [
        ("lambda_", "Intercept"),
        *(("lambda_", name) for name in names),
        ("rho_", "Intercept"),
    ]
    values = fit.params_.loc[order].to_numpy(float)
    covariance = fit.variance_matrix_.loc[order, order].to_numpy(float)
    values[0] += np.log(longest)
    errors = np.diag(covariance)
    if not np.isfinite(covariance).all() or (errors <= 0).any() or errors.max() > _LARGEST_ERROR**2:
        return None
    return Regression(values, covariance)
