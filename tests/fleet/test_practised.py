"""What is stated beside what is done: shops that do something else are asked, others are not."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import headlife as hl
from headlife.show.words.practice import practice_sentence
from studies.changing_shops.shops import RATED_HOURS, Truth, record

DEMO = Path(__file__).parents[2] / "data_demo"
SETTINGS = f"""
name = "Lantern Works"
[reasons.failures]
"worn out" = "wear"
[reasons.suspensions]
"swapped" = "planned swap"
[head_types."Plain"]
rated_hours = {RATED_HOURS:g}
[spares]
lead_time_weeks = 6
review_weeks = 13
service_level = 0.95
[policy]
swap_at = "rating"
"""


def case(tmp_path, truth, weeks=104.0, change=np.inf, settings=SETTINGS, seed=1):
    """Write the records of a simulated shop and read them."""
    rows = record(truth, weeks, change, np.random.default_rng(seed))
    reason = np.where(rows.failed, "worn out", np.where(rows.used_up, "swapped", ""))
    first = np.datetime64("2024-01-01")
    table = pd.DataFrame(
        {
            "head": [f"H{number:04d}" for number in range(rows.printer.size)],
            "head_type": "Plain",
            "role": np.where(rows.position == 0, "model", "support"),
            "printer": [f"P{number}" for number in rows.printer],
            "position": np.where(rows.position == 0, "left", "right"),
            "date_in": first + rows.day_in.astype("timedelta64[D]"),
            "hours_in": rows.hours_in.round(1),
            "date_out": first + rows.day_out.astype("timedelta64[D]"),
            "hours_out": rows.hours_out.round(1),
            "reason": reason,
        }
    )
    table = table[table["hours_out"] > table["hours_in"]]
    (tmp_path / "shop.toml").write_text(settings)
    table.to_csv(tmp_path / "records.csv", index=False)
    return hl.read_case(tmp_path / "records.csv", shop=tmp_path / "shop.toml")


def test_heads_run_to_failure_though_the_settings_say_swap(tmp_path):
    found = case(tmp_path, Truth(printers=8)).fleet.practised[0]
    assert found.other_policy
    assert found.settings == {"swap_at": "failure"}
    said = practice_sentence(found)
    assert said.startswith("Plain: the settings say swap at the rating; by the records it is run")
    assert f"{found.practice.ran_past} of {found.practice.reached} heads" in said
    assert "Which is true?" in said


def test_a_change_of_policy_is_told_with_its_day(tmp_path):
    settings = SETTINGS.replace('swap_at = "rating"', 'swap_at = "failure"')
    truth = Truth(printers=10, swap_at=RATED_HOURS, lag=30.0)
    found = case(tmp_path, truth, 130.0, 104.0, settings).fleet.practised[0]
    assert found.practice.policy == "at the rating"
    assert abs((found.since - pd.Timestamp("2024-01-01").date()).days - 728) < 30
    assert found.settings == {"swap_at": "rating"}


def test_both_heads_in_one_visit_are_told(tmp_path):
    truth = Truth(
        printers=12, swap_at=RATED_HOURS, swap_before=RATED_HOURS, join_from=0.6 * RATED_HOURS
    )
    found = case(tmp_path, truth).fleet.practised[0]
    assert found.other_visits
    assert found.visits.join_from == pytest.approx(0.6 * RATED_HOURS)
    assert not found.other_policy
    assert "other head was swapped too, from about 900 h on" in practice_sentence(found)


@pytest.mark.parametrize("seed", range(3))
def test_a_shop_that_does_what_it_says_is_asked_nothing(tmp_path, seed):
    truth = Truth(printers=8, swap_at=RATED_HOURS, swap_before=RATED_HOURS, lag=40.0)
    found = case(tmp_path, truth, seed=seed).fleet.practised[0]
    assert practice_sentence(found) == ""
    assert found.settings == {}


def test_the_demo_shop_does_what_it_says():
    shop = hl.read_case(DEMO / "removals.csv", shop=DEMO / "shop.toml")
    assert [practice_sentence(found) for found in shop.fleet.practised] == ["", ""]


def test_settings_as_practised_are_settings(tmp_path):
    found = case(tmp_path, Truth(printers=8))
    change = found.fleet.practised[0].settings
    assert found.with_(policy=change).fleet.practised[0].practice.as_stated


def policy_of(found, role="model"):
    return found.fleet.follows.of("Plain", role, "P0")


def test_forecasts_follow_what_is_done_until_the_shop_says_otherwise(tmp_path):
    found = case(tmp_path, Truth(printers=8))
    assert policy_of(found).comes_out_at == np.inf
    sure = found.with_(policy={"swap_at": "rating", "confirmed": True})
    assert policy_of(sure).comes_out_at == RATED_HOURS
    assert "Forecasts follow the records" in practice_sentence(found.fleet.practised[0])
    assert "Forecasts follow the settings" in practice_sentence(sure.fleet.practised[0])
    # Heads run to failure fail more often than heads swapped at the rating.
    failures, stated = (
        hl.quarterly_review(one.with_(review={"draws": 1_000})).stock[0].demand
        for one in (found, sure)
    )
    assert failures.failure_mean > stated.failure_mean


def test_a_policy_stated_from_a_day_on_is_not_refuted_by_what_was_done_before(tmp_path):
    dated = SETTINGS.replace(
        'swap_at = "rating"', 'swap_at = "failure"\n[policy.from.2025-12-20]\nswap_at = "rating"'
    )
    found = case(tmp_path, Truth(printers=8), settings=dated)
    assert found.fleet.practised[0].settings == {}
    assert policy_of(found).comes_out_at == RATED_HOURS


def test_heads_swapped_along_unsaid_are_forecast_so(tmp_path):
    truth = Truth(
        printers=12, swap_at=RATED_HOURS, swap_before=RATED_HOURS, join_from=0.6 * RATED_HOURS
    )
    assert policy_of(case(tmp_path, truth)).join_from == pytest.approx(0.6 * RATED_HOURS)


def test_lateness_is_learned_since_the_way_of_working_changed(tmp_path):
    truth = Truth(printers=10, swap_at=RATED_HOURS, lag=30.0)
    found = case(tmp_path, truth, 143.0, 104.0)
    practice = found.fleet.practised[0].practice
    assert practice.as_stated and practice.since is not None
    assert found.fleet.swap_lag["Plain"] == practice.lag_hours < 150.0
