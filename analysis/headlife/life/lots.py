"""How long do the heads last that are bought now, when other lots are on record too?

From the evidence of the lot in question and of the others, by partial pooling: the lots share a
shape, and their log lives differ by a spread that is learned from the records. Where lots look
alike the others count almost in full, where they differ they count little. With a spread of 0 the
answer is that of one life for all, with a wide one that of the lot alone. Lot here is any group
of heads bought together: a lot, a vendor, a purchase year. Never pools spares and never judges.

References
----------
[1] A. Gelman, "Prior distributions for variance parameters in hierarchical models", Bayesian
    Analysis 1 (2006) 515-533: with few groups the spread needs a weakly informative prior;
    half-normal and half-t ones.
[2] H. Schmidli et al., "Robust meta-analytic-predictive priors in clinical trials with historical
    control information", Biometrics 70 (2014) 1023-1032: how much others count is learned.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import erf

from headlife.errors import EvidenceError
from headlife.life.evidence import Evidence, pool
from headlife.life.exposure_curve import curve_at
from headlife.life.lot_life import SPREADS, LotLife
from headlife.life.posterior import fit_life
from headlife.life.prior import prior_powers

FloatArray = NDArray[np.float64]

# Before the records speak: two chances in ten that lots do not differ at all, else a half-normal
# of deviation 0.4 (no source; chosen with `studies.changing_shops`, row lots: at 0.3 one of five
# designs had 12 % of its "holds" wrong where the older lot lives 30 % longer).
EQUAL_BEFORE: Final = 0.2
DEVIATION_BEFORE: Final = 0.4
_SHAPES: Final = 13  # nodes over the shapes worth a thousandth of the best
_NEGLIGIBLE: Final = 1e-4
_OWN: Final = 121  # nodes of the lot's log hazard
_OTHER: Final = 41  # nodes of another lot's
_CENTRE: Final = 161  # nodes of the centre of all lots
_TINY: Final = 1e-300


def lot_life(lot: Evidence, others: Sequence[Evidence]) -> LotLife:
    """Learn the life of one lot from its own evidence and, as far as they are alike, the others'.

    Parameters
    ----------
    lot : Evidence
        The lot in question, stated at the age the question is about; without any hours yet it
        leans on the others alone.
    others : sequence of Evidence
        Every other lot, each with running hours; none gives the life of the lot alone.

    Returns
    -------
    LotLife
        The life of the lot, and what it rests on.

    Raises
    ------
    EvidenceError
        No lot has run.

    Notes
    -----
    A failure known only to lie between two readings is taken in the middle between them.
    """
    parts = [_exact(part.rereference(lot.reference_hours)) for part in (lot, *others)]
    if not any(np.isfinite(part.log_curve).all() for part in parts):
        raise EvidenceError("No lot holds any running hours, so nothing can be learned of one.")
    lots = _Lots(parts)
    nodes = [lots.node(spread, at) for spread in SPREADS for at in range(lots.shapes.size)]
    heights = np.array([node[0] for node in nodes])
    weights = np.exp(heights - heights.max()) * np.repeat(_spread_prior(), lots.shapes.size)
    weights /= weights.sum()
    by_spread = weights.reshape(SPREADS.size, -1)
    middle = int(np.argmax(by_spread.sum(axis=0)))
    return LotLife(
        reference_hours=lot.reference_hours,
        shapes=np.tile(lots.shapes, SPREADS.size),
        log_hazards=np.array([node[1] for node in nodes]),
        below=np.array([node[2] for node in nodes]),
        weights=weights,
        spread_weights=by_spread.sum(axis=1),
        failures=parts[0].failures,
        others=float(lots.failures[1:].sum()),
        exposure=float(np.exp(lots.log_exposure[0, middle])),
    )


def purchase_years(first_days: NDArray[np.datetime64], day: np.datetime64) -> NDArray[np.intp]:
    """Stand in for a lot where none is on record: years since a head was first put in, (n,).

    0 is the lot bought now: heads first put in within a year before ``day``.

    Parameters
    ----------
    first_days : NDArray[np.datetime64]
        Day on which each head was first put in, (n,).
    day : np.datetime64
        The day of the answer.

    Returns
    -------
    array of int
        Years, (n,).
    """
    days = (day.astype("datetime64[D]") - first_days.astype("datetime64[D]")).astype(float)
    return np.asarray(np.maximum(days, 0.0) // 365.25, np.intp)


def _exact(evidence: Evidence) -> Evidence:
    """Take failures known only to an interval in its middle."""
    rows = evidence.intervals
    if not len(rows):
        return evidence
    known = replace(evidence, intervals=rows[:0])
    # The exposure up to the last good reading is in the curve already.
    more = Evidence.from_lives(
        rows[:, 0],
        0.5 * (rows[:, 0] + rows[:, 1]),
        True,
        reference_hours=evidence.reference_hours,
        weights=rows[:, 2],
    )
    return known + replace(more, heads=0.0)


def _spread_prior() -> FloatArray:
    """Chance of each of `SPREADS` before the records speak: a step of the half-normal each."""
    edges = np.concatenate([[0.0], 0.5 * (SPREADS[2:] + SPREADS[1:-1]), [np.inf]])
    steps = np.diff(erf(edges / (np.sqrt(2.0) * DEVIATION_BEFORE)))
    return np.concatenate([[EQUAL_BEFORE], (1.0 - EQUAL_BEFORE) * steps])


class _Lots:
    """The likelihood of several lots, at nodes of the shape they share."""

    def __init__(self, parts: Sequence[Evidence]) -> None:
        whole = fit_life(pool([part for part in parts if np.isfinite(part.log_curve).all()]))
        mixture = whole.mixture
        worth = mixture.shapes[mixture.weights > _NEGLIGIBLE * mixture.weights.max()]
        self.shapes = np.geomspace(worth[0], worth[-1], _SHAPES)
        log_shapes = np.log(self.shapes)
        self.failures = np.array([part.failures for part in parts])
        curves = [np.where(np.isfinite(p.log_curve), p.log_curve, -700.0) for p in parts]
        self.log_exposure = np.array([curve_at(curve, log_shapes) for curve in curves])
        total = float(self.failures.sum())
        _, power = prior_powers(total, "calibrated")
        log_sum = float(sum(part.log_sum for part in parts))
        self._of_shape = (total + power) * log_shapes + log_sum * self.shapes
        self._all_exposure = np.logaddexp.reduce(self.log_exposure, axis=0)

    def node(self, spread: float, at: int) -> tuple[float, FloatArray, FloatArray]:
        """Log weight of a spread and shape, and the lot's log hazard there: grid, chance below."""
        alike = spread == 0.0 or self.failures.size == 1
        grid, height = self._alike(at) if alike else self._apart(spread * self.shapes[at], at)
        top = float(height.max())
        density = np.exp(height - top)
        below = np.concatenate([[0.0], np.cumsum(0.5 * (density[1:] + density[:-1]))])
        mass = float(below[-1] * (grid[1] - grid[0]))
        return float(self._of_shape[at]) + top + float(np.log(mass)), grid, below / below[-1]

    def _alike(self, at: int) -> tuple[FloatArray, FloatArray]:
        """One hazard for all lots."""
        failures, exposure = float(self.failures.sum()), self._all_exposure[at]
        started, _ = prior_powers(failures, "calibrated")
        grid, centre = _grid(failures, exposure, _OWN)
        height = (failures + started) * grid - np.exp(grid + exposure) - started * centre
        return grid, height

    def _apart(self, deviation: float, at: int) -> tuple[FloatArray, FloatArray]:
        """Log hazards normal about a centre of which nothing is known, with a deviation [-]."""
        exposure = self.log_exposure[:, at]
        grids = [
            _grid(float(count), float(log), _OTHER)[0]
            for count, log in zip(self.failures, exposure, strict=True)
        ]
        low, high = min(grid[0] for grid in grids), max(grid[-1] for grid in grids)
        centre = np.linspace(low - deviation, high + deviation, _CENTRE)
        told = np.zeros(_CENTRE)
        for other in range(1, self.failures.size):
            grid = grids[other]
            height = self.failures[other] * grid - np.exp(grid + exposure[other])
            told += _averaged(centre, grid, height, deviation)
        # What the others would count for as failures of this lot, at this spread.
        lend = self.failures[1:] / (1.0 + 2.0 * self.failures[1:] * deviation**2)
        started, _ = prior_powers(float(self.failures[0] + lend.sum()), "calibrated")
        own, middle = self._own_grid(at, centre, told, deviation)
        height = (self.failures[0] + started) * own - np.exp(own + exposure[0])
        return own, height + _averaged(own, centre, told, deviation) - started * middle

    def _own_grid(
        self, at: int, centre: FloatArray, told: FloatArray, deviation: float
    ) -> tuple[FloatArray, float]:
        """Where the lot's own log hazard may lie, by its own records and by the others'."""
        own, middle = _grid(float(self.failures[0]), float(self.log_exposure[0, at]), _OWN)
        likely = centre[told > told.max() - 20.0]
        low = max(own[0], likely[0] - 5.0 * deviation)
        high = min(own[-1], likely[-1] + 5.0 * deviation)
        if high <= low:
            return own, middle
        return np.linspace(low, high, _OWN), middle


def _grid(failures: float, log_exposure: float, count: int) -> tuple[FloatArray, float]:
    """Log hazards that so many failures in an exposure leave open, and about the likeliest."""
    centre = float(np.log(failures + 0.3) - log_exposure)
    deviation = 1.0 / np.sqrt(failures + 0.5)
    return np.linspace(centre - 9.0 * deviation - 1.0, centre + 6.0 * deviation, count), centre


def _averaged(at: FloatArray, grid: FloatArray, height: FloatArray, deviation: float) -> FloatArray:
    """Log of the integral over ``grid`` of exp(height) times a normal density about ``at``."""
    top = float(height.max())
    away = (at[:, None] - grid) / deviation
    kernel = np.exp(-0.5 * away * away) / (deviation * np.sqrt(2.0 * np.pi))
    mass = kernel @ np.exp(height - top) * (grid[1] - grid[0])
    return np.asarray(np.log(np.maximum(mass, _TINY)) + top, float)
