"""Where does a mixture's distribution function take the values asked for? A search for places.

At a place s the function is the mean over weighted shapes of the probability that the log hazard
lies below ``offset + tilt * shape + (rise + turn * shape) * s``. Begins from the moments of the
mixture and takes steps of fourth order on the normal score, which is nearly a straight line: one
look does for most, where SciPy's search of many roots at once takes a dozen. Knows no posterior;
`headlife.life.mixture` asks.
"""

from __future__ import annotations

import math
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from headlife.life.hazard import Hazard, NodeWeights

FloatArray = NDArray[np.float64]

_NEAR: Final = 0.1  # error of the normal score from which the first step may be the last
_NEARER: Final = 0.003  # the same, where the first was not
_SETTLED: Final = 1e-8  # of the score, that the terms a step leaves out may come to, about
_LOOKS: Final = 200  # of the search inside a bracket; it needs a dozen at most
_FURTHEST: Final = 4.0  # step, in spreads, that is not trusted
_TOGETHER: Final = 128  # lives whose arrays stay in a core's cache
_FEW: Final = 16  # places up to which one at a time is quicker than arrays
_SMALLEST: Final = 1e-300
_EXTREME: Final = 1e-15  # chances nearer to 0 or 1 are lost in rounding
_ROOT: Final = math.sqrt(2.0 * math.pi)


