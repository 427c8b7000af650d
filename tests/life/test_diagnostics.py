from __future__ import annotations

import warnings

import numpy as np
import pandas as pd
import pytest

from headlife.life.diagnostics.stratum import diagnose, failure_ages
from headlife.show.words.fit import finding


def shop(failures=True, heads=60):
    """Lives and installations of a fleet swapped at its rating of 1200 h, one row each."""
    rng = np.random.default_rng(3)
    age = 1500 * rng.weibull(2.5, heads) if failures else np.full(heads, 9000.0)
    failed = age <= 1200
    place = np.arange(heads) % 6
    mode = pd.Series(np.where(failed, "wear", None), dtype="string")
    mode[np.flatnonzero(failed)[:2]] = "damage"
    lives = pd.DataFrame(
        {
            "head": [f"S{k:03d}" for k in range(heads)],
            "role": "model",
            "site": np.where(place < 3, "north", "south"),
            "material": rng.choice(["grey", "white"], heads),
            "printer": [f"P{k}" for k in place],
            "position": "left",
            "entry_hours": 0.0,
            "exit_hours": np.minimum(age, 1200.0),
            "mode": mode,
            "last_good_hours": np.nan,
            "date_bought": np.datetime64("NaT", "ns"),
            "date_first": pd.Timestamp("2023-01-01") + pd.to_timedelta(20 * np.arange(heads), "D"),
        }
    )
    runs = lives.rename(columns={"entry_hours": "hours_in", "exit_hours": "hours_out"})
    return lives, runs.assign(date_in=runs["date_first"], row=np.arange(heads) + 2)


@pytest.mark.parametrize("failures", [True, False])
def test_a_stratum_is_checked_in_one_go_without_a_warning(failures):
    lives, runs = shop(failures)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        found = diagnose(lives, runs, mode="wear", rated_hours=1200.0)
    assert [effect.factor for effect in found.effects] == ["material", "printer", "site"]
    assert len(found.parts) == 3 + len(found.effects) + 2
    assert all(sentence.endswith(".") for sentence in map(finding, found.parts))
    assert found.check.enough == failures
    # damage is no wear: it takes heads out, but it counts for the position
    assert found.check.failures == (lives["mode"] == "wear").sum()
    assert found.positions.table["failures"].sum() == lives["mode"].notna().sum()


def test_a_stratum_without_heads_has_nothing_to_tell():
    lives, runs = shop()
    found = diagnose(lives.iloc[:0], runs.iloc[:0], mode="wear", rated_hours=1200.0)
    assert not found.check.enough
    assert all("not enough to tell" in sentence for sentence in map(finding, found.parts))


def test_a_failure_between_two_readings_is_put_in_the_middle():
    lives, _ = shop()
    row = int(np.flatnonzero((lives["mode"] == "wear").fillna(False))[0])
    lives.loc[row, "last_good_hours"] = lives.loc[row, "exit_hours"] - 100.0
    _, exit_, failed = failure_ages(lives, "wear")
    assert exit_[row] == pytest.approx(lives.loc[row, "exit_hours"] - 50.0)
    assert failed.sum() == (lives["mode"] == "wear").sum()
    others = np.delete(exit_, row)
    assert others == pytest.approx(lives["exit_hours"].drop(row).to_numpy())


def test_the_same_seed_gives_the_same_findings():
    lives, runs = shop()
    one, two = (diagnose(lives, runs, mode="wear", rated_hours=1200.0, seed=4) for _ in range(2))
    assert [*map(finding, one.parts)] == [*map(finding, two.parts)]
    assert one.check.band.equals(two.check.band)
