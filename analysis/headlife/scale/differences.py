"""How different are the sites? A test before pooling, and the size of the difference.

From the evidence of one stratum and mode at every site, compared on two questions. Do heads wear
out in the same way (one shape)? At that shape, are the same heads at the same risk (one hazard)?
Sites of any size take part in the second, those without a failure included. Never pools.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.optimize import minimize_scalar
from scipy.special import chdtrc, gammaincc, gammaln, xlogy

from headlife.life.evidence import Evidence
from headlife.life.exposure_curve import at_common_nodes, grid_basis, log_shape_grid
from headlife.life.prior import ShapePrior
from headlife.numbers import Floats

# A difference is called one when chance alone would show it less often than this [-].
LEVEL: Final = 0.05
# Failures a site needs before its shape is compared (own choice: fewer say next to nothing).
FAILURES_FOR_SHAPE: Final = 5
_REPETITIONS: Final = 1_000  # random allotments of the failures behind a p-value
_LEAST_EXPOSURE: Final = 1e-200  # of the largest
_MANY_SITES: Final = 500  # from which moments serve as well as repetitions
_FEW: Final = 30.0  # failures expected at a site, below which its moments are summed exactly
# The likelihood ratio of a shape with r failures among n heads is on average 1 + c (r/n)^2 / r
# times its limiting value; c found by simulation, complete records of 5 to 20 heads.
_SMALL_RECORD: Final = 2.3
_GRID: Final = log_shape_grid(257)
_SHAPES: Final = np.exp(_GRID)
_NORMAL_95: Final = 1.6448536269514722  # 95 % point of the standard normal
_LEAST_SPREAD: Final = 1.000_001  # a prior of exactly 1 would fix the shape


@dataclass(frozen=True)
class Difference:
    """How different sites are in one stratum and mode."""

    sites: int
    """Sites compared [-]."""
    shape: float
    """Shape that fits all sites best as one [-]."""
    shape_probability: float
    """Chance of shapes at least as different if there were one shape only; NaN when fewer than
    two sites have enough failures [-]."""
    risk_probability: float
    """Chance of failures at least as unevenly spread if all heads ran the same risk [-]."""
    risk_spread: float
    """Standard deviation of the sites' risk as a share of its mean, best estimate [-]."""

    @property
    def alike(self) -> bool:
        """Whether nothing says that the sites differ."""
        # NaN compares as not below: where shapes cannot be compared nothing speaks against them.
        shapes_differ = self.shape_probability < LEVEL / 2
        return not (shapes_differ or self.risk_probability < LEVEL / 2)


def compare_sites(parts: Sequence[Evidence], rng: np.random.Generator) -> Difference:
    """Compare sites by their evidence of one stratum and mode.

    Two tests are made, each at half the level, so that sites that are alike are called
    different at most about one time in twenty. Failures known only to lie between two readings
    count as survivors up to the last good one.

    Parameters
    ----------
    parts : sequence of Evidence
        One for each site, with exposure; the first one's reference serves all.
    rng : numpy.random.Generator
        For the repetitions behind `risk_probability`.

    Returns
    -------
    Difference
        The spread between sites, and how sure it is.
    """
    failures, heads, log_sums, heights, curves = _gathered(parts)
    shape_probability = _one_shape(failures, heads, heights)
    # The shape that fits best with one hazard for all: the test of one hazard must not be helped
    # by a shape that was fitted to several.
    basis = grid_basis(_GRID.size, curves.shape[1])
    log_total = basis @ np.logaddexp.reduce(curves, axis=0)
    best = int(np.argmax(failures.sum() * (_GRID - log_total) + log_sums.sum() * _SHAPES))
    at_best = curves @ basis[best]
    # Only their proportions count, so that none is too large or too small a number.
    exposure = np.maximum(np.exp(at_best - at_best.max()), _LEAST_EXPOSURE)
    return Difference(
        sites=len(parts),
        shape=float(_SHAPES[best]),
        shape_probability=shape_probability,
        risk_probability=_one_risk(failures, exposure, rng),
        risk_spread=_risk_spread(failures, exposure),
    )


def shape_from_others(parts: Sequence[Evidence]) -> list[ShapePrior | None]:
    """Give each site what all other sites say about the shape.

    The other sites' likelihoods of the shape multiply, each with a hazard of its own; what they
    say together is passed on as a median and a spread (log-normal), so that no site counts
    twice for itself.

    Parameters
    ----------
    parts : sequence of Evidence
        One for each site; the first one's reference serves all.

    Returns
    -------
    list of ShapePrior or None
        None where the others have no failure.
    """
    failures, _, _, heights, _ = _gathered(parts)
    others = heights.sum(axis=0) - heights
    weight = np.exp(others - others.max(axis=1, keepdims=True))
    weight /= weight.sum(axis=1, keepdims=True)
    mean = weight @ _GRID
    deviation = np.sqrt(np.maximum(weight @ np.square(_GRID) - mean**2, 0.0))
    seen = failures.sum() - failures
    return [
        None
        if not count > 0
        else ShapePrior(float(np.exp(m)), max(float(np.exp(_NORMAL_95 * d)), _LEAST_SPREAD))
        for count, m, d in zip(seen, mean, deviation, strict=True)
    ]


