"""Other kinds of life: held against the Weibull posterior, against laws and against simulation."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ndtri

from headlife.errors import EvidenceError
from headlife.life.evidence import Evidence
from headlife.life.kinds import BEFORE, LOG_LOGISTIC, LOG_NORMAL, WEIBULL, kinds_of_life
from headlife.life.posterior import fit_life

RATED = 900.0


@pytest.mark.parametrize(
    ("heads", "until", "late", "between"),
    [(30, RATED, False, False), (15, 9e9, False, False), (60, RATED, True, False),
     (300, RATED, False, False), (25, 300.0, False, False), (40, RATED, False, True)],
)  # fmt: skip
def test_the_weibull_kind_is_the_exact_posterior(simulate, heads, until, late, between):
    lives = simulate(heads, until=until, late=late, seed=heads)
    good = np.where(lives.failed, np.maximum(0.8 * lives.exit, lives.entry + 1.0), np.nan)
    more = {"last_good_hours": good} if between else {}
    exact = fit_life(lives.evidence(RATED, **more)).probability_reliability_above(0.6, RATED)
    found = kinds_of_life(lives.entry, lives.exit, lives.failed, RATED, 0.6, **more)
    assert found.of(WEIBULL).probability == pytest.approx(exact, abs=0.004)


def test_without_a_failure_no_kind_fits_better():
    found = kinds_of_life(0.0, np.full(20, 300.0), np.zeros(20, bool), RATED)
    assert {kind.name: kind.weight for kind in found.kinds} == pytest.approx(BEFORE, abs=1e-3)


def test_where_heads_are_watched_to_the_rating_only_the_kinds_agree(simulate):
    """The share is then counted, not extrapolated: no kind of life can matter much."""
    lives = simulate(200, until=330.0, seed=3)
    found = kinds_of_life(lives.entry, lives.exit, lives.failed, 330.0, 0.9)
    chances = [kind.probability for kind in found.kinds]
    assert max(chances) - min(chances) < 0.05


def test_unit_of_hours_and_order_of_lives_do_not_matter(simulate):
    lives = simulate(40, until=9e9, seed=4)
    one = kinds_of_life(lives.entry, lives.exit, lives.failed, RATED)
    days = kinds_of_life(lives.entry, lives.exit[::-1] / 24.0, lives.failed[::-1], RATED / 24.0)
    for a, b in zip(one.kinds, days.kinds, strict=True):
        assert a.probability == pytest.approx(b.probability, abs=1e-9)
        assert a.weight == pytest.approx(b.weight, abs=1e-9)


@pytest.mark.parametrize("name", [WEIBULL, LOG_NORMAL, LOG_LOGISTIC])
def test_with_many_failures_the_true_kind_wins(name):
    # log-normal and log-logistic take about 2,000 failures to be told apart with certainty
    rng = np.random.default_rng(6)
    deviate = {
        WEIBULL: lambda u: np.log(-np.log1p(-u)),
        LOG_NORMAL: ndtri,
        LOG_LOGISTIC: lambda u: np.log(u / (1.0 - u)),
    }[name]
    ages = np.exp(6.8 + 0.4 * deviate(rng.random(2000)))
    found = kinds_of_life(0.0, ages, np.ones(2000, bool), RATED)
    assert max(found.kinds, key=lambda kind: kind.weight).name == name
    assert sum(kind.weight for kind in found.kinds) == pytest.approx(1.0)


def test_weights_against_the_likelihood_at_its_peak():
    """With many failures the marginal likelihoods differ as the peaks do (lifelines, 0.30)."""
    lifelines = pytest.importorskip("lifelines")
    rng = np.random.default_rng(6)
    ages = np.exp(6.8 + 0.5 * rng.normal(size=150))
    found = kinds_of_life(0.0, ages, np.ones(150, bool), RATED)
    peaks = {
        WEIBULL: lifelines.WeibullFitter().fit(ages).log_likelihood_,
        LOG_NORMAL: lifelines.LogNormalFitter().fit(ages).log_likelihood_,
        LOG_LOGISTIC: lifelines.LogLogisticFitter().fit(ages).log_likelihood_,
    }
    for name in (WEIBULL, LOG_LOGISTIC):
        ours = np.log(found.of(LOG_NORMAL).weight / found.of(name).weight)
        ours -= np.log(BEFORE[LOG_NORMAL] / BEFORE[name])
        # the curvature at the peak differs a little between kinds
        assert ours == pytest.approx(peaks[LOG_NORMAL] - peaks[name], abs=1.0)


def test_lives_without_hours_are_refused():
    with pytest.raises(EvidenceError, match="no running hours"):
        kinds_of_life([5.0], [5.0], [False], RATED)


def test_a_log_normal_life_is_seldom_called_short_once_other_kinds_are_allowed():
    """The fault: 40 log-normal failures, the claim true at its edge, wrong in about 3 of 10."""
    rng = np.random.default_rng(7)
    location = np.log(RATED) - 0.5 * ndtri(0.1)
    alone = averaged = 0
    for _ in range(60):
        ages = np.exp(location + 0.5 * rng.normal(size=40))
        evidence = Evidence.from_lives(0.0, ages, np.ones(40, bool), reference_hours=RATED)
        alone += fit_life(evidence).probability_reliability_above(0.9, RATED) <= 0.05
        averaged += kinds_of_life(0.0, ages, np.ones(40, bool), RATED).probability <= 0.05
    assert alone > 9
    assert averaged <= 7  # 6 % and three deviations of 60 shops
