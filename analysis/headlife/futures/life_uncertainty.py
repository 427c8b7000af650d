"""How much of the spread of a demand is doubt about the life, and how sure is a service level?

The service that a stock gives on average over all lives that the records allow may hide lives
for which it serves badly. From futures, each with the life drawn for it: the demand to be
expected under that life, by regression of the futures on the failures it foretells, and with it
the chance that the true service of a stock is good enough. Never chooses a stock.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

import numpy as np
from scipy.special import btdtria, gammainccinv

from headlife.futures.draws import Hours, ModeDraws, hazard_ahead
from headlife.numbers import Floats

# Positions behind the failures a life foretells; more of them tell no more.
_MOST_POSITIONS: Final = 64
_LEAST_MEAN: Final = 1e-9  # heads; a life that foretells none
_POISSON: Final = 1e-3  # ratios of variance to mean this near to 1 are taken for 1


@dataclass(frozen=True)
class Doubt:
    """The demand to be expected under every life drawn, and the luck that comes on top."""

    expected: Floats
    """Demand to be expected under each life drawn [heads]."""
    variance: float
    """Mean variance of the demand under one life [heads squared]."""

    @cached_property
    def settled(self) -> bool:
        """Whether what is not known about the life weighs no more than luck does."""
        return float(np.var(self.expected)) <= self.variance

    @cached_property
    def _lives(self) -> Floats:
        return np.sort(self.expected)

    @cached_property
    def _ratio(self) -> float:
        """Of variance to mean of the demand under one life [-]."""
        mean = float(self.expected.mean())
        return self.variance / mean if mean > 0 else 1.0

    def sure(self, stocks: Any, service: float) -> Floats:
        """Chance that the true service of stocks is at least so good [-].

        Given the life the demand is taken as binomial, Poisson or negative binomial, whichever
        has its mean and variance.

        Parameters
        ----------
        stocks : int or array of int
            The stocks [heads].
        service : float
            Service asked for [-].

        Returns
        -------
        array of float
            Chances [-], one per stock.
        """
        most = _most_served(np.asarray(stocks, dtype=np.float64), service, self._ratio)
        lives = self._lives
        return np.asarray(np.searchsorted(lives, most, side="right") / lives.size)


@dataclass(frozen=True)
class Heads:
    """The heads of one stratum that are in place, and the lives drawn for them."""

    modes: Sequence[ModeDraws]
    """The competing modes, draw by draw."""
    ages: Floats
    """Present ages [h]."""
    hours: Floats
    """Print hours ahead of each [h]."""
    swap_age: float
    """Age at which they are swapped [h]; infinite where they run to failure."""
    new_heads: Sequence[tuple[float, Sequence[ModeDraws]]] = ()
    """The same for the heads put in for them, of every lot that they may be of with its share [-];
    none: they live alike."""

    def foretold(self) -> tuple[Floats, Floats]:
        """Failures to be expected under the life of every draw [heads].

        Returns
        -------
        first, again : array of float
            Heads in place that fail, and heads put in for them, on average half way through,
            that fail too; one per draw.
        """
        every = max(1, -(-self.ages.size // _MOST_POSITIONS))
        order = np.lexsort((self.hours, self.ages))[::every]
        start = self.ages[order, None].astype(np.float32)
        ahead = self.hours[order, None].astype(np.float32)
        first = self._fail(self.modes, start, ahead)
        begin, half = np.zeros_like(start), 0.5 * ahead
        after = self.new_heads or [(1.0, self.modes)]
        again = first * sum(share * self._fail(modes, begin, half) for share, modes in after)
        return every * first.sum(axis=0), every * again.sum(axis=0)

    def _fail(self, modes: Sequence[ModeDraws], start: Hours, ahead: Hours) -> Floats:
        """Chance of a failure within the hours ahead and before the swap, heads x draws [-]."""
        before_swap = np.maximum(np.float32(self.swap_age) - start, np.float32(0))
        hazard = hazard_ahead(modes, start, np.minimum(ahead, before_swap))
        return -np.expm1(-hazard.astype(np.float64))


@dataclass(frozen=True)
class Futures:
    """Futures of some positions, each with the lives drawn for it."""

    needed: Any
    """Heads needed in every future [heads]."""
    in_place: Sequence[Heads]
    """The heads now in place, by stratum, with as many draws as there are futures."""

    @cached_property
    def doubt(self) -> Doubt:
        """Regress the futures on what their lives foretell.

        The mean of a demand given the life is the regression on that life (least squares on a
        few smooth terms, as Longstaff & Schwartz, Review of Financial Studies 14, 2001, take the
        value of going on).
        """
        heads = np.asarray(self.needed, dtype=np.float64)
        terms = [np.ones(heads.size)]
        for foretold in (part for own in self.in_place for part in own.foretold()):
            spread = float(foretold.std())
            if spread > _LEAST_MEAN:
                standard = (foretold - foretold.mean()) / spread
                terms += [standard, standard**2]
        design = np.column_stack(terms)
        # By the normal equations: few smooth terms, standardised, in many futures.
        found = np.linalg.lstsq(design.T @ design, design.T @ heads, rcond=None)[0]
        fitted = design @ found
        variance = float(np.square(heads - fitted).sum() / max(heads.size - len(terms), 1))
        return Doubt(np.maximum(fitted, 0.0), variance)


def together(doubts: Sequence[Doubt]) -> Doubt:
    """Add the doubts of independent groups of positions.

    Parameters
    ----------
    doubts : sequence of Doubt
        What is in doubt of each group.

    Returns
    -------
    Doubt
        What is in doubt of their sum.
    """
    draws = min(one.expected.size for one in doubts)
    # Draws of several groups may come from one seed: each is shifted against the others, so that
    # the same numbers do not meet.
    expected = sum(
        np.roll(one.expected[:draws], place * draws // len(doubts))
        for place, one in enumerate(doubts)
    )
    return Doubt(np.asarray(expected), sum(one.variance for one in doubts))


def _most_served(heads: Floats, service: float, ratio: float) -> Floats:
    """Largest mean demand that each stock serves so well; `ratio` is of variance to mean."""
    if service <= 0:
        return np.full(heads.shape, np.inf)
    if ratio < 1.0 - _POISSON:
        # Binomial: P(D <= heads) is betainc(size - heads, heads + 1, ratio).
        return np.asarray((heads + btdtria(service, heads + 1.0, ratio)) * (1.0 - ratio))
    if ratio <= 1.0 + _POISSON:
        return np.asarray(gammainccinv(heads + 1.0, service))
    # Negative binomial: betainc(size, heads + 1, 1 / ratio).
    return np.asarray(btdtria(service, heads + 1.0, 1.0 / ratio) * (ratio - 1.0))