def _gathered(parts: Sequence[Evidence]) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Failures, heads, sums of logs, log-likelihood of the shape on the grid, curves, by site."""
    reference = parts[0].reference_hours
    moved = [part.rereference(reference) for part in parts]
    failures = np.array([part.failures for part in moved])
    heads = np.array([part.heads for part in moved])
    log_sums = np.array([part.log_sum for part in moved])
    curves = at_common_nodes([part.log_curve for part in moved])
    heights = (
        failures[:, None] * (_GRID - curves @ grid_basis(_GRID.size, curves.shape[1]).T)
        + log_sums[:, None] * _SHAPES
    )  # the hazard of each site at its best
    return failures, heads, log_sums, heights, curves


def _one_shape(failures: Floats, heads: Floats, heights: Floats) -> float:
    """Likelihood-ratio test of one shape, each site with a hazard of its own."""
    some = failures >= FAILURES_FOR_SHAPE
    compared = int(some.sum())
    if compared < 2:
        return float("nan")
    own = heights[some]
    ratio = 2.0 * (_peak(own).sum() - _peak(own.sum(axis=0, keepdims=True))[0])
    inflation = 1.0 + _SMALL_RECORD * (failures[some] / heads[some]) ** 2 / failures[some]
    return float(chdtrc(compared - 1, max(ratio, 0.0) / inflation.mean()))


def _peak(heights: Floats) -> Floats:
    """Highest value of each row, between grid points by a parabola."""
    at = np.clip(heights.argmax(axis=1), 1, heights.shape[1] - 2)
    rows = np.arange(len(heights))
    left, middle, right = (heights[rows, at + step] for step in (-1, 0, 1))
    bend = left - 2.0 * middle + right
    lift = np.divide((right - left) ** 2, -8.0 * bend, out=np.zeros_like(bend), where=bend < 0)
    return np.asarray(np.maximum(middle + lift, heights.max(axis=1)))


def _one_risk(failures: Floats, exposure: Floats, rng: np.random.Generator) -> float:
    """Chance of the failures being spread at least as unevenly as they are.

    With one hazard for all, each failure falls on a site in proportion to its exposure.
    """
    total = int(round(failures.sum()))
    if total == 0 or len(failures) < 2:
        return 1.0
    expected = exposure * (failures.sum() / exposure.sum())
    uneven = float(_unevenness(failures, expected))
    if len(failures) > _MANY_SITES:
        mean, variance = _moments(expected)
        return float(gammaincc(mean**2 / variance, uneven * mean / variance))
    drawn = rng.multinomial(total, exposure / exposure.sum(), size=_REPETITIONS).astype(float)
    as_uneven = _unevenness(drawn, expected) >= uneven - 1e-9 * abs(uneven)
    return float((as_uneven.sum() + 1.0) / (_REPETITIONS + 1.0))


def _unevenness(failures: Floats, expected: Floats) -> Floats:
    """Likelihood ratio of a hazard for each site against one for all."""
    return np.asarray(2.0 * (xlogy(failures, failures).sum(-1) - failures @ np.log(expected)))


def _moments(expected: Floats) -> tuple[float, float]:
    """Mean and variance of the unevenness, given the total number of failures.

    Sums over sites of the moments of Poisson counts, less what the fixed total takes away: the
    regression of the unevenness on the total.
    """
    few = expected < _FEW
    mu = expected[few, None]
    # Beyond so many the chance is under 1e-25.
    count = np.arange(int(30.0 + 3.0 * mu.max(initial=0.0)))
    chance = np.exp(xlogy(count, mu) - mu - gammaln(count + 1.0))
    part = 2.0 * (xlogy(count, count / mu) - (count - mu))
    first, second = ((chance * part**power).sum(1) for power in (1, 2))
    with_count = (chance * part * (count - mu)).sum()
    # With many failures a part is close to chi-squared, its mean by Bartlett's correction.
    mean = first.sum() + (1.0 + 1.0 / (6.0 * expected[~few])).sum() - 1.0
    variance = (second - first**2).sum() + 2.0 * (~few).sum()
    return float(mean), float(variance - with_count**2 / expected.sum())


def _risk_spread(failures: Floats, exposure: Floats) -> float:
    """Spread of the sites' hazards, gamma around one mean, of the highest likelihood [-].

    The failures of a site are then negative binomial (Greenwood & Yule, J. R. Stat. Soc. 83,
    1920).
    """
    total = failures.sum()
    if total <= 0:
        return 0.0
    expected = exposure * (total / exposure.sum())

    def cost(log_square: float) -> float:
        size = np.exp(-log_square)  # 1 / squared spread
        terms = (
            gammaln(failures + size)
            - gammaln(size)
            - (failures + size) * np.log1p(expected / size)
            - xlogy(failures, size)
        )
        return -float(terms.sum())

    found = minimize_scalar(cost, bounds=(-12.0, 4.0), method="bounded", options={"xatol": 1e-4})
    spread = float(np.exp(0.5 * found.x))
    return 0.0 if spread < np.exp(-5.5) else spread
