"""What a Weibull life of known shape and scale implies: pure formulas on arrays.

The cumulative hazard is ``H(t) = (t / scale) ** shape`` and the reliability ``R = exp(-H)``
(Meeker & Escobar, Statistical Methods for Reliability Data, 1998, section 4.8). Everything is
worked from ``H``, never from differences of ``R``, which underflow in the tail. This module
never looks at records.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import gamma, gammaincc, gammaln

FloatArray = NDArray[np.float64]

_TAIL = 30.0  # cumulative hazard beyond which residual life needs the asymptotic series


def cumulative_hazard(hours: ArrayLike, shape: ArrayLike, scale: ArrayLike) -> FloatArray:
    """Cumulative hazard ``H(t)`` [-] at ages ``hours`` [h]; arguments broadcast.

    Parameters
    ----------
    hours : float or array of float
        Ages [h].
    shape : float or array of float
        Weibull shape [-].
    scale : float or array of float
        Weibull scale [h].

    Returns
    -------
    array of float
        Cumulative hazards [-], of the shape that the arguments broadcast to.
    """
    age = np.asarray(hours, float) / np.asarray(scale, float)
    return np.asarray(age ** np.asarray(shape, float), float)


def reliability(hours: ArrayLike, shape: ArrayLike, scale: ArrayLike) -> FloatArray:
    """Share of heads still good at ages ``hours`` [h], in [0, 1]; arguments broadcast.

    Parameters
    ----------
    hours : float or array of float
        Ages [h].
    shape : float or array of float
        Weibull shape [-].
    scale : float or array of float
        Weibull scale [h].

    Returns
    -------
    array of float
        Shares [-], of the shape that the arguments broadcast to.
    """
    return np.asarray(np.exp(-cumulative_hazard(hours, shape, scale)), float)


def life(fraction_failed: ArrayLike, shape: ArrayLike, scale: ArrayLike) -> FloatArray:
    """Age [h] by which ``fraction_failed`` [-] of heads have failed (0.10 gives the B10 life).

    Parameters
    ----------
    fraction_failed : float or array of float
        Fractions [-], from 0 to below 1.
    shape : float or array of float
        Weibull shape [-].
    scale : float or array of float
        Weibull scale [h].

    Returns
    -------
    array of float
        Ages [h], of the shape that the arguments broadcast to.
    """
    hazard = -np.log1p(-np.asarray(fraction_failed, float))
    return np.asarray(np.asarray(scale, float) * hazard ** (1.0 / np.asarray(shape, float)), float)


def mean_life(shape: ArrayLike, scale: ArrayLike) -> FloatArray:
    """Mean life [h], ``scale * Gamma(1 + 1/shape)``.

    Parameters
    ----------
    shape : float or array of float
        Weibull shape [-].
    scale : float or array of float
        Weibull scale [h].

    Returns
    -------
    array of float
        Mean lives [h], of the shape that the arguments broadcast to.
    """
    return np.asarray(np.asarray(scale, float) * gamma(1.0 + 1.0 / np.asarray(shape, float)), float)


def conditional_reliability(
    age_hours: ArrayLike, more_hours: ArrayLike, shape: ArrayLike, scale: ArrayLike
) -> FloatArray:
    """Chance [-] that a head of age ``age_hours`` [h] runs ``more_hours`` [h] longer.

    Parameters
    ----------
    age_hours : float or array of float
        Ages reached [h].
    more_hours : float or array of float
        Further hours asked for [h].
    shape : float or array of float
        Weibull shape [-].
    scale : float or array of float
        Weibull scale [h].

    Returns
    -------
    array of float
        Chances [-], of the shape that the arguments broadcast to.
    """
    age = np.asarray(age_hours, float)
    before = cumulative_hazard(age, shape, scale)
    after = cumulative_hazard(age + np.asarray(more_hours, float), shape, scale)
    return np.asarray(np.exp(before - after), float)


def residual_life(age_hours: ArrayLike, shape: ArrayLike, scale: ArrayLike) -> FloatArray:
    """Mean further life [h] of a head that has reached ``age_hours`` [h].

    ``integral of R from age / R(age)``, an upper incomplete gamma function of the cumulative
    hazard; past a hazard of 30 its asymptotic series (DLMF 8.11.2, four terms), since R itself
    underflows there.

    Parameters
    ----------
    age_hours : float or array of float
        Ages reached [h].
    shape : float or array of float
        Weibull shape [-].
    scale : float or array of float
        Weibull scale [h].

    Returns
    -------
    array of float
        Mean further lives [h], of the shape that the arguments broadcast to.
    """
    age, beta, eta = np.broadcast_arrays(
        np.asarray(age_hours, float), np.asarray(shape, float), np.asarray(scale, float)
    )
    power = 1.0 / beta
    hazard = cumulative_hazard(age, beta, eta)
    near = np.minimum(hazard, _TAIL)
    inside = np.exp(near + gammaln(power)) * gammaincc(power, near)
    far = np.maximum(hazard, _TAIL)
    term, series = np.ones_like(far), np.ones_like(far)
    for k in range(1, 5):
        term = term * (power - k) / far
        series = series + term
    outside = far ** (power - 1.0) * series
    return np.asarray(eta * power * np.where(hazard <= _TAIL, inside, outside), float)
