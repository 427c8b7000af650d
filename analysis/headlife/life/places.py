"""Where does a mixture's distribution function take the values asked for? A search for places.

At a place s the function is the mean over weighted shapes of the probability that the log hazard
lies below ``offset + tilt * shape + (rise + turn * shape) * s``. Begins from the moments of the
mixture and takes steps of fourth order on the normal score, which is nearly a straight line: one
look does for most, where SciPy's search of many roots at once takes a dozen. Knows no posterior;
`headlife.life.mixture` asks.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from headlife.life.hazard import Hazard

FloatArray = NDArray[np.float64]

_NEAR: Final = 0.1  # error of the normal score from which the first step may be the last
_NEARER: Final = 0.003  # the same, where the first was not
_SETTLED: Final = 1e-8  # of the score, that the terms a step leaves out may come to, about
_LOOKS: Final = 200  # of the search inside a bracket; it needs a dozen at most
_FURTHEST: Final = 4.0  # step, in spreads, that is not trusted
_FEW: Final = 16  # places up to which one at a time is quicker than arrays
_SMALLEST: Final = 1e-300
_EXTREME: Final = 1e-15  # chances nearer to 0 or 1 are lost in rounding
_ROOT: Final = math.sqrt(2.0 * math.pi)


def find_places(
    mixed: tuple[Hazard, FloatArray, FloatArray],
    moments: tuple[Any, ...],
    asked: FloatArray,
    begun: tuple[FloatArray, FloatArray] | None = None,
) -> tuple[FloatArray, FloatArray, NDArray[np.bool_]]:
    """Find the places at which the distribution function of a mixture has the scores asked for.

    Parameters
    ----------
    mixed : tuple of Hazard and arrays of float
        Hazard, weights and shapes [-] of the nodes: of one life (k,), or of many (n, 1, k).
    moments : tuple
        Of the log hazard and the shape over the nodes, as `Mixture` gives them.
    asked : array of float
        Offset, tilt, rise, turn and normal score of every place [-], (5, c).
    begun : tuple of array of float, optional
        Places and spreads to begin with.

    Returns
    -------
    found, spread : array of float
        Places, and how far they are spread, about, (c,) or (n, c).
    coarse : array of bool
        Whether the nodes are too far apart to say.
    """
    guess, spread = _begun(moments, asked) if begun is None else begun
    hazard, weights, shapes = mixed
    # The level at every node and place is the first line plus the second times the place.
    ends = asked[:4].reshape(2, 2, *[1] * (shapes.ndim - 2), -1, 1)
    lines = ends[:, 1] * shapes
    lines += ends[:, 0]
    search = _Search(hazard, weights, asked[4], lines)
    found, settled, coarse = search.step(guess, spread, _NEAR)
    if np.count_nonzero(settled) < settled.size:
        which = np.nonzero(~settled)
        found[which], coarse[which] = search.only(which).run(found[which], spread[which])
    return found, spread, coarse


def _begun(moments: tuple[Any, ...], asked: FloatArray) -> tuple[FloatArray, FloatArray]:
    many = isinstance(moments[0], np.ndarray)
    if many or asked.shape[1] > _FEW:
        guess, spread = _first_place(moments, _ARRAYS, *asked)
        return guess, np.broadcast_to(spread, guess.shape)
    both = [_first_place(moments, _NUMBERS, *one) for one in asked.T.tolist()]
    guess, spread = np.array(both).T
    return guess, spread


@dataclass(frozen=True, eq=False)
class _Search:
    """A search for places (c,) or (n, c)."""

    hazard: Hazard
    weights: FloatArray
    wanted: FloatArray  # normal score of every place, (c,)
    lines: FloatArray  # level at place 0 and its rate, (2, c, k) or (2, n, c, k)

    def only(self, which: tuple[NDArray[np.intp], ...]) -> _Search:
        """Take some of the places, (c,)."""
        *lives, places = which
        index: tuple[Any, ...] = (slice(None), *which)
        lines = self.lines[index]
        if not lives:
            return _Search(self.hazard, self.weights, self.wanted[places], lines)
        at = (lives[0], 0)
        return _Search(self.hazard.at(at), self.weights[at], self.wanted[places], lines)

    def step(
        self, guess: FloatArray, spread: FloatArray, near: float
    ) -> tuple[FloatArray, NDArray[np.bool_], NDArray[np.bool_]]:
        """Step from a guess towards the place wanted, of fourth order where that is near.

        Also whether it gets there, and whether the nodes were too far apart to say.
        """
        offset, slope = self.lines
        level = slope * guess[..., None]
        level += offset
        below, first, second, third, coarse = self.hazard.chance(level, slope, self.weights)
        score = ndtri(np.minimum(np.maximum(below, _EXTREME), 1.0 - _EXTREME))
        wanted, chance = self.wanted, (score, first, second, third)
        if guess.size > _FEW:
            found, settled = _next_place(near, _ARRAYS, guess, spread, wanted, *chance)
            return found, settled, coarse
        if guess.shape != wanted.shape:
            wanted = np.broadcast_to(wanted, guess.shape)
        rows = [values.ravel().tolist() for values in (guess, spread, wanted, *chance)]
        each = [_next_place(near, _NUMBERS, *row) for row in zip(*rows, strict=True)]
        found = np.array([place for place, _ in each]).reshape(guess.shape)
        settled = np.array([settled for _, settled in each]).reshape(guess.shape)
        return found, settled, coarse

    def run(self, guess: FloatArray, spread: FloatArray) -> tuple[FloatArray, NDArray[np.bool_]]:
        """Take steps inside a bracket that closes on the place wanted, (c,).

        Also whether the nodes were too far apart there.
        """
        low, high = np.full(guess.shape, -np.inf), np.full(guess.shape, np.inf)
        before = np.full(guess.shape, np.inf)
        for _ in range(_LOOKS):
            following, settled, coarse = self.step(guess, spread, _NEARER)
            low = np.where(following > guess, guess, low)
            high = np.where(following < guess, guess, high)
            if settled.all():
                return following, coarse
            width = high - low
            # A step outside the bracket, or brackets that close slowly: halve. As long as it is
            # not known where to look: further away.
            halve = (following <= low) | (following >= high) | (width > 0.5 * before)
            halve &= np.isfinite(width) & ~settled
            guess = np.where(halve, 0.5 * (low + high), following)
            spread = np.where(np.isfinite(width), spread, 2.0 * spread)
            before = np.where(np.isfinite(width), width, np.inf)
        return guess, coarse


# The same formula for one place, where Python's numbers are quicker than arrays of one, and many.
_NUMBERS: Final = SimpleNamespace(least=min, most=max, size=abs, exp=math.exp, root=math.sqrt)
_ARRAYS: Final = SimpleNamespace(
    least=np.minimum, most=np.maximum, size=np.abs, exp=np.exp, root=np.sqrt
)


def _first_place(
    moments: tuple[Any, ...],
    of: SimpleNamespace,
    offset: Any,
    tilt: Any,
    rise: Any,
    turn: Any,
    wanted: Any,
) -> tuple[Any, Any]:
    """Place where a distribution function has about the normal score wanted, and its spread.

    The log hazard less the level has a mean that is straight in the place and cumulants that are
    polynomials of it. As if it were normal first (Fieller, J. Royal Statistical Society B 16,
    1954), then a step on its score by Cornish and Fisher (Johnson, Kotz and Balakrishnan,
    Continuous Univariate Distributions 1, 2nd ed. 1994, section 12.5).
    """
    mean, shape, m20, m11, m02, m30, m21, m12, m03, m40, m31, m22, m13, m04, *within = moments
    mean, rate = mean - offset - tilt * shape, rise + turn * shape
    own = within[0] + m20 + tilt * (tilt * m02 - 2.0 * m11)
    across, along = turn * (m11 - tilt * m02), turn * turn * m02
    square = wanted * wanted
    lead = of.most(rate * rate - square * along, 0.1 * rate * rate)
    rest = rate * (rate * own - 2.0 * mean * across) + mean * mean * along
    rest = of.most(rest - square * (own * along - across * across), 0.0)
    place = (mean * rate - square * across + wanted * of.root(rest)) / lead
    at = tilt + turn * place
    nodes = m20 + at * (at * m02 - 2.0 * m11)
    cubes = m30 - at * (3.0 * m21 - at * (3.0 * m12 - at * m03))
    fours = m40 - at * (4.0 * m31 - at * (6.0 * m22 - at * (4.0 * m13 - at * m04)))
    variance = within[0] + nodes
    spread = of.root(variance)
    skew = of.least(of.most((within[1] + cubes) / (variance * spread), -2.0), 2.0)
    excess = (within[2] + fours - 3.0 * nodes * nodes) / (variance * variance)
    excess = of.least(of.most(excess, -2.0), 2.0)
    plain = (rate * place - mean) / spread
    square = plain * plain
    bent = skew * ((1.0 - square) + skew * plain * (4.0 * square - 7.0) / 6.0) / 6.0
    score = plain + bent - excess * plain * (square - 3.0) / 24.0
    spread = spread / rate
    return place + (wanted - score) * spread, spread


def _next_place(
    near: float,
    of: SimpleNamespace,
    guess: Any,
    spread: Any,
    wanted: Any,
    score: Any,
    first: Any,
    second: Any,
    third: Any,
) -> tuple[Any, Any]:
    """Step towards the place where a distribution function has the normal score wanted.

    Householder's method of fourth order (The Numerical Treatment of a Single Nonlinear Equation,
    1970, section 4.4) on the score, which is nearly a straight line. Also whether that is enough.
    """
    density = of.most(first, _SMALLEST)
    rise = density * (of.exp(0.5 * score * score) * _ROOT)
    off = wanted - score
    furthest = _FURTHEST * spread
    newton = of.least(of.most(off / rise, -furthest), furthest)
    # Slope of the density over it, then half the second and a sixth of the third derivative of
    # the score over its first.
    slope, bent = second / density, score * rise
    once = newton * (0.5 * (slope + bent))
    bend = third / density + 3.0 * bent * (slope + bent) + rise * rise - bent * bent
    twice = newton * newton * bend * (1.0 / 6.0)
    factor = (1.0 + once) / of.most(1.0 + 2.0 * once + twice, 0.25)
    off = of.size(off)
    rest = of.least(of.most(of.size(once), of.root(of.size(twice))), 1.0)
    settled = (off * rest * rest * rest <= _SETTLED) & (off <= near)
    return guess + newton * of.least(of.most(factor, 0.25), 4.0), settled
