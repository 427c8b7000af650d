"""What do the lives of one stratum and one failure mode say, in a few dozen numbers that add?

For Weibull lives with cumulative hazard ``H(t) = hazard * (t / reference) ** shape``, right
censored and delayed-entry lives enter the likelihood only through the number of failures, the
sum of their log ages and the exposure curve ``S(shape) = sum of (exit/reference) ** shape -
(entry/reference) ** shape``. The logarithm of that curve is so smooth in the logarithm of the
shape that its values at 32 Chebyshev points, or a few more where the record needs them, carry it
to about ten digits; see `headlife.life.exposure_curve`. So a record of any size becomes 34 numbers
or a few more, and these add: quarter to quarter, site to site, partition to partition.

A failure known only to lie between two readings adds its exposure up to the last good reading to
the curve; the rest of its likelihood does not reduce, so it travels along as one row.

This module reads arrays and never knows where they came from.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from headlife.display import shows_itself
from headlife.errors import EvidenceError
from headlife.life.checked_lives import CheckedLives, checked
from headlife.life.exposure import log_exposure
from headlife.life.exposure_curve import (
    FEWEST_NODES,
    NODE_COUNTS,
    at_common_nodes,
    at_nodes,
    resolved_curve,
    shape_nodes,
)
from headlife.life.possible import refuse_impossible

FloatArray = NDArray[np.float64]

FORMAT: Final = "headlife evidence 1"
# Of a curve that needs more values than the first format has; else the two are the same.
FORMAT_OF_MORE: Final = "headlife evidence 2"

_NO_ROWS: Final[FloatArray] = np.empty((0, 3))
_NO_ROWS.flags.writeable = False


@shows_itself
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
        ``ln S`` at the shapes of `exposure_curve.shape_nodes` [-], 32 or as many as the record
        needs; minus infinity without exposure.
    heads
        Number of lives [heads]; for people and for export limits, not part of the likelihood.
    intervals
        Rows (last good hours [h], found failed hours [h], weight [heads]), one per failure
        whose age is known only to lie between two readings.

    Examples
    --------
    >>> import headlife as hl
    >>> hours = [210, 340, 480, 500, 500, 500]
    >>> failed = [True, True, True, False, False, False]
    >>> evidence = hl.Evidence.from_lives(0, hours, failed, reference_hours=500)
    >>> evidence.failures
    3.0
    >>> both = evidence + evidence
    >>> both.failures, both.heads
    (6.0, 12.0)
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
        reference = _positive(reference_hours, "reference hours")
        lives = checked(entry_hours, exit_hours, failed, weights, last_good_hours)
        return _reduced(lives, reference)

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
            log_curve=self.log_curve + shape_nodes(self.log_curve.size) * shift,
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
            log_curve=_log_of_sum([self.log_curve, other.log_curve]),
            heads=self.heads + other.heads,
            intervals=np.vstack([self.intervals, other.intervals]),
        )

    @property
    def all_failures(self) -> float:
        """Failures with a known age and failures known only to an interval [heads]."""
        between = self.intervals
        return self.failures + float(between[:, 2].sum()) if len(between) else self.failures

    def to_data(self) -> dict[str, Any]:
        """Give plain numbers, lists and texts, ready for JSON; holds no single censored life."""
        return {
            "format": FORMAT if self.log_curve.size == FEWEST_NODES else FORMAT_OF_MORE,
            "unit": "h",
            "reference_hours": self.reference_hours,
            "heads": self.heads,
            "failures": self.failures,
            "log_sum": self.log_sum,
            "log_curve": [value if np.isfinite(value) else None for value in self.log_curve],
            "intervals": self.intervals.tolist(),
        }

    @classmethod
    def from_data(cls, data: Any, *, possible: bool = True) -> Evidence:
        """Read what `to_data` gave; EvidenceError names what does not fit.

        Parameters
        ----------
        data : object
            What `to_data` gave, or JSON read from elsewhere.
        possible : bool
            Whether to refuse numbers that no lives could give (`headlife.life.possible`); left out
            only by who looks at many at once.

        Returns
        -------
        Evidence
            The evidence.

        Raises
        ------
        EvidenceError
            Something is missing or does not fit.
        """
        mine = isinstance(data, dict) and data.get("format") in (FORMAT, FORMAT_OF_MORE)
        if not mine or data.get("unit") != "h":
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
        if possible:
            refuse_impossible(evidence)
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
        log_curve=_log_of_sum([part.log_curve for part in moved]),
        heads=math.fsum(part.heads for part in moved),
        intervals=np.vstack([_NO_ROWS, *(p.intervals for p in moved if len(p.intervals))]),
    )


def _reduced(lives: CheckedLives, reference: float) -> Evidence:
    exit_, exact, weight = lives.exit, lives.failed, lives.weight
    intervals = _NO_ROWS
    if lives.last_good is not None:
        between = lives.failed & (lives.last_good < exit_)
        heads = np.ones(exit_.size) if weight is None else weight
        intervals = np.column_stack([lives.last_good, exit_, heads])[between]
        # Up to its last good reading such a head is one more survivor.
        exit_ = np.where(between, lives.last_good, exit_)
        exact = lives.failed & ~between
    logs = np.log(exit_[exact] / reference)

    def values(shapes: FloatArray) -> FloatArray:
        return log_exposure(lives.entry, exit_, weight, reference, shapes)

    return Evidence(
        reference_hours=reference,
        failures=float(logs.size if weight is None else weight[exact].sum()),
        log_sum=float(np.add.reduce(logs) if weight is None else weight[exact] @ logs),
        log_curve=resolved_curve(values),
        heads=float(exit_.size if weight is None else weight.sum()),
        intervals=intervals,
    )


def _log_of_sum(log_curves: Sequence[FloatArray]) -> FloatArray:
    """``ln(sum of exp)`` of curves, at as many nodes as the sum needs."""
    curves = at_common_nodes(log_curves)

    def values(shapes: FloatArray) -> FloatArray:
        each = at_nodes(curves, shapes.size)
        if len(each) == 2:
            return np.asarray(np.logaddexp(each[0], each[1]), float)
        top = each.max(axis=0)
        top[np.isneginf(top)] = 0.0
        total = np.array([math.fsum(column) for column in np.exp(each - top).T.tolist()])
        with np.errstate(divide="ignore"):
            return np.asarray(np.log(total) + top, float)

    return resolved_curve(values)


def _positive(value: float, name: str) -> float:
    number = float(value)
    if not (math.isfinite(number) and number > 0):
        raise EvidenceError(f"The {name} must be a positive number of hours; got {value}.")
    return number


def _check_consistent(evidence: Evidence, finite_curve: bool) -> None:
    curve = evidence.log_curve
    sound = (
        all(map(math.isfinite, (evidence.failures, evidence.log_sum, evidence.heads)))
        and 0 <= evidence.failures <= evidence.heads * (1 + 1e-9)
        and curve.ndim == 1
        and curve.size in NODE_COUNTS
        # Minus infinity throughout: nothing run at all.
        and (finite_curve or bool(np.isneginf(curve).all()))
        and math.isfinite(evidence.intervals.sum())
    )
    if not sound:
        raise EvidenceError(
            "This evidence is damaged: its numbers do not fit together (34 finite numbers, or a "
            "longer curve of 64, 128, 256 or 512, and failures between 0 and the number of heads). "
            "Ask for the file again."
        )
