"""When does the shop really swap heads that still work, since when, and how late?

From installations, never from what the settings say: which of the policies people follow these
heads were swapped by. The working rules of a shop change, so the records are divided at the day
that explains them best. What is practised is laid beside what is stated; which of the two is
true is for the shop to say. Never forecasts.

References
----------
[1] R. E. Kass and A. E. Raftery, "Bayes factors", J. American Statistical Association 90 (1995)
    773-795: marginal likelihoods compared.
[2] A. F. M. Smith, "A Bayesian approach to inference about a change-point in a sequence of random
    variables", Biometrika 62 (1975) 407-416: one change, its day unknown.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.special import gammaln

from headlife.errors import DecisionError
from headlife.numbers import Floats, positive

# A head is swapped "at" an age from this share of it on: visits do not come to the hour.
EARLY: Final = 0.95
# A head that ran this much past its due age was not swapped at it.
RAN_PAST: Final = 1.10
# Rates of planned swaps before the records speak, gamma (cases, ratings): below the due age two
# in a hundred ratings, past it one a tenth of a rating, and hardly ever less than one a rating.
# Own choice, no source; a few swaps outweigh them.
_BELOW: Final = (0.5, 25.0)
_PAST: Final = (3.0, 0.3)
_LAG_BEFORE: Final = 0.1  # ratings; one swap so late before the records speak
_STATED_BEFORE: Final = 3.0  # weight of the policy that the settings state, others 1
_CHANGE_BEFORE: Final = 0.2  # chance that the way of working changed within the records
CLEAR: Final = 10.0  # times likelier than none must a change be before it is said
_MOST_DAYS: Final = 60  # days of a change that are looked at


@dataclass(frozen=True)
class Practice:
    """When the shop really swaps heads that still work."""

    policy: str
    """Name of the policy practised now, of those that were offered."""
    swap_at: float
    """Its age [h]; infinite: to failure."""
    chance: float
    """Posterior probability that it is this one of those offered [-]."""
    since: float | None
    """Day from which it has been practised; None where nothing shows a change."""
    before: str | None
    """Name of the policy practised before that day; None where nothing shows a change."""
    lag_hours: float
    """Mean print hours from the age at which a head is due until it is swapped [h]."""
    swaps: int
    """Planned swaps that this rests on, since that day [heads]."""
    stated: str
    """Name of the policy that the settings state."""
    reached: int
    """Heads that reached the age stated, since that day [heads]; 0 where run to failure is."""
    ran_past: int
    """Heads of these that ran on more than a tenth past it [heads]."""
    taken_working: int
    """Heads taken out working, since that day [heads]."""

    @property
    def as_stated(self) -> bool:
        """Whether what is practised is what is stated."""
        return self.policy == self.stated


def practised_policy(
    hours_in: npt.ArrayLike,
    hours_out: npt.ArrayLike,
    day_in: npt.ArrayLike,
    day_out: npt.ArrayLike,
    planned: npt.ArrayLike,
    policies: Mapping[str, float],
    stated: str,
    rated_hours: float,
    first_day: float = -np.inf,
) -> Practice:
    """Find the policy that a shop has really followed, and since when.

    Parameters
    ----------
    hours_in, hours_out : array of float
        Age of the head when it went in, and when it came out or was last read [h], (n,).
    day_in, day_out : array of float
        Days of these, counted from any day [days], (n,).
    planned : array of bool
        True where the head was taken out working and used up: neither failed, nor kept for later,
        nor swapped along with another one, (n,).
    policies : mapping of name to age
        Policies that may be practised: ages at which working heads are swapped [h], infinite for
        run to failure.
    stated : str
        Name of the one that the settings state.
    rated_hours : float
        Rated life [h].
    first_day : float, optional
        Day before which nothing is looked at, such as the one from which the policy is stated
        [days].

    Returns
    -------
    Practice
        The policy as it is practised.

    Raises
    ------
    DecisionError
        The stated policy is not among those offered, or ages make no sense.

    Notes
    -----
    Planned swaps come at one rate below the age of a policy and at another past it, each with a
    gamma prior, so that every stretch of records has a marginal likelihood in closed form [1]; one
    change of policy, or of the rates, on a day unknown is allowed [2].
    """
    rated = positive("The rating", rated_hours, "[h]")
    if stated not in policies:
        raise DecisionError(
            f"The stated policy '{stated}' is not among those compared: {', '.join(policies)}."
        )
    rows = _Stints.of(hours_in, hours_out, day_in, day_out, planned).since(first_day)
    names = list(policies)
    days = rows.days_of_change()
    found = [_Eras.of(rows, policies[name], rated, days) for name in names]
    weight = np.array([_STATED_BEFORE if name == stated else 1.0 for name in names])
    prior = np.log(weight / weight.sum())
    never = np.array([era.whole for era in found]) + prior + np.log1p(-_CHANGE_BEFORE)
    after = np.array([era.after for era in found]) + prior[:, None]
    before = np.array([era.before for era in found]) - np.log(len(names))
    changed = before[:, None, :] + after[None, :, :] + np.log(_CHANGE_BEFORE)
    changed -= np.log(max(days.size, 1))
    top = max(never.max(), changed.max(initial=-np.inf))
    now = np.exp(never - top) + np.exp(changed - top).sum(axis=(0, 2))
    best = int(np.argmax(now))
    by_day = np.exp(changed[:, best, :] - top)
    since, earlier = None, None
    if by_day.sum() > CLEAR * np.exp(never[best] - top):
        old, when = np.unravel_index(int(np.argmax(by_day)), by_day.shape)
        since, earlier = float(days[when]), names[int(old)]
    return _practice(
        rows.since(since), policies, names[best], stated, rated,
        chance=float(now[best] / now.sum()), since=since, before=earlier,
    )  # fmt: skip


@dataclass(frozen=True)
class _Stints:
    """Installations as arrays."""

    hours_in: Floats
    hours_out: Floats
    day_in: Floats
    day_out: Floats
    planned: npt.NDArray[np.bool_]

    @classmethod
    def of(cls, *columns: npt.ArrayLike) -> _Stints:
        into, out, start, end = (np.atleast_1d(np.asarray(c, float)) for c in columns[:4])
        if not (out >= into).all() or not (end >= start).all():
            raise DecisionError("An installation ends before it begins; correct its hours or days.")
        return cls(into, out, start, end, np.atleast_1d(np.asarray(columns[4], bool)))

    def days_of_change(self) -> Floats:
        """Days on which the way of working may have changed: just before a head came out."""
        days = np.unique(self.day_out) - 0.5
        days = days[(days > self.day_in.min(initial=np.inf)) & (days < self.day_out.max(initial=0))]
        if days.size > _MOST_DAYS:
            days = days[np.linspace(0, days.size - 1, _MOST_DAYS).astype(int)]
        return np.asarray(days, float)

    def age_on(self, day: float) -> Floats:
        """Age of each head on a day within its installation, else at the nearer end [h]."""
        length = np.maximum(self.day_out - self.day_in, 1e-9)
        part = np.clip((day - self.day_in) / length, 0.0, 1.0)
        return np.asarray(self.hours_in + part * (self.hours_out - self.hours_in), float)

    def since(self, day: float | None) -> _Stints:
        """Give what lies after a day."""
        if day is None or day == -np.inf:
            return self
        rest = self.day_out > day
        return _Stints(
            self.age_on(day)[rest],
            self.hours_out[rest],
            np.maximum(self.day_in, day)[rest],
            self.day_out[rest],
            self.planned[rest],
        )


@dataclass(frozen=True)
class _Eras:
    """Log marginal likelihood of one policy: over all records, up to each day, and from it on."""

    whole: float
    before: Floats
    after: Floats

    @classmethod
    def of(cls, rows: _Stints, age: float, rated: float, days: Floats) -> _Eras:
        def height(start: Floats, end: Floats, planned: npt.NDArray[np.bool_]) -> float:
            # A swap a little early is one at the age; running counts as past it from the age on.
            below = np.maximum(np.minimum(end, age) - start, 0.0)
            past = np.maximum(end - np.maximum(start, age), 0.0)
            late = planned & (end >= EARLY * age)
            counts = int((planned & ~late).sum()), int(late.sum())
            hours = float(below.sum()) / rated, float(past.sum()) / rated
            return _gamma(counts[0], hours[0], _BELOW) + _gamma(counts[1], hours[1], _PAST)

        before, after = np.empty(days.size), np.empty(days.size)
        for which, day in enumerate(days):
            then = rows.age_on(day)
            gone = rows.day_out <= day
            before[which] = height(rows.hours_in, then, rows.planned & gone)
            rest = rows.since(day)
            after[which] = height(rest.hours_in, rest.hours_out, rest.planned)
        return cls(height(rows.hours_in, rows.hours_out, rows.planned), before, after)


def _gamma(count: int, hours: float, prior: tuple[float, float]) -> float:
    """Log marginal likelihood of events at a constant rate, the rate gamma distributed."""
    shape, rate = prior
    height = gammaln(shape + count) - gammaln(shape) + shape * np.log(rate)
    return float(height - (shape + count) * np.log(rate + hours))


def _practice(
    rows: _Stints,
    policies: Mapping[str, float],
    name: str,
    stated: str,
    rated: float,
    chance: float,
    since: float | None,
    before: str | None,
) -> Practice:
    age, asked = policies[name], policies[stated]
    late = rows.planned & (rows.hours_out >= EARLY * age)
    past = np.maximum(rows.hours_out - np.maximum(rows.hours_in, age), 0.0)
    # Heads that came out a little early count as swapped on time.
    lag = (float(past.sum()) + _LAG_BEFORE * rated) / (int(late.sum()) + 1.0)
    came_to_it = (rows.hours_out >= asked) & (asked < np.inf)
    allowed = np.maximum(asked, rows.hours_in) + (RAN_PAST - 1.0) * rated
    return Practice(
        policy=name,
        swap_at=age,
        chance=chance,
        since=since,
        before=before,
        lag_hours=lag if age < np.inf else 0.0,
        swaps=int(late.sum()) if age < np.inf else 0,
        stated=stated,
        reached=int(came_to_it.sum()),
        ran_past=int((came_to_it & (rows.hours_out > allowed)).sum()),
        taken_working=int(rows.planned.sum()),
    )
