from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from tests.written_case import case_of

import headlife as hl
from headlife.decisions.backtest import backtest
from headlife.records.used_up import new_heads_between, swaps_between
from studies.calibration import Case, simulate_shop

DEMO = Path(__file__).parents[2] / "data_demo"
SETTINGS = """
name = "Test workshop"
policy = { swap_at = "failure" }
[reasons.failures]
"worn out" = "wear"
[reasons.suspensions]
"swap at rating" = "planned swap"
"material change" = "material change"
[head_types."A"]
rated_hours = 1000
[spares]
lead_time_weeks = 6
[review]
draws = 1000
"""


def read(tmp_path, rows, settings=SETTINGS):
    case = case_of(tmp_path, settings, rows)
    return case.records, case.shop


def running_shop(rng, printers=10, years=3, rating_from="2030-01-01"):
    """Rows of heads of a Weibull(2.2, 1500 h) life at 40 h a week; later swapped at 1,000 h."""
    rows, number = [], 0
    for printer in range(printers):
        day = pd.Timestamp("2023-01-02")
        end = day + pd.Timedelta(weeks=52 * years)
        while day < end:
            weeks = 1500 * rng.weibull(2.2) / 40.0
            fails = day + pd.Timedelta(days=max(round(weeks * 7), 1))
            swapped = max(day + pd.Timedelta(days=175), pd.Timestamp(rating_from))
            out = min(fails, swapped, end)
            hours = (out - day).days / 7 * 40.0
            reason = "worn out" if out == fails else "swap at rating"
            reason = reason if out < end else ""
            number += 1
            rows.append(
                f"H{number},A,model,P{printer},left,{day:%Y-%m-%d},0,{out:%Y-%m-%d},{hours:.1f},"
                f"{reason}"
            )
            day = out
    return rows


def test_only_heads_that_are_used_up_are_counted(tmp_path):
    records, _ = read(
        tmp_path,
        [
            "H1,A,model,P1,left,2025-01-01,0,2025-02-01,100,worn out",
            "H2,A,model,P1,left,2025-02-01,0,2025-03-01,100,material change",
            "H3,A,model,P1,left,2025-03-01,0,2025-04-01,100,swap at rating",
            "H2,A,model,P1,left,2025-04-01,100,2025-05-01,200,",
        ],
    )
    assert swaps_between(records, "2025-01-01", "2025-12-31")["head"].tolist() == ["H1", "H3"]
    # The last day counts, the first does not: quarters share no day.
    assert len(swaps_between(records, "2025-02-01", "2025-04-01")) == 1
    assert len(swaps_between(records, "2025-01-31", "2025-02-01")) == 1
    # H1 came with the printer, H2 goes in twice: new heads were taken for H2 and H3.
    assert new_heads_between(records, "2024-12-31", "2025-12-31")["head"].tolist() == ["H2", "H3"]


def test_nothing_after_the_first_day_of_a_quarter_is_used(tmp_path):
    rng = np.random.default_rng(1)
    rows = running_shop(rng)
    records, shop = read(tmp_path, rows)
    whole = backtest(records, shop)
    # The same forecasts from records that end at that quarter's end.
    day = whole.quarters["ends"].iloc[4]
    cut = backtest(records, shop, as_of=day)
    same = whole.quarters[whole.quarters["ends"] <= day]
    forecast = ["mean", "low_80", "high_80", "low_95", "high_95", "level", "happened"]
    assert cut.quarters[forecast].equals(same[forecast].reset_index(drop=True))
    assert len(cut.last) == 1
    only = backtest(records, shop, as_of=day, last_only=True)
    assert only.quarters[forecast].equals(cut.last[forecast].reset_index(drop=True))


