from __future__ import annotations

import math

import pytest

from headlife.errors import DecisionError
from headlife.shop.policy import Policy, compared_policies


def test_a_policy_without_arguments_runs_to_failure():
    assert (Policy().comes_out_at, Policy().name) == (math.inf, "run to failure")
    assert Policy(1200.0).comes_out_at == 1200.0


@pytest.mark.parametrize(
    ("policy", "out"),
    [
        (Policy(1200.0, build_hours=96.0), 1248.0),
        (Policy(1152.0, build_hours=96.0), 1152.0),
        (Policy(1.0, build_hours=0.1), 1.0),  # a tenth has no exact binary fraction
        (Policy(50.0, build_hours=96.0), 96.0),
        (Policy(build_hours=96.0), math.inf),
        (Policy(1200.0, build_hours=96.0, never_past=True), 1152.0),
        (Policy(1200.0, build_hours=1200.0, never_past=True), 1200.0),
    ],
)
def test_between_builds_a_head_waits_for_the_end_or_comes_out_before_it(policy, out):
    assert policy.comes_out_at == pytest.approx(out, rel=1e-12)


def test_jobs_are_counted_and_an_age_may_come_first():
    assert Policy(jobs=12, build_hours=80.0).comes_out_at == 960.0
    assert Policy(jobs=12, build_hours=80.0).name == "after 12 jobs of 80 h"
    assert Policy(700.0, jobs=12, build_hours=80.0).comes_out_at == 720.0


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"swap_at": 0.0}, "swapped must be above zero"),
        ({"swap_at": None}, "must be a number"),
        ({"swap_at": math.nan}, "finite"),
        ({"join_from": -1.0}, "along cannot be below zero"),
        ({"build_hours": -96.0}, "length of a build cannot be below zero"),
        ({"swap_at": 50.0, "build_hours": 96.0, "never_past": True}, "state a shorter build"),
        ({"jobs": 12}, "jobs of a known length; got 12 jobs of 0 h"),
        ({"jobs": 2.5, "build_hours": 10.0}, "whole number of jobs"),
        ({"jobs": 0, "build_hours": 10.0}, "above zero"),
    ],
)
def test_a_policy_that_makes_no_sense_is_one_sentence(given, says):
    with pytest.raises(DecisionError, match=says) as caught:
        Policy(**given)
    assert str(caught.value).endswith(".")


def test_the_policies_people_compare():
    listed = compared_policies(
        1200.0, notice_hours=1080.0, proposed=[1500.0, 1200.0, math.inf], build_hours=96.0
    )
    assert [one.name for one in listed] == [
        "at the notice", "at the rating", "at the rating, between builds",
        "at 1,500 h", "at 1,500 h, between builds", "run to failure",
    ]  # fmt: skip
    assert [one.name for one in compared_policies(1200.0)] == ["at the rating", "run to failure"]


def test_of_quality_critical_heads_policies_past_the_rating_are_not_advised():
    listed = compared_policies(
        800.0, notice_hours=720.0, proposed=[1000.0], build_hours=96.0, never_past=True
    )
    assert sum("not advised" in one.name for one in listed) == 3
    assert [one.comes_out_at for one in listed if one.build_hours] == [768.0, 960.0]
