"""Could any lives at all have given this evidence? What none could give is refused by name.

An evidence file comes from somewhere else; a checksum shows that it arrived as it was written, not
that anybody's heads are behind it. Lives leave marks on their sums that can be checked. With
``N(x)`` the heads at risk at log age ``x``, between 0 and the number of heads ``n``, the curve is

    S(shape) = shape * integral of exp(shape x) N(x) dx        (from t^b - e^b, head by head)

so that ``G = S / shape`` is a Laplace transform of something that is nowhere negative. The matrix
``G(a_i + a_j)`` then has no negative eigenvalue whatever the ``a`` (Widder, The Laplace Transform,
1941, chapter VI, section 21); two of them give that ``ln G`` is convex. Its slope is at most the
log age of the oldest head. ``(S / n) ** (1 / shape)``, a power mean, never falls (Hardy, Littlewood
& Polya, Inequalities, 1934, theorem 16; least where all heads are at risk from age 0). Every
failure was watched for a while before, so ``r exp(shape L / r)``, at most the sum of the failures'
powers (arithmetic and geometric mean), is at most ``S`` over the smallest share of a power that so
short a watch leaves. A straight ``ln S = a + c shape`` is that of exp(a) heads at risk from new to
one age and of nobody else, since a Laplace transform belongs to one function only: exp(a) is then
the number of heads (taking every head as watched for a thousandth of its age at least, so that it
shows). What passes may still be invented: these are necessary conditions, no
signature.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray

from headlife.errors import EvidenceError
from headlife.life.exposure_curve import SHAPE_RANGE, chebyshev_basis, shape_nodes

FloatArray = NDArray[np.float64]

# No head has run longer than this, and none is written down as watched for less, [h]: 114 years
# without a pause, and 36 seconds (own choice, far outside what any shop has).
OLDEST_HOURS: Final = 1e6
SHORTEST_WATCH: Final = 0.01
YOUNGEST_HOURS: Final = 1e-3
MOST_INTERVALS: Final = 10_000
_ROUNDING: Final = 4e-9  # of a value of a curve, which is good to about ten digits
_STRAIGHT: Final = 1e-7  # a curve within this of a straight line is one
_STRAIGHT_START: Final = 1e-5  # and begins within this of where it says
# Shapes whose sums, within the range, are looked at together.
_HALVES: Final = 0.5 * np.geomspace(*SHAPE_RANGE, 7)
_EIGENVALUE_ERROR: Final = 1e-7  # of matrices scaled to a diagonal of 1; rounding gives 4e-9


class Sums(Protocol):
    """The numbers of an `Evidence`."""

    @property
    def reference_hours(self) -> float:
        """Age at which the hazard is stated [h]."""

    @property
    def failures(self) -> float:
        """Failures with a known age [heads]."""

    @property
    def log_sum(self) -> float:
        """Sum of the logarithms of their ages over the reference [-]."""

    @property
    def log_curve(self) -> FloatArray:
        """Log exposure at the shapes of its nodes [-], (nodes,)."""

    @property
    def heads(self) -> float:
        """Lives [heads]."""

    @property
    def intervals(self) -> FloatArray:
        """Rows of failures between readings, (rows, 3)."""


def refusals(parts: Sequence[Sums]) -> list[str | None]:
    """Say of each evidence why no lives could have given it.

    Parameters
    ----------
    parts : sequence of Evidence
        The evidences, their numbers finite and of the right kind.

    Returns
    -------
    list of str or None
        What does not fit, for `impossible`; None where lives may be behind it.
    """
    found: list[str | None] = [_by_itself(part) for part in parts]
    for nodes in {part.log_curve.size for part in parts}:
        places = [
            place
            for place, part in enumerate(parts)
            if part.log_curve.size == nodes
            and found[place] is None
            and _has_run(part)  # else there is no curve to look at
        ]
        if places:
            for place, why in zip(places, _by_curve([parts[p] for p in places]), strict=True):
                found[place] = why
    return found


def refuse_impossible(part: Sums) -> None:
    """Refuse evidence that no lives could have given.

    Parameters
    ----------
    part : Evidence
        The evidence.

    Raises
    ------
    EvidenceError
        In one sentence.
    """
    why = refusals([part])[0]
    if why is not None:
        raise EvidenceError(impossible(why))


def impossible(why: str) -> str:
    """Word a refusal.

    Parameters
    ----------
    why : str
        From `refusals`.

    Returns
    -------
    str
        The sentence.
    """
    return f"No heads could give this evidence: {why}. Ask the site how it was made."


def _has_run(part: Sums) -> bool:
    return bool(np.isfinite(part.log_curve[0]))


def _by_itself(part: Sums) -> str | None:
    """Look at failures and interval rows."""
    rows = part.intervals
    if part.failures == 0 and part.log_sum != 0:
        return "it has a sum of logarithms of failure ages and no failure"
    if part.heads <= 0 and _has_run(part):
        return "it has running hours of no head"
    if part.failures > 0 and not _has_run(part):
        return "it has failures and no running hours"
    if part.failures + rows[:, 2].sum() > part.heads * (1 + _ROUNDING):
        return "it has more failures than heads"
    if len(rows) > MOST_INTERVALS:
        return f"it has {len(rows):,} rows of failures between readings; {MOST_INTERVALS:,} at most"
    if len(rows):
        good, found, weight = rows.T
        if (good < 0).any() or (found <= good).any() or (found > OLDEST_HOURS).any():
            return "a failure lies between readings that are reversed, negative or absurd"
        if (weight <= 0).any():
            return "a row of failures between readings counts no head"
    return None


def _by_curve(parts: Sequence[Sums]) -> list[str | None]:
    """Look at the curves of evidences with equally many nodes."""
    curve = np.array([part.log_curve for part in parts])
    reference, heads, failures, log_sum = (
        np.array([getattr(part, name) for part in parts])
        for name in ("reference_hours", "heads", "failures", "log_sum")
    )
    shape = shape_nodes(curve.shape[1])
    oldest = np.log(OLDEST_HOURS / reference)[:, None]
    step = np.diff(shape)
    # Errors of the curve's values, by themselves and seen through a quotient of differences.
    error = _ROUNDING * (1.0 + np.abs(curve).max(axis=1, keepdims=True))
    slack = 2.0 * error / step
    slope = np.diff(curve - np.log(shape), axis=1) / step
    mean = (curve - np.log(heads)[:, None]) / shape
    watched = -np.log(-np.expm1(shape * np.log1p(-SHORTEST_WATCH / OLDEST_HOURS)))
    with np.errstate(divide="ignore", invalid="ignore"):
        # No numbers without failures, and then below nothing.
        per_failure = (log_sum / failures)[:, None]
        room = curve - np.log(failures)[:, None] + watched - shape * per_failure
    # What may not be negative at any shape, and what is said where it is.
    checks = (
        (
            "its exposure is larger than so many heads could run",
            np.log(heads)[:, None] + shape * oldest + error - curve,
        ),
        ("its exposure is larger than so many heads could run", oldest + slack - slope),
        (
            "its exposure falls, or stays, where that of heads grows with the shape",
            np.diff(mean, axis=1) + slack,
        ),
        (
            "its exposure curve bends the wrong way",
            np.diff(slope, axis=1) + slack[:, 1:] + slack[:, :-1],
        ),
        (
            "its exposure curve bends the wrong way",
            _least_eigenvalue(curve)[:, None] + _EIGENVALUE_ERROR,
        ),
        (
            "its exposure is that of another number of heads than it names",
            _STRAIGHT_START - _off_the_heads(curve, shape, heads)[:, None],
        ),
        ("its failures are older than its exposure shows any head to be", room + error),
        (
            "its failures are younger than any failure can be",
            per_failure - np.log(YOUNGEST_HOURS / reference)[:, None],
        ),
    )
    said: list[str | None] = [None] * len(parts)
    for words, room_left in checks:
        for place in np.flatnonzero((room_left < 0).any(axis=1)):
            said[place] = said[place] or words
    return said


def _least_eigenvalue(curve: FloatArray) -> FloatArray:
    """Least eigenvalue of ``G(a_i + a_j)``, scaled to a diagonal of 1, one per curve."""
    sums = _HALVES[:, None] + _HALVES[None, :]
    log_g = curve @ chebyshev_basis(np.log(sums.ravel()), curve.shape[1]).T - np.log(sums.ravel())
    log_g = log_g.reshape(-1, _HALVES.size, _HALVES.size)
    diagonal = 0.5 * np.diagonal(log_g, axis1=1, axis2=2)
    scaled = np.exp(np.minimum(log_g - diagonal[:, :, None] - diagonal[:, None, :], 300.0))
    return np.asarray(np.linalg.eigvalsh(scaled)[:, 0])


def _off_the_heads(curve: FloatArray, shape: FloatArray, heads: FloatArray) -> FloatArray:
    """Between where a straight curve begins and the log of the heads named; 0 if not straight."""
    slope = (curve[:, -1] - curve[:, 0]) / (shape[-1] - shape[0])
    start = curve[:, 0] - slope * shape[0]
    line = start[:, None] + slope[:, None] * shape
    straight = np.abs(curve - line).max(axis=1) < _STRAIGHT
    return np.where(straight, np.abs(start - np.log(heads)), 0.0)
