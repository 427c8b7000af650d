"""A rating is not settled: what would settle it, and how likely is that soon?

From the posterior of a life and the fleet as it stands: the coming quarters are simulated under
each policy, their evidence is added to what is known, and the claim is judged again, so that the
chance of a verdict is what it will mean. Also the fewest head-hours past the rating that would do
if no head failed in them. Never judges the present record and never advises a policy.

The life of the simulated fleet is drawn from the posterior, so the chances carry what is not
known about it (a predictive probability: Spiegelhalter, Abrams and Myles, Bayesian Approaches to
Clinical Trials and Health-Care Evaluation, 2004, section 6.6).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import numpy.typing as npt

from headlife.decisions.rating import HOLDS, NOT_SETTLED, checked_claim, verdict_of
from headlife.errors import DecisionError
from headlife.futures.evidence_ahead import EvidenceAhead
from headlife.life.exposure_curve import shape_nodes
from headlife.life.many import fit_many
from headlife.life.posterior import Life
from headlife.numbers import Floats, not_negative_array
from headlife.shop.policy import Policy, compared_policies
from headlife.units import WEEKS_PER_QUARTER

if TYPE_CHECKING:
    import pandas as pd

DRAWS: Final = 300  # futures per policy; a chance is then good to about 3 points
QUARTERS: Final = (1, 2, 4)
RUN_TO: Final = 1.5  # times the rating: how far past it heads are taken to run at best


def what_would_settle(
    life: Life,
    ages: npt.ArrayLike,
    hours_per_week: npt.ArrayLike,
    rated_hours: float,
    share: float = 0.90,
    confidence: float = 0.95,
    policies: Sequence[Policy] = (),
    quarters: Sequence[int] = QUARTERS,
    draws: int = DRAWS,
    seed: int = 1,
    others: Sequence[Any] = (),
    drawn_from: Any = None,
    counted: npt.ArrayLike | None = None,
    new_counted: float = 1.0,
) -> pd.DataFrame:
    """Chance that the claim on a rating is settled after some more quarters.

    Parameters
    ----------
    life : Life
        Posterior of the mode the claim is about.
    ages : array of float
        Present age of the head in every position [h].
    hours_per_week : float or array of float
        Print hours a week, one for all or one per position [h].
    rated_hours, share, confidence : float
        The claim, as for `judge_rating`.
    policies : sequence of Policy, optional
        Default: swap at the rating, run to half past it, run to failure.
    quarters : sequence of int
        After how many quarters to judge again [-].
    draws : int
        Simulated futures per policy [-].
    seed : int
        Same seed, same answer; every policy meets the same lives.
    others : sequence of Life
        Other failure modes: they take heads out without speaking of this one.
    drawn_from : life, optional
        What is known of the life beside `life`, where that is of one lot by its own heads alone;
        futures are drawn from it. Default: `life`.
    counted : array of bool, optional
        Whether the head in each position is one that the claim is about; default all are.
    new_counted : float
        Share of new heads that are [-].

    Returns
    -------
    pandas.DataFrame
        One row per policy and number of quarters: `policy`, `swap_at` [h] (infinite: run to
        failure), `quarters`, `settled`, `holds`, `falls_short` (chances [-]), `error` (standard
        error of `settled` [-]), `head_hours`, `past_rating` (means, added [h]), `failures`
        (mean, added [heads]).

    Raises
    ------
    DecisionError
        A claim, age, hour or number that makes no sense.

    Examples
    --------
    >>> import headlife as hl
    >>> hours = [210, 340, 480, 500, 500, 500]
    >>> failed = [True, True, True, False, False, False]
    >>> evidence = hl.Evidence.from_lives(0, hours, failed, reference_hours=500)
    >>> life = hl.fit_life(evidence)
    >>> chances = hl.what_would_settle(
    ...     life, [120, 300], 40, 500, quarters=(2, 8), draws=200, seed=1
    ... )
    >>> chances["policy"].unique().tolist()
    ['at the rating', 'at 750 h', 'run to failure']
    """
    import pandas as pd

    rated, share, confidence = checked_claim(rated_hours, share, confidence)
    start, weekly = _positions(ages, hours_per_week)
    ours = None if counted is None else np.broadcast_to(np.asarray(counted, bool), start.shape)
    steps = _quarters(quarters)
    if draws < 1:
        raise DecisionError(f"The simulation needs at least one draw; got {draws}.")
    plans = policies or compared_policies(rated, proposed=[RUN_TO * rated])
    life = replace(life, evidence=life.evidence.rereference(rated))
    shapes = shape_nodes(life.evidence.log_curve.size)
    rows = []
    for policy in plans:
        rng = np.random.default_rng(seed)  # every policy meets the same lives
        modes = [each.draw(draws, rng) for each in (drawn_from or life, *others)]
        hours = weekly * WEEKS_PER_QUARTER
        ahead = EvidenceAhead(modes, start, hours, policy, rated, shapes, rng, ours, new_counted)
        for quarter in range(1, max(steps) + 1):
            ahead.run_quarter()
            if quarter in steps:
                found = _judged(life, ahead, rated, share, confidence)
                said = {"policy": policy.name, "swap_at": policy.comes_out_at}
                rows.append({**said, "quarters": quarter, **found})
    return pd.DataFrame(rows)


def _judged(
    life: Life, ahead: EvidenceAhead, rated: float, share: float, confidence: float
) -> dict[str, float]:
    """Judge every future again with its evidence added."""
    known, draws = life.evidence, ahead.failures.size
    with np.errstate(divide="ignore"):
        curves = np.logaddexp(known.log_curve, np.log(ahead.exposure))
    grown = [
        replace(
            known,
            failures=known.failures + float(ahead.failures[draw]),
            log_sum=known.log_sum + float(ahead.log_sum[draw]),
            log_curve=curves[draw],
            heads=known.heads + float(ahead.heads[draw]),
        )
        for draw in range(draws)
    ]
    lives = fit_many(grown, life.shape_prior, life.prior, life.companions)
    chances = lives.probability_reliability_above(share, rated).tolist()
    verdicts = [verdict_of(chance, confidence) for chance in chances]
    held = sum(verdict == HOLDS for verdict in verdicts) / draws
    open_ = sum(verdict == NOT_SETTLED for verdict in verdicts) / draws
    settled = 1.0 - open_
    return {
        "settled": settled,
        "holds": held,
        "falls_short": settled - held,
        "error": float(np.sqrt(settled * open_ / draws)),
        "head_hours": float(ahead.head_hours.mean()),
        "past_rating": float(ahead.past_rating.mean()),
        "failures": float(ahead.failures.mean()),
    }


def _positions(ages: npt.ArrayLike, hours_per_week: npt.ArrayLike) -> tuple[Floats, Floats]:
    start = not_negative_array("Ages of heads", ages, "[h]")
    weekly = not_negative_array("Print hours a week", hours_per_week, "[h]")
    if weekly.size not in (1, start.size):
        raise DecisionError(
            f"There are {start.size} positions but {weekly.size} numbers of print hours a week; "
            "give one for all or one for each."
        )
    if not start.size:
        raise DecisionError("No head is in service, so no quarter would add anything.")
    return start, np.asarray(np.broadcast_to(weekly, start.shape), float)


def _quarters(quarters: Sequence[int]) -> tuple[int, ...]:
    steps = tuple(int(quarter) for quarter in quarters)
    if not steps or min(steps) < 1 or any(s != q for s, q in zip(steps, quarters, strict=True)):
        raise DecisionError(f"Quarters must be whole numbers from 1; got {tuple(quarters)}.")
    return steps