def find_places(
    mixed: tuple[Hazard, NodeWeights, FloatArray],
    moments: tuple[Any, ...],
    asked: FloatArray,
    begun: tuple[FloatArray, FloatArray] | None = None,
) -> tuple[FloatArray, FloatArray, NDArray[np.bool_]]:
    """Find the places at which the distribution function of a mixture has the scores asked for.

    Parameters
    ----------
    mixed : tuple of Hazard, NodeWeights and array of float
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
    if guess.ndim == 1:
        found, settled, coarse = _Search.of(*mixed, asked).step(guess, spread, _NEAR)
    else:
        found, settled, coarse = _first_steps(mixed, asked, guess, spread)
    if np.count_nonzero(settled) < settled.size:
        which = np.nonzero(~settled)
        search = _only(mixed, asked, which)
        found[which], coarse[which] = search.run(found[which], spread[which])
    return found, spread, coarse


def _first_steps(
    mixed: tuple[Hazard, NodeWeights, FloatArray],
    asked: FloatArray,
    guess: FloatArray,
    spread: FloatArray,
) -> tuple[FloatArray, NDArray[np.bool_], NDArray[np.bool_]]:
    """Take the first step of many lives, (n, c): a few at a time, whose arrays a cache holds.

    One place at a time, so that all arrays have one shape: NumPy then walks them in one go.
    """
    hazard, weights, shapes = mixed
    found, settled = np.empty(guess.shape), np.empty(guess.shape, bool)
    coarse = np.empty(guess.shape, bool)
    for start in range(0, len(guess), _TOGETHER):
        lives = slice(start, start + _TOGETHER)
        at = lives, 0
        own = hazard.at(at), _weights_at(weights, at), shapes[at]
        for place in range(asked.shape[1]):
            some = lives, place
            search = _Search.of(*own, asked[:, place : place + 1])
            found[some], settled[some], coarse[some] = search.step(guess[some], spread[some], _NEAR)
    return found, settled, coarse


def _only(
    mixed: tuple[Hazard, NodeWeights, FloatArray],
    asked: FloatArray,
    which: tuple[NDArray[np.intp], ...],
) -> _Search:
    """Search for some of the places only, (c,)."""
    hazard, weights, shapes = mixed
    *lives, places = which
    if not lives:
        return _Search.of(hazard, weights, shapes, asked[:, places])
    at = (lives[0], 0)
    return _Search.of(hazard.at(at), _weights_at(weights, at), shapes[at], asked[:, places])


def _weights_at(weights: NodeWeights, at: tuple[Any, ...]) -> NodeWeights:
    return NodeWeights(weights.each[at], weights.beyond[at])


def _begun(moments: tuple[Any, ...], asked: FloatArray) -> tuple[FloatArray, FloatArray]:
    many = isinstance(moments[0], np.ndarray)
    if many or asked.shape[1] > _FEW:
        guess, spread = _first_place(moments, _ARRAYS, *asked)
        return guess, np.broadcast_to(spread, guess.shape)
    both = [_first_place(moments, _NUMBERS, *one) for one in asked.T.tolist()]
    guess, spread = np.array(both).T
    return guess, spread


class _Search(NamedTuple):
    """A search for places (c,)."""

    hazard: Hazard
    weights: NodeWeights
    wanted: FloatArray  # normal score of every place, (c,)
    lines: FloatArray  # level at place 0 and its rate, (2, c, k)

    @classmethod
    def of(
        cls, hazard: Hazard, weights: NodeWeights, shapes: FloatArray, asked: FloatArray
    ) -> _Search:
        """Search for places (5, c) of one life with nodes (k,), or of a life for each (c, k).

        A single place asked for serves all lives.
        """
        # The level at every node and place is the first line plus the second times the place.
        ends = asked[:4].reshape(2, 2, -1, 1)
        lines = ends[:, 1] * shapes
        lines += ends[:, 0]
        return cls(hazard, weights, asked[4], lines)

    def step(
        self, guess: FloatArray, spread: FloatArray, near: float
    ) -> tuple[FloatArray, NDArray[np.bool_], NDArray[np.bool_]]:
        """Step from a guess towards the place wanted, of fourth order where that is near.

        Also whether it gets there, and whether the nodes were too far apart to say.
        """
        offset, slope = self.lines
        level = slope * guess[..., None]
        level += offset
        below, *slopes, coarse = self.hazard.chance(level, slope, self.weights)
        np.maximum(below, _EXTREME, out=below)
        score = ndtri(np.minimum(below, 1.0 - _EXTREME, out=below))
        wanted, chance = self.wanted, (score, *slopes)
        if guess.size > _FEW:
            found, settled = _next_place(near, _ARRAYS, guess, spread, wanted, *chance)
            return found, settled, coarse
        if guess.shape != wanted.shape:
            wanted = np.broadcast_to(wanted, guess.shape)
        rows = [values.tolist() for values in (guess, spread, wanted, *chance)]
        each = [_next_place(near, _NUMBERS, *row) for row in zip(*rows, strict=True)]
        places, settled = zip(*each, strict=True)
        return np.array(places), np.array(settled), coarse

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
_NUMBERS: Final = min, max, abs, math.exp, math.sqrt
_ARRAYS: Final = np.minimum, np.maximum, np.abs, np.exp, np.sqrt


def _first_place(
    moments: tuple[Any, ...],
    of: tuple[Any, ...],
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
    least, most, _, _, root = of
    mean, shape, m20, m11, m02, m30, m21, m12, m03, m40, m31, m22, m13, m04, *within = moments
    mean, rate = mean - offset - tilt * shape, rise + turn * shape
    own = within[0] + m20 + tilt * (tilt * m02 - 2.0 * m11)
    across, along = turn * (m11 - tilt * m02), turn * turn * m02
    square = wanted * wanted
    lead = most(rate * rate - square * along, 0.1 * rate * rate)
    rest = rate * (rate * own - 2.0 * mean * across) + mean * mean * along
    rest = most(rest - square * (own * along - across * across), 0.0)
    place = (mean * rate - square * across + wanted * root(rest)) / lead
    at = tilt + turn * place
    nodes = m20 + at * (at * m02 - 2.0 * m11)
    cubes = m30 - at * (3.0 * m21 - at * (3.0 * m12 - at * m03))
    fours = m40 - at * (4.0 * m31 - at * (6.0 * m22 - at * (4.0 * m13 - at * m04)))
    variance = within[0] + nodes
    spread = root(variance)
    skew = least(most((within[1] + cubes) / (variance * spread), -2.0), 2.0)
    excess = (within[2] + fours - 3.0 * nodes * nodes) / (variance * variance)
    excess = least(most(excess, -2.0), 2.0)
    plain = (rate * place - mean) / spread
    square = plain * plain
    bent = skew * ((1.0 - square) + skew * plain * (4.0 * square - 7.0) / 6.0) / 6.0
    score = plain + bent - excess * plain * (square - 3.0) / 24.0
    spread = spread / rate
    return place + (wanted - score) * spread, spread


def _next_place(
    near: float,
    of: tuple[Any, ...],
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
    least, most, size, exp, root = of
    density = most(first, _SMALLEST)
    rise = density * (exp(0.5 * score * score) * _ROOT)
    off = wanted - score
    furthest = _FURTHEST * spread
    newton = least(most(off / rise, -furthest), furthest)
    # Slope of the density over it, then half the second and a sixth of the third derivative of
    # the score over its first.
    slope, bent = second / density, score * rise
    once = newton * (0.5 * (slope + bent))
    bend = third / density + 3.0 * bent * (slope + bent) + rise * rise - bent * bent
    twice = newton * newton * bend * (1.0 / 6.0)
    factor = (1.0 + once) / most(1.0 + 2.0 * once + twice, 0.25)
    off = size(off)
    rest = least(most(size(once), root(size(twice))), 1.0)
    settled = (off * rest * rest * rest <= _SETTLED) & (off <= near)
    return guess + newton * least(most(factor, 0.25), 4.0), settled