def test_each_past_quarter_is_forecast_with_the_policy_of_its_day(tmp_path):
    rows = running_shop(np.random.default_rng(4), rating_from="2025-01-01")
    stated = 'swap_at = "failure", from."2025-01-01" = { swap_at = "rating" }'
    found = {
        name: backtest(*read(tmp_path, rows, SETTINGS.replace('swap_at = "failure"', policy)))
        for name, policy in (
            ("as it was", stated),
            ("failure", 'swap_at = "failure", confirmed = true'),
            ("rating", "confirmed = true"),
        )
    }
    forecast = ["mean", "low_80", "high_80", "low_95", "high_95", "level"]
    was = found["as it was"].quarters
    before = was["ends"] < "2025-01-01"
    assert before.sum() == 6
    assert was.loc[before, forecast].equals(found["failure"].quarters.loc[before, forecast])
    # From the day of the change on, and no sooner, heads past 1,000 h are expected to come out.
    assert (was["mean"] > found["failure"].quarters["mean"] + 1.0).tolist() == (~before).tolist()
    # Today's policy alone sees heads late in every past quarter, which nobody thought of then.
    assert (found["rating"].quarters.loc[before, "mean"] > was.loc[before, "mean"]).all()
    assert was["inside_95"].all()


@pytest.mark.slow
def test_past_forecasts_cover_as_they_claim(tmp_path):
    # Eight shops of ten printers over three years, about 80 quarters; truth is in the model.
    inside, said, served = [], [], []
    for seed in range(8):
        records, shop = read(tmp_path, running_shop(np.random.default_rng(100 + seed)))
        past = backtest(records, shop, draws=1000).quarters
        inside += past["inside_80"].tolist()
        said += past["said_80"].tolist()
        served += past["served"].tolist()
    count, claimed = len(inside), float(np.mean(said))
    error = np.sqrt(claimed * (1 - claimed) / count)
    assert abs(np.mean(inside) - claimed) <= 3 * error
    assert np.mean(served) >= 0.95 - 3 * np.sqrt(0.95 * 0.05 / count)


def test_running_coverage_counts_all_forecasts_so_far(tmp_path):
    records, shop = read(tmp_path, running_shop(np.random.default_rng(2)))
    past = backtest(records, shop)
    part = past.coverage[past.coverage["interval"] == 0.80]
    inside = past.quarters["inside_80"].to_numpy()
    assert part["forecasts"].tolist() == list(range(1, len(inside) + 1))
    assert part["share"].to_numpy() == pytest.approx(inside.cumsum() / part["forecasts"])
    assert (part["low"] <= part["said"]).all()
    assert (part["high"] >= part["said"]).all()


def test_short_records_have_no_past_quarter(tmp_path):
    records, shop = read(
        tmp_path,
        [
            "H1,A,model,P1,left,2025-01-01,0,2025-05-01,700,worn out",
            "H2,A,model,P1,left,2025-05-01,0,2025-06-01,100,",
        ],
    )
    past = backtest(records, shop)
    assert past.quarters.empty
    assert past.coverage.empty
    assert past.last.empty


def test_the_demo_shop_is_forecast_fairly():
    shop = hl.read_shop(DEMO / "shop.toml")
    # With a quarter of these draws the ends of two intervals in twenty hang on the draws.
    past = backtest(hl.read_records(DEMO / "removals.csv", shop), shop, draws=4000)
    for level in (0.80, 0.95):
        row = past.coverage[past.coverage["interval"] == level].iloc[-1]
        assert row["forecasts"] == len(past.quarters)
        assert row["low"] <= row["share"] <= row["high"]


def test_simulated_records_of_the_calibration_study_hold_their_hours():
    case = Case("A", 32.0, 45.0, True, "")
    rng = np.random.default_rng(3)
    for _ in range(20):
        shop = simulate_shop(case, rng)
        assert shop.ages.size == 28
        assert shop.exit_hours.sum() <= 28 * 32 * 45
        assert shop.failed.sum() == shop.exit_hours.size - 28
        assert (shop.ages == shop.exit_hours[~shop.failed]).all()
