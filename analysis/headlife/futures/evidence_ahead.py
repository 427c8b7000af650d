"""What would the coming quarters add to the evidence? Simulated, all draws at once.

From drawn Weibull lives (the mode that a claim is about first, other modes after it), the present
ages of heads, their print hours in a quarter and a swap policy: failures, exposure and head-hours
that each future adds, summed in the form that `Evidence` keeps. Counts evidence, not spares;
`paths` counts spares. Never judges.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import numpy.typing as npt

from headlife.numbers import Floats
from headlife.shop.policy import Policy

# Per position and quarter. Only a posterior that allows lives of minutes gets here.
_MOST_SWAPS: Final = 400
_LARGEST_LOG: Final = 700.0


class Futures:
    """Simulated continuations of one fleet, all draws and positions at once.

    Attributes
    ----------
    failures
        Failures of the mode added so far [heads], (draws,).
    log_sum
        Sum over them of ``ln(age / rated)`` [-], (draws,).
    exposure
        Exposure added at ``shapes``, ages relative to the rating [-], (draws, shapes).
    heads
        Lives begun [heads], (draws,).
    head_hours, past_rating
        Hours run, and hours run past the rating [h], (draws,).
    """

    def __init__(
        self,
        modes: list[tuple[Floats, Floats]],
        ages: Floats,
        quarter_hours: Floats,
        policy: Policy,
        rated: float,
        shapes: Floats,
        rng: np.random.Generator,
    ) -> None:
        draws = modes[0][0].size
        self._modes = [(shape, np.log(scale)) for shape, scale in modes]
        self._age = np.broadcast_to(ages, (draws, ages.size)).copy()
        self._quarter = np.broadcast_to(quarter_hours, self._age.shape)
        self._due = policy.comes_out_at
        self._rated, self._shapes, self._rng = rated, shapes, rng
        self.failures, self.log_sum = np.zeros(draws), np.zeros(draws)
        self.heads = np.zeros(draws)
        self.exposure = np.zeros((draws, shapes.size))
        self.head_hours, self.past_rating = np.zeros(draws), np.zeros(draws)

    def run_quarter(self) -> None:
        """Run every position for a quarter."""
        left = self._quarter.copy()
        for _ in range(_MOST_SWAPS):
            who, where = np.nonzero(left > 0)
            if not who.size:
                return
            left[who, where] -= self._run_heads(who, where, left[who, where])

    def _run_heads(self, who: Any, where: Any, left: Floats) -> Floats:
        """Run heads to failure, swap or the end of the quarter; return the hours run [h]."""
        age = self._age[who, where]
        fails, is_mode = self._failure_ages(who, age)
        # A head past its swap age is swapped at once.
        due = np.maximum(self._due, age)
        stop = np.minimum(np.minimum(fails, due), age + left)
        failed = (fails <= stop) & (stop > age)
        counted = failed & is_mode
        self._add(who, age, stop, counted)
        self._age[who, where] = np.where(failed | (due <= stop), 0.0, stop)
        ended = np.where(stop >= age + left, left, stop - age)
        return np.asarray(ended, float)

    def _failure_ages(self, who: Any, age: Floats) -> tuple[Floats, npt.NDArray[np.bool_]]:
        """Age at which each head fails, and whether by the mode that the claim is about."""
        with np.errstate(divide="ignore"):
            log_age = np.log(age)
        first, is_mode = np.full(age.shape, np.inf), np.ones(age.shape, bool)
        for number, (shape, log_scale) in enumerate(self._modes):
            beta, eta = shape[who], log_scale[who]
            needed = np.log(self._rng.standard_exponential(age.size))
            log_fail = eta + np.logaddexp(beta * (log_age - eta), needed) / beta
            fails = np.exp(np.minimum(log_fail, _LARGEST_LOG))
            if number:
                is_mode &= first <= fails
            first = np.minimum(first, fails)
        return np.maximum(first, np.nextafter(age, np.inf)), is_mode

    def _add(self, who: Any, age: Floats, stop: Floats, counted: npt.NDArray[np.bool_]) -> None:
        size = self.failures.size

        def summed(values: Floats) -> Floats:
            return np.asarray(np.bincount(who, weights=values, minlength=size), float)

        with np.errstate(divide="ignore"):
            log_stop, log_age = np.log(stop / self._rated), np.log(age / self._rated)
        for k, shape in enumerate(self._shapes):
            self.exposure[:, k] += summed(np.exp(shape * log_stop) - np.exp(shape * log_age))
        self.failures += summed(counted.astype(float))
        self.log_sum += summed(np.where(counted, log_stop, 0.0))
        self.heads += summed((age == 0).astype(float))
        self.head_hours += summed(stop - age)
        self.past_rating += summed(np.maximum(stop, self._rated) - np.maximum(age, self._rated))
