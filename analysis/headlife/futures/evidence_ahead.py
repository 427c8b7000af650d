"""What would the coming quarters add to the evidence? Simulated, all draws and positions at once.

From drawn Weibull lives (the mode that a claim is about first, other modes after it), the present
ages of heads, their print hours in a quarter and a swap policy, through the engine: failures,
exposure and head-hours that each future adds, summed in the form that `Evidence` keeps. Never
judges.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from headlife.futures.calendar import slower
from headlife.futures.draws import DrawnLives, Hours, Index, ModeDraws
from headlife.futures.engine import steps
from headlife.futures.position import HeadKind, Position
from headlife.futures.position_state import Flags
from headlife.numbers import Floats
from headlife.shop.policy import Policy


class EvidenceAhead:
    """Simulated continuations of one fleet.

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
        counted: Flags | None = None,
        new_counted: float = 1.0,
    ) -> None:
        draws = modes[0][0].size
        # Heads in place of another lot say nothing of this one; nor do new ones that are not of it.
        ours = np.ones(len(ages), bool) if counted is None else counted
        self._ours, self._new_counted = np.repeat(np.asarray(ours, float), draws), new_counted
        self._modes = [ModeDraws.from_parameters(*mode, np.float64) for mode in modes]
        self._ages = np.repeat(np.asarray(ages, float)[:, None], draws, axis=1)
        hours = np.broadcast_to(np.asarray(quarter_hours, float), len(self._ages))
        self._hours, self._pace = np.repeat(hours, draws), slower(np.repeat(hours, draws))
        self._draws, self._policy, self._rated, self._rng = draws, policy, rated, rng
        self._shapes = shapes
        self.failures, self.log_sum = np.zeros(draws), np.zeros(draws)
        self.heads = np.zeros(draws)
        self.exposure = np.zeros((draws, shapes.size))
        self.head_hours, self.past_rating = np.zeros(draws), np.zeros(draws)

    def run_quarter(self) -> None:
        """Run every position for a quarter, from the ages that its heads have reached."""
        put_in = self._ages.ravel().copy()
        since = np.zeros_like(put_in)
        position = Position(self._ages, [HeadKind(DrawnLives(self._modes), self._policy)])
        for step in steps([position], self._draws, 1.0, self._rng, self._pace, traced=True):
            (out,), at = step.out, step.paths
            who, age = at % self._draws, put_in[at]
            # A planned swap is at the age planned, whatever the sum of hours rounds to.
            at_most = np.maximum(age, self._policy.comes_out_at)
            stop = np.minimum(age + step.hours - since[at], np.where(out.planned, at_most, np.inf))
            self._add(who, age, stop, out.failed & self._by_the_mode(stop, who), self._ours[at])
            put_in[at], since[at] = 0.0, step.hours
            self._ours[at] = 1.0
            if self._new_counted < 1.0:
                self._ours[at] = self._rng.random(len(self._ours[at])) < self._new_counted
        stop = put_in + self._hours - since
        everyone = np.tile(np.arange(self._draws), len(self._ages))
        self._add(everyone, put_in, stop, np.zeros(stop.size, bool), self._ours)
        self._ages = stop.reshape(self._ages.shape)

    def _by_the_mode(self, ages: Hours, who: Index) -> Flags | bool:
        """Draw whether heads that fail at these ages fail by the first mode.

        Given the age the odds are those of the hazards (Prentice et al., Biometrics 34, 1978, from
        memory).
        """
        if len(self._modes) == 1:
            return True
        log_age = np.log(ages)
        rates = [
            mode.shape[who] * np.exp(mode.shape[who] * (log_age - mode.log_scale[who]))
            for mode in self._modes
        ]
        return np.asarray(self._rng.random(ages.size) * sum(rates) < rates[0])

    def _add(self, who: Index, age: Floats, stop: Floats, counted: Flags, ours: Floats) -> None:
        """Add heads that ran from one age to another, and whether that ended in a failure."""

        def summed(values: Any) -> Floats:
            found = np.bincount(who, weights=ours * values, minlength=self._draws)
            return np.asarray(found, float)

        with np.errstate(divide="ignore"):
            log_stop, log_age = np.log(stop / self._rated), np.log(age / self._rated)
        for k, shape in enumerate(self._shapes):
            self.exposure[:, k] += summed(np.exp(shape * log_stop) - np.exp(shape * log_age))
        self.failures += summed(counted)
        self.log_sum += summed(np.where(counted, log_stop, 0.0))
        self.heads += summed((age == 0) & (stop > 0))
        self.head_hours += summed(stop - age)
        self.past_rating += summed(np.maximum(stop, self._rated) - np.maximum(age, self._rated))
