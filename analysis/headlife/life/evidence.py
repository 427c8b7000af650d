"""What do the lives of one stratum and one failure mode say, in 34 numbers that add?

For Weibull lives with cumulative hazard ``H(t) = hazard * (t / reference) ** shape``, right
censored and delayed-entry lives enter the likelihood only through the number of failures, the
sum of their log ages and the exposure curve ``S(shape) = sum of (exit/reference) ** shape -
(entry/reference) ** shape``. The logarithm of that curve is so smooth in the logarithm of the
shape that its values at 32 Chebyshev points carry it to about ten digits. Two failures' worth of
numbers and the 32 values make a record of any size 34 numbers, and these add: quarter to quarter,
site to site, partition to partition.

A failure known only to lie between two readings adds its exposure up to the last good reading to
the curve; the rest of its likelihood does not reduce, so it travels along as one row.

This module reads arrays and never knows where they came from.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
from numpy.polynomial import chebyshev
from numpy.typing import ArrayLike, NDArray

from headlife.errors import EvidenceError
from headlife.life.exposure import log_exposure

FloatArray = NDArray[np.float64]

FORMAT: Final = "headlife evidence 1"
SHAPE_RANGE: Final = (0.2, 20.0)
NODES: Final = 32

_NO_ROWS: Final[FloatArray] = np.empty((0, 3))
_NO_ROWS.flags.writeable = False
_LOW, _HIGH = np.log(SHAPE_RANGE)
_ANGLES = (np.arange(NODES) + 0.5) * np.pi / NODES
LOG_SHAPE_NODES: Final[FloatArray] = np.asarray(
    0.5 * (_HIGH + _LOW) - 0.5 * (_HIGH - _LOW) * np.cos(_ANGLES), float
)
SHAPE_NODES: Final[FloatArray] = np.asarray(np.exp(LOG_SHAPE_NODES), float)
# Values at the nodes -> Chebyshev coefficients (discrete cosine transform as a matrix).
_TO_COEFFICIENTS: Final[FloatArray] = np.asarray(
    np.linalg.inv(chebyshev.chebvander(-np.cos(_ANGLES), NODES - 1)), float
)


def chebyshev_basis(log_shape: ArrayLike) -> FloatArray:
    """Weights (len(log_shape), 32) that carry node values to the curve at ``log_shape`` [-].

    Parameters
    ----------
    log_shape : float or array of float
        Log shapes [-], (k,).

    Returns
    -------
    array of float
        Weights [-], (k, nodes).
    """
    place = (2.0 * np.asarray(log_shape, float) - (_HIGH + _LOW)) / (_HIGH - _LOW)
    return np.asarray(chebyshev.chebvander(place, NODES - 1) @ _TO_COEFFICIENTS, float)


CurveFunction = Callable[[FloatArray], FloatArray]


def curve_functions(log_curve: FloatArray) -> tuple[CurveFunction, CurveFunction, CurveFunction]:
    """Value, slope and curvature of log exposure curves as functions of the log shape [-].

    ``log_curve`` is one curve (32,) or many (n, 32); the functions take one log shape per curve.

    Parameters
    ----------
    log_curve : array of float
        Log exposure at the nodes, one curve (nodes,) or many (n, nodes).

    Returns
    -------
    tuple of callables
        Value, slope and curvature.
    """
    stretch = 2.0 / (_HIGH - _LOW)
    series = _TO_COEFFICIENTS @ log_curve.T
    first = np.asarray(chebyshev.chebder(series), float)
    second = np.asarray(chebyshev.chebder(first), float)

    def of(coefficients: FloatArray, factor: float) -> CurveFunction:
        def function(log_shape: FloatArray) -> FloatArray:
            place = (log_shape - 0.5 * (_HIGH + _LOW)) * stretch
            return np.asarray(chebyshev.chebval(place, coefficients, tensor=False) * factor, float)

        return function

    return of(series, 1.0), of(first, stretch), of(second, stretch**2)


def curve_derivatives(log_curve: FloatArray, log_shape: float) -> tuple[float, float, float]:
    """Value, slope and curvature of one log exposure curve at one ``log_shape`` [-].

    Parameters
    ----------
    log_curve : array of float
        Log exposure at the nodes, (nodes,).
    log_shape : float
        Log shape [-].

    Returns
    -------
    tuple of float
        Value, slope and curvature there.
    """
    value, slope, bend = (f(np.asarray(log_shape)) for f in curve_functions(log_curve))
    return float(value), float(slope), float(bend)


@dataclass(frozen=True, eq=False)
class Evidence:
    """The likelihood of one stratum and mode; immutable, and ``a + b`` pools two of them.

    Attributes
    ----------
    reference_hours
        Age [h] at which the cumulative hazard is stated, usually the rated life.
    failures
        Number of failures with a known age [heads] (a sum of weights).
    log_sum
        Sum over those failures of ``ln(age / reference_hours)`` [-].
    log_curve
        ``ln S`` at the 32 shapes of `SHAPE_NODES` [-]; minus infinity without exposure.
    heads
        Number of lives [heads]; for people and for export limits, not part of the likelihood.
    intervals
        Rows (last good hours [h], found failed hours [h], weight [heads]), one per failure
        whose age is known only to lie between two readings.
    """

    reference_hours: float
    failures: float
    log_sum: float
    log_curve: FloatArray
    heads: float
    intervals: FloatArray = field(default_factory=lambda: np.empty((0, 3)))

    @classmethod
    def from_lives(
        cls,
        entry_hours: ArrayLike,
        exit_hours: ArrayLike,
        failed: ArrayLike,
        *,
        reference_hours: float,
        weights: ArrayLike | None = None,
        last_good_hours: ArrayLike | None = None,
    ) -> Evidence:
        """Reduce lives to evidence.

        Parameters
        ----------
        entry_hours, exit_hours : float or array of float
            Ages [h] at which each life came under watch and left it, shape (n,); a scalar
            entry serves all.
        failed : float or array of float
            True where the mode ended the life, shape (n,).
        reference_hours : float
            Age [h] to state the hazard at, usually the rating.
        weights : float or array of float, optional
            Number of equal lives each row stands for [heads], shape (n,); default 1.
        last_good_hours : float or array of float, optional
            For failures, the last age [h] at which the head was known good; NaN (or the exit)
            where the failure age is exact.

        Returns
        -------
        Evidence
            The evidence; it adds to other evidence.

        Raises
        ------
        EvidenceError
            Entry at or past exit, ages negative, zero or not finite, weights negative, shapes
            that do not match, reference not positive; the first offending life is named.
        """
        rows = _checked(entry_hours, exit_hours, failed, weights, last_good_hours)
        entry, exit_, fails, weight, last_good = rows
        reference = _positive(reference_hours, "reference hours")
        between = np.zeros(len(exit_), bool)
        intervals = np.empty((0, 3))
        if last_good is not None:
            between = fails & (last_good < exit_)
            intervals = np.column_stack([last_good, exit_, weight])[between]
            # Up to its last good reading such a head is one more survivor.
            exit_ = np.where(between, last_good, exit_)
        exact = fails & ~between
        failure_logs = np.log(exit_[exact] / reference)
        return cls(
            reference_hours=reference,
            failures=float(weight[exact].sum()),
            log_sum=float(weight[exact] @ failure_logs),
            log_curve=log_exposure(entry, exit_, weight, reference, SHAPE_NODES),
            heads=float(weight.sum()),
            intervals=intervals,
        )

    def rereference(self, reference_hours: float) -> Evidence:
        """Give the same evidence stated at another reference age [h]; the likelihood is equal.

        Parameters
        ----------
        reference_hours : float
            Reference age [h], above 0.

        Returns
        -------
        Evidence
            The evidence at that age.
        """
        if reference_hours == self.reference_hours:
            return self
        target = _positive(reference_hours, "reference hours")
        shift = float(np.log(self.reference_hours / target))
        return Evidence(
            reference_hours=target,
            failures=self.failures,
            log_sum=self.log_sum + self.failures * shift,
            log_curve=self.log_curve + SHAPE_NODES * shift,
            heads=self.heads,
            intervals=self.intervals,
        )

    def __add__(self, other: Evidence) -> Evidence:
        if not isinstance(other, Evidence):
            return NotImplemented
        other = other.rereference(self.reference_hours)
        return Evidence(
            reference_hours=self.reference_hours,
            failures=self.failures + other.failures,
            log_sum=self.log_sum + other.log_sum,
            log_curve=np.logaddexp(self.log_curve, other.log_curve),
            heads=self.heads + other.heads,
            intervals=np.vstack([self.intervals, other.intervals]),
        )

    @property
    def all_failures(self) -> float:
        """Failures with a known age and failures known only to an interval [heads]."""
        return self.failures + float(self.intervals[:, 2].sum())

    def to_data(self) -> dict[str, Any]:
        """Give plain numbers, lists and texts, ready for JSON; holds no single censored life."""
        return {
            "format": FORMAT,
            "unit": "h",
            "reference_hours": self.reference_hours,
            "heads": self.heads,
            "failures": self.failures,
            "log_sum": self.log_sum,
            "log_curve": [value if np.isfinite(value) else None for value in self.log_curve],
            "intervals": self.intervals.tolist(),
        }

    @classmethod
    def from_data(cls, data: Any) -> Evidence:
        """Read what `to_data` gave; EvidenceError names what does not fit.

        Parameters
        ----------
        data : object
            What `to_data` gave, or JSON read from elsewhere.

        Returns
        -------
        Evidence
            The evidence.

        Raises
        ------
        EvidenceError
            Something is missing or does not fit.
        """
        if not isinstance(data, dict) or data.get("format") != FORMAT or data.get("unit") != "h":
            raise EvidenceError(
                f'This is not evidence this version reads: it needs format "{FORMAT}" and unit '
                '"h". Write it again with the same version of headlife.'
            )
        try:
            # Null, where there is no exposure at all.
            written = [-math.inf if v is None else v for v in data["log_curve"]]
            # A sum is finite only where every term is; texts do not add.
            finite = math.isfinite(sum(written))
            rows = data["intervals"]
            evidence = cls(
                reference_hours=_positive(data["reference_hours"], "reference hours"),
                failures=float(data["failures"]),
                log_sum=float(data["log_sum"]),
                log_curve=np.array(written, float),
                heads=float(data["heads"]),
                intervals=np.array(rows, float).reshape(-1, 3) if rows else _NO_ROWS,
            )
        except (KeyError, TypeError, ValueError, OverflowError) as error:
            raise EvidenceError(
                f"This evidence is damaged: {error}. Ask for the file again."
            ) from error
        _check_consistent(evidence, finite)
        return evidence

    def to_json(self) -> str:
        """Write a few lines of JSON, exact to the last bit; holds no single censored life."""
        return json.dumps(self.to_data(), allow_nan=False, separators=(", ", ": ")) + "\n"

    @classmethod
    def from_json(cls, text: str) -> Evidence:
        """Read what `to_json` wrote; EvidenceError names what does not fit.

        Parameters
        ----------
        text : str
            What `to_json` wrote.

        Returns
        -------
        Evidence
            The evidence.

        Raises
        ------
        EvidenceError
            It is no JSON, or something is missing or does not fit.
        """
        return cls.from_data(loads(text))


def loads(text: str | bytes) -> Any:
    """Read JSON; NaN and infinities, which JSON does not have, are refused.

    Parameters
    ----------
    text : str or bytes
        JSON.

    Returns
    -------
    object
        What it holds.

    Raises
    ------
    EvidenceError
        It is no JSON.
    """
    import orjson

    try:
        return orjson.loads(text)
    except orjson.JSONDecodeError as error:
        raise EvidenceError(
            f"This is not evidence: the text is not JSON (line {error.lineno}). "
            "Ask for the file again."
        ) from error


def pool(parts: list[Evidence]) -> Evidence:
    """Add many evidences at once (at the first one's reference); at least one is needed.

    The sums are exact before they are rounded (Shewchuk 1997, as in `math.fsum`), so parts with
    one reference give the same digits in any order.

    Parameters
    ----------
    parts : list of Evidence
        What to add.

    Returns
    -------
    Evidence
        Their sum.
    """
    if not parts:
        raise EvidenceError("There is no evidence to pool: give at least one.")
    first = parts[0].reference_hours
    moved = [part.rereference(first) for part in parts]
    return Evidence(
        reference_hours=first,
        failures=math.fsum(part.failures for part in moved),
        log_sum=math.fsum(part.log_sum for part in moved),
        log_curve=_log_of_sum(np.array([part.log_curve for part in moved])),
        heads=math.fsum(part.heads for part in moved),
        intervals=np.vstack([_NO_ROWS, *(p.intervals for p in moved if len(p.intervals))]),
    )


def _log_of_sum(curves: FloatArray) -> FloatArray:
    """``ln(sum of exp)`` of each column of ``curves`` (parts, shapes)."""
    top = curves.max(axis=0)
    top[np.isneginf(top)] = 0.0
    total = np.array([math.fsum(column) for column in np.exp(curves - top).T.tolist()])
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(total) + top, float)


def _positive(value: float, name: str) -> float:
    number = float(value)
    if not (math.isfinite(number) and number > 0):
        raise EvidenceError(f"The {name} must be a positive number of hours; got {value}.")
    return number


def _check_consistent(evidence: Evidence, finite_curve: bool) -> None:
    curve = evidence.log_curve
    sound = (
        math.isfinite(evidence.failures + evidence.log_sum + evidence.heads)
        and 0 <= evidence.failures <= evidence.heads * (1 + 1e-9)
        and curve.shape == (NODES,)
        # Minus infinity throughout: nothing run at all.
        and (finite_curve or bool(np.isneginf(curve).all()))
        and (not len(evidence.intervals) or math.isfinite(evidence.intervals.sum()))
    )
    if not sound:
        raise EvidenceError(
            "This evidence is damaged: its numbers do not fit together (34 finite numbers, "
            "failures between 0 and the number of heads). Ask for the file again."
        )


_Rows = tuple[FloatArray, FloatArray, NDArray[np.bool_], FloatArray, FloatArray | None]


def _checked(
    entry_hours: ArrayLike,
    exit_hours: ArrayLike,
    failed: ArrayLike,
    weights: ArrayLike | None,
    last_good_hours: ArrayLike | None,
) -> _Rows:
    """One gate for the arrays: same length, finite, in order; nothing after it re-checks."""
    exit_ = np.atleast_1d(np.asarray(exit_hours, float))
    size = exit_.shape
    try:
        entry = np.broadcast_to(np.asarray(entry_hours, float), size)
        fails = np.broadcast_to(np.asarray(failed, bool), size)
        weight = np.broadcast_to(np.asarray(1.0 if weights is None else weights, float), size)
        good = None
        if last_good_hours is not None:
            good = np.broadcast_to(np.asarray(last_good_hours, float), size)
    except ValueError as error:
        raise EvidenceError(
            "Entry, exit, failed, weights and last good hours must have one value per life; "
            f"there are {exit_.size} exits. ({error})"
        ) from error
    if exit_.ndim != 1:
        raise EvidenceError(f"Lives come as one row of values each; got shape {exit_.shape}.")
    _refuse(~np.isfinite(exit_) | (exit_ <= 0), exit_, "exit hours", "a positive number")
    _refuse(~np.isfinite(entry) | (entry < 0), entry, "entry hours", "zero or more")
    _refuse(entry >= exit_, entry, "entry hours", "below its exit hours")
    _refuse(~np.isfinite(weight) | (weight < 0), weight, "weight", "zero or more")
    if good is not None:
        good = np.where(np.isnan(good) | ~fails, exit_, good)
        _refuse((good < 0) | (good > exit_), good, "last good hours", "between 0 and its exit")
        # A head first seen already failed was good, at the latest, when it came under watch.
        good = np.maximum(good, entry)
    return entry, exit_, fails, weight, good


def _refuse(bad: NDArray[np.bool_], values: FloatArray, name: str, should: str) -> None:
    if bad.any():
        first = int(np.flatnonzero(bad)[0])
        raise EvidenceError(
            f"Life number {first + 1}: {name} must be {should}; got {values[first]:g}. "
            "Correct that life or leave it out."
        )
