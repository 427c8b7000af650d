"""The same data through other open libraries: fits, curves and plans must agree.

lifelines (with and without entry), reliability, SurPyval; versions as pinned in the lock file.
"""

from __future__ import annotations

import warnings

import lifelines
import numpy as np
import pandas as pd
import pytest
import reliability.Reliability_testing as testing
from reliability.Fitters import Fit_Weibull_2P

from headlife.life import demonstration, demonstration_hours
from validation import cases
from validation.answers import fits
from validation.answers.records import cumulative_incidence, failure_steps


def lives(name):
    case = cases.load(name)
    weights = case.array("count") if "count" in case.data else None
    failed = case.array("failed") if "failed" in case.data else np.ones(len(case.array("exit")))
    return case.array("exit").astype(float), failed.astype(bool), weights


@pytest.mark.parametrize(
    "name", ["nist_weibull", "shock_absorbers", "bearing_cages", "ball_bearings"]
)
def test_lifelines_finds_the_same_life(name):
    exit_, failed, weights = lives(name)
    ours = fits.fit(exit_, failed, reference=float(exit_.max()), weights=weights)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # its variance estimate warns on steep likelihoods
        theirs = lifelines.WeibullFitter().fit(exit_, failed, weights=weights)
    assert ours.shape == pytest.approx(theirs.rho_, rel=2e-4)
    assert ours.scale == pytest.approx(theirs.lambda_, rel=2e-4)


def test_lifelines_finds_the_same_life_with_late_entry():
    table = cases.load("circuit_breakers").table
    ours = fits.fit(table["exit"], table["failed"] == 1, entry=table["entry"], reference=50.0)
    theirs = lifelines.WeibullFitter().fit(table["exit"], table["failed"], entry=table["entry"])
    assert ours.shape == pytest.approx(theirs.rho_, rel=2e-4)
    assert ours.scale == pytest.approx(theirs.lambda_, rel=2e-4)


def test_surpyval_finds_the_same_life_with_late_entry():
    surpyval = pytest.importorskip("surpyval")
    table = cases.load("circuit_breakers").table
    ours = fits.fit(table["exit"], table["failed"] == 1, entry=table["entry"], reference=50.0)
    theirs = surpyval.Weibull.fit(
        x=table["exit"].to_numpy(float), c=1 - table["failed"], tl=table["entry"].to_numpy(float)
    )
    scale, shape = theirs.params
    assert ours.shape == pytest.approx(shape, rel=1e-4)
    assert ours.scale == pytest.approx(scale, rel=1e-4)


@pytest.mark.parametrize("name", ["nist_weibull", "shock_absorbers", "ball_bearings"])
def test_reliability_finds_the_same_life(name):
    exit_, failed, _ = lives(name)
    ours = fits.fit(exit_, failed, reference=float(exit_.max()))
    theirs = Fit_Weibull_2P(
        failures=exit_[failed],
        right_censored=exit_[~failed] if (~failed).any() else None,
        show_probability_plot=False,
        print_results=False,
    )
    assert ours.shape == pytest.approx(theirs.beta, rel=2e-4)
    assert ours.scale == pytest.approx(theirs.alpha, rel=2e-4)
    assert ours.estimate.log_likelihood == pytest.approx(theirs.loglik, abs=1e-4)


def test_kaplan_meier_is_open_on_the_left():
    # one head enters at 2 exactly when another fails: it is not at risk for that failure
    steps = failure_steps([2.0, 5.0, 9.0], [True, True, True], entry=[0.0, 2.0, 0.0])
    assert steps["at_risk"].tolist() == [2, 2, 1]


def test_aalen_johansen_of_lifelines_agrees():
    table = cases.load("mgus_first_event").table
    code = table["event"].map({"pcm": 1, "death": 2}).fillna(0).astype(int)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it breaks ties at random and says so
        fitter = lifelines.AalenJohansenFitter(calculate_variance=False, seed=1).fit(
            table["exit"], code, event_of_interest=1
        )
    days = np.array([3650.0, 7300.0, 10950.0])
    curve = fitter.cumulative_density_.iloc[:, 0]
    theirs = curve.to_numpy()[np.searchsorted(curve.index.to_numpy(), days, side="right") - 1]
    ours = cumulative_incidence(table["exit"], code > 0, code == 1, days)
    assert ours == pytest.approx(theirs, abs=2e-4)  # ties broken at random


@pytest.mark.parametrize("share", [0.90, 0.95, 0.99])
@pytest.mark.parametrize("confidence", [0.80, 0.90, 0.95])
@pytest.mark.parametrize(("lengths", "shape"), [(1, 1.0), (2, 1.5), (3, 3.0)])
def test_reliability_plans_the_same_success_run(share, confidence, lengths, shape):
    ours = demonstration.heads_needed(share, confidence, lengths=lengths, shape=shape)
    theirs = testing.sample_size_no_failures(
        reliability=share,
        CI=confidence,
        lifetimes=lengths,
        weibull_shape=shape,
        print_results=False,
    )
    assert ours == theirs


@pytest.mark.parametrize(("heads", "failures"), [(30, 1), (20, 2), (200, 17)])
def test_reliability_finds_the_same_exact_limits(heads, failures):
    low, high = testing.one_sample_proportion(
        trials=heads, successes=heads - failures, CI=0.90, print_results=False
    )
    ours = demonstration.failing_share_limits(heads, failures, 0.90)
    assert ours == pytest.approx((1 - high, 1 - low), abs=1e-9)


def test_without_a_failure_that_library_states_one_side_only():
    low, _ = testing.one_sample_proportion(trials=59, successes=59, CI=0.90, print_results=False)
    assert demonstration.share_shown(59, 0, 0.90) == pytest.approx(low, abs=1e-9)


@pytest.mark.parametrize("failures", [0, 1, 4])
def test_reliability_finds_the_same_mtbf(failures):
    planner = testing.reliability_test_planner(
        test_duration=20_000.0,
        number_of_failures=failures,
        CI=0.90,
        one_sided=True,
        print_results=False,
    )
    assert demonstration_hours.mtbf_bound(20_000.0, failures, 0.90) == pytest.approx(planner.MTBF)


def test_reliability_stops_one_failure_short_of_both_risks():
    # It returns the longest plan that still misses the producer's risk; ours is the next one.
    theirs = testing.reliability_test_duration(
        MTBF_required=1000.0,
        MTBF_design=2000.0,
        consumer_risk=0.10,
        producer_risk=0.20,
        print_results=False,
        show_plot=False,
    )
    ours = demonstration_hours.plan_hours_both_risks(1000.0, 2000.0, 0.10, 0.20)
    one_less = ours.failures_allowed - 1
    assert demonstration_hours.hours_needed(1000.0, 0.90, one_less) == pytest.approx(theirs)
    assert 1.0 - demonstration_hours.chance_of_passing_hours(theirs, one_less, 2000.0) > 0.20
    assert ours.producer_risk <= 0.20


def test_a_weighted_table_is_the_same_as_its_rows():
    case = cases.load("bearing_cages")
    count = case.array("count")
    rows = pd.DataFrame({"exit": case.array("exit"), "failed": case.array("failed")})
    long = rows.loc[rows.index.repeat(count)]
    weighted = fits.fit(rows["exit"], rows["failed"], reference=8000.0, weights=count)
    plain = fits.fit(long["exit"], long["failed"], reference=8000.0)
    assert weighted.shape == pytest.approx(plain.shape, rel=1e-9)
    assert weighted.evidence.heads == plain.evidence.heads == 1703
