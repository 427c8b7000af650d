"""Is what is asked of a life a fraction, a confidence? Checked in one place, for one life or many.

Never answers.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from headlife.errors import EvidenceError

FloatArray = NDArray[np.float64]


def tails(confidence: float) -> list[float]:
    """Probabilities below the lower and the upper of two bounds.

    Parameters
    ----------
    confidence : float
        Two-sided [-]: 0.90 gives two one-sided 95 % bounds.

    Returns
    -------
    list of float
        Probabilities [-].

    Raises
    ------
    EvidenceError
        No fraction between 0 and 1.
    """
    if not 0.0 < confidence < 1.0:
        raise EvidenceError(
            f"Confidence is a fraction between 0 and 1, such as 0.90; got {confidence:g}."
        )
    return [0.5 - 0.5 * confidence, 0.5 + 0.5 * confidence]


def fraction(value: ArrayLike, name: str) -> FloatArray:
    """Check fractions that lie strictly between 0 and 1.

    Parameters
    ----------
    value : float or array of float
        Fractions [-].
    name : str
        What they are, for the message.

    Returns
    -------
    array of float
        As they are.

    Raises
    ------
    EvidenceError
        One lies outside.
    """
    array = np.asarray(value, float)
    if not ((array > 0) & (array < 1)).all():
        raise EvidenceError(f"The {name} must lie between 0 and 1, such as 0.10; got {value!r}.")
    return array


def like(values: FloatArray, asked: ArrayLike) -> Any:
    """Give a number where a number was asked about, else an array.

    Parameters
    ----------
    values : array of float
        Answers.
    asked : float or array of float
        What they are answers to.

    Returns
    -------
    float or array of float
        The answers.
    """
    return float(np.asarray(values).reshape(())) if np.ndim(asked) == 0 else np.asarray(values)
