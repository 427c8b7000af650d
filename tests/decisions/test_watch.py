from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from headlife.decisions.watch import watch_list
from headlife.errors import DecisionError
from headlife.futures.demand import KnownLife
from headlife.life.groups import Group


def heads(*ages, head_type="A", role="model"):
    return pd.DataFrame(
        {
            "head": [f"H{number}" for number in range(len(ages))],
            "head_type": head_type,
            "role": role,
            "age_hours": ages,
        }
    )


def test_known_life_gives_the_conditional_reliability():
    watch = watch_list(heads(0.0, 800.0), {Group("A", "model"): [KnownLife(2.5, 1500.0)]}, 96.0)
    by_head = watch.set_index("head")
    old = np.exp((800 / 1500) ** 2.5 - (896 / 1500) ** 2.5)
    new = np.exp(-((96 / 1500) ** 2.5))
    assert by_head.loc["H1", ["probability", "low", "high"]].tolist() == pytest.approx([old] * 3)
    assert by_head.loc["H0", "probability"] == pytest.approx(new)
    assert watch["head"].tolist() == ["H1", "H0"]
    assert (watch["build_hours"] == 96.0).all()


def test_modes_multiply():
    wear, damage = KnownLife(3.0, 1500.0), KnownLife(1.0, 4000.0)
    by = {
        name: watch_list(heads(700.0), {Group("A", "model"): lives}, 50.0)["probability"][0]
        for name, lives in (("wear", [wear]), ("damage", [damage]), ("both", [wear, damage]))
    }
    assert by["both"] == pytest.approx(by["wear"] * by["damage"])


def test_posterior_bounds_are_those_of_the_life_for_a_new_head(record):
    life = record(25, 2.0, 1800.0, 1400.0, seed=1)
    row = watch_list(heads(0.0), {Group("A", "model"): [life]}, 400.0, draws=100_000).iloc[0]
    low, high = life.reliability_bounds(400.0, confidence=0.90)
    assert (row["low"], row["high"]) == pytest.approx((low, high), abs=2e-3)
    assert row["low"] < row["probability"] < row["high"]


def test_longer_builds_and_older_wearing_heads_are_riskier(record):
    life = record(60, 3.0, 1200.0, 1400.0, seed=2)
    watch = watch_list(heads(0.0, 300.0, 900.0), {Group("A", "model"): [life]}, 96.0)
    assert watch["head"].tolist() == ["H2", "H1", "H0"]
    longer = watch_list(heads(0.0, 300.0, 900.0), {Group("A", "model"): [life]}, 200.0)
    assert (longer["probability"] < watch["probability"]).all()


def test_a_stratum_without_lives_has_no_number_and_loses_no_row():
    fleet = pd.concat([heads(100.0), heads(200.0, role="support")], ignore_index=True)
    watch = watch_list(fleet, {Group("A", "model"): [KnownLife(2.0, 1000.0)]}, 96.0)
    assert len(watch) == 2
    assert watch.set_index("role")["probability"].isna().to_dict() == {
        "model": False,
        "support": True,
    }
    assert watch_list(fleet.iloc[:0], {}, 96.0).empty


def test_a_head_far_past_any_drawn_life_cannot_finish():
    row = watch_list(heads(9000.0), {Group("A", "model"): [KnownLife(20.0, 10.0)]}, 96.0).iloc[0]
    assert row["probability"] == 0.0


def test_other_strata_do_not_change_an_answer(record):
    life, other = record(20, 2.0, 1500.0, 1200.0, seed=3), record(9, 2.0, 900.0, 800.0, seed=4)
    fleet = pd.concat([heads(500.0), heads(200.0, head_type="B")], ignore_index=True)
    alone = watch_list(fleet, {Group("A", "model"): [life]}, 96.0)
    both = watch_list(fleet, {Group("B", "model"): [other], Group("A", "model"): [life]}, 96.0)
    columns = ["probability", "low", "high"]
    assert (
        alone.loc[alone["head_type"] == "A", columns].to_numpy().tobytes()
        == both.loc[both["head_type"] == "A", columns].to_numpy().tobytes()
    )


@pytest.mark.parametrize("build", [0, -96, float("nan"), "96"])
def test_a_build_has_a_length(build):
    with pytest.raises(DecisionError, match="length of the build"):
        watch_list(heads(1.0), {}, build)
