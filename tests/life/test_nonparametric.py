"""Kaplan-Meier steps and plotting positions against published curves and the rule they follow."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from headlife.life.nonparametric import heads_at_risk, kaplan_meier, plotting_positions
from headlife.show.figures.probability import weibull_scale
from validation import cases


def lives_of(entry, leave):
    return pd.DataFrame({"entry_hours": np.asarray(entry, float), "exit_hours": leave})


def test_steps_agree_with_the_printed_leukaemia_curve():
    case = cases.load("aml_maintenance")  # printed by R survival, read in its repository
    lives = lives_of(np.zeros(11), case.array("maintained_exit"))
    steps = kaplan_meier(lives, case.array("maintained_failed"))
    events = steps[steps["failures"] > 0]
    assert case.expected["m_time"].agrees(events["hours"])
    assert case.expected["m_at_risk"].agrees(events["at_risk"])
    assert case.expected["m_surv"].agrees(events["survival"])


def test_steps_with_late_entry_agree_with_the_published_example():
    case = cases.load("late_entries")  # compared with R by the lifelines developers
    lives = lives_of(case.array("entry"), case.array("exit"))
    steps = kaplan_meier(lives, case.array("failed"))
    events = steps[steps["failures"] > 0]
    assert case.expected["time"].agrees(events["hours"])
    assert case.expected["at_risk"].agrees(events["at_risk"])
    assert case.expected["surv_exact"].agrees(events["survival"])


def test_at_risk_is_open_at_entry_and_closed_at_exit():
    lives = lives_of([0, 100], [100, 300])
    hours = [0, 50, 100, 100.001, 300, 300.001]
    assert heads_at_risk(lives, hours).tolist() == [1, 1, 1, 1, 1, 0]


def test_no_head_at_all_draws_no_steps():
    assert kaplan_meier(lives_of([], []), []).empty


def test_complete_sample_is_plotted_at_median_ranks():
    # Benard's approximation of the median rank, (i - 0.3) / (n + 0.4): NIST e-Handbook 8.2.2.1.
    hours = np.array([310.0, 90.0, 150.0, 700.0, 420.0])
    points = plotting_positions(lives_of(np.zeros(5), hours), np.ones(5, bool))
    assert points["hours"].tolist() == sorted(hours)
    assert points["share_failed"].to_numpy() == pytest.approx((np.arange(1, 6) - 0.3) / 5.4)


def test_points_of_the_nist_example_give_its_printed_line():
    # NIST fits a straight line through the points on Weibull paper; 10 of 20 failed by 500 h.
    case = cases.load("nist_weibull")
    points = plotting_positions(
        lives_of(np.zeros(20), case.array("exit").astype(float)), case.array("failed")
    )
    slope, intercept = np.polyfit(
        np.log10(points["hours"]), weibull_scale(points["share_failed"]) / np.log(10), 1
    )
    assert case.expected["rank_regression_slope"].agrees(slope)
    assert case.expected["rank_regression_intercept"].agrees(intercept)


def test_head_taken_out_at_the_hour_of_a_failure_ranks_after_it():
    hours = np.full(40, 100.0)
    failed = np.arange(40) < 20
    points = plotting_positions(lives_of(np.zeros(40), hours), failed)
    assert points["share_failed"].to_numpy() == pytest.approx((np.arange(1, 21) - 0.3) / 40.4)


def test_late_entries_are_plotted_at_the_middle_of_each_step():
    case = cases.load("late_entries")
    lives = lives_of(case.array("entry"), case.array("exit"))
    points = plotting_positions(lives, case.array("failed"))
    surv = np.array([1.0, *case.expected["surv_exact"].value])
    middles = 1 - (surv[:-1] + surv[1:]) / 2
    assert points["share_failed"].to_numpy() == pytest.approx(middles, abs=1e-9)


def test_steps_with_late_entry_agree_with_lifelines():
    # lifelines 0.30.3, KaplanMeierFitter.fit(durations, event_observed, entry=...); it stops
    # where the heads at risk run out early, so those simulated records are left to the next test.
    from lifelines import KaplanMeierFitter
    from lifelines.exceptions import StatError

    rng, compared = np.random.default_rng(8), 0
    for _ in range(30):
        entry = np.where(rng.random(25) < 0.5, 0.0, 200 * rng.random(25)).round()
        leave = (entry + 1 + 500 * rng.weibull(1.5, 25)).round()
        failed = rng.random(25) < 0.6
        try:
            theirs = KaplanMeierFitter().fit(leave, failed, entry=entry)
        except StatError:
            continue
        ours = kaplan_meier(lives_of(entry, leave), failed).set_index("hours")["survival"]
        known = theirs.survival_function_.iloc[:, 0]
        assert ours[known.index].to_numpy() == pytest.approx(known.to_numpy(), abs=1e-12)
        compared += 1
    assert compared > 20


def test_nothing_is_known_past_a_failure_of_the_only_head_at_risk():
    entry, leave = [10.0, 200.0, 170.0, 150.0, 160.0], [100.0, 250.0, 350.0, 400.0, 300.0]
    failed = np.array([True, False, True, True, False])
    lives = lives_of(entry, leave)
    steps = kaplan_meier(lives, failed).set_index("hours")
    assert steps.loc[10.0, "survival"] == 1.0 and steps.loc[100.0, "at_risk"] == 1
    assert steps.loc[100.0:, "survival"].isna().all()
    points = plotting_positions(lives, failed)
    assert points["hours"].tolist() == [100.0, 350.0, 400.0]
    assert points["share_failed"].isna().all()


def test_the_last_head_of_all_to_fail_ends_the_curve_at_nothing():
    steps = kaplan_meier(lives_of([0.0, 50.0], [100.0, 300.0]), [True, True])
    assert steps["survival"].tolist() == pytest.approx([1.0, 1.0, 0.5, 0.0])
