"""Is a number put to the decisions room one that makes sense? One sentence when it does not.

From a name in the asker's words and a value; never repairs or guesses a value.
"""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from headlife.errors import DecisionError

Floats = npt.NDArray[np.float64]
_NEAREST: Final = 1e-12  # that a fraction may come to 0 or 1, where its logarithms end


def number(name: str, value: Any, unit: str) -> float:
    """Return `value` as a finite float, or say which number is not one.

    Parameters
    ----------
    name : str
        What the number is called in a sentence.
    value : object
        What was given.
    unit : str
        Its unit, for the sentence.

    Returns
    -------
    float
        The number, in that unit.

    Raises
    ------
    DecisionError
        The value is text, a truth value, not a number or infinite.
    """
    if isinstance(value, (str, bytes, bool)) or value is None:
        raise DecisionError(f"{name} must be a number {unit}; got {value!r}.")
    try:
        result = float(value)
    except (TypeError, ValueError) as fault:
        raise DecisionError(f"{name} must be a number {unit}; got {value!r}.") from fault
    if not math.isfinite(result):
        raise DecisionError(f"{name} must be a finite number {unit}; got {value!r}.")
    return result


def positive(name: str, value: Any, unit: str) -> float:
    """Return `value` as a float above zero.

    Parameters
    ----------
    name : str
        What the number is called in a sentence.
    value : object
        What was given.
    unit : str
        Its unit, for the sentence.

    Returns
    -------
    float
        The number, in that unit.

    Raises
    ------
    DecisionError
        The value is not a number above zero.
    """
    result = number(name, value, unit)
    if result <= 0:
        raise DecisionError(f"{name} must be above zero {unit}; got {value!r}.")
    return result


def not_negative(name: str, value: Any, unit: str) -> float:
    """Return `value` as a float of zero or more.

    Parameters
    ----------
    name : str
        What the number is called in a sentence.
    value : object
        What was given.
    unit : str
        Its unit, for the sentence.

    Returns
    -------
    float
        The number, in that unit.

    Raises
    ------
    DecisionError
        The value is not a number, or is below zero.
    """
    result = number(name, value, unit)
    if result < 0:
        raise DecisionError(f"{name} cannot be below zero {unit}; got {value!r}.")
    return result


def fraction(name: str, value: Any, *, above: float = 0.0) -> float:
    """Return `value` as a float strictly between `above` and 1.

    Parameters
    ----------
    name : str
        What the fraction is called in a sentence.
    value : object
        What was given.
    above : float, optional
        Lower end [-], itself not allowed.

    Returns
    -------
    float
        The fraction [-].

    Raises
    ------
    DecisionError
        The value is not such a fraction; a percentage is named as one.
    """
    result = number(name, value, "between 0 and 1")
    if not above < result < 1:
        hint = f"; for {result:g} % write {result / 100:g}" if 1 < result < 100 else ""
        raise DecisionError(
            f"{name} must be a fraction between {above:g} and 1, both excluded; "
            f"got {value!r}{hint}."
        )
    if min(result, 1.0 - result) < _NEAREST:
        raise DecisionError(
            f"{name} of {value!r} is too near to 0 or 1 to be told from it; write a plainer one."
        )
    return result


def not_negative_array(name: str, values: Any, unit: str) -> Floats:
    """Return `values` as a one-dimensional array of finite numbers of zero or more.

    Parameters
    ----------
    name : str
        What the numbers are called in a sentence.
    values : object
        What was given.
    unit : str
        Their unit, for the sentence.

    Returns
    -------
    array of float
        The numbers, in that unit, (n,).

    Raises
    ------
    DecisionError
        A value is not a number, is missing, infinite or below zero; its place is named.
    """
    try:
        array = np.atleast_1d(np.asarray(values, dtype=np.float64))
    except (TypeError, ValueError) as fault:
        raise DecisionError(f"{name} must be numbers {unit}; got {values!r}.") from fault
    if array.ndim != 1:
        raise DecisionError(f"{name} must be one row of numbers {unit}, one for each position.")
    bad = np.flatnonzero(~np.isfinite(array) | (array < 0))
    if bad.size:
        raise DecisionError(
            f"{name} must be numbers of zero or more {unit}; "
            f"number {bad[0] + 1} of {array.size} is {array[bad[0]]:g}."
        )
    return array
