from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import headlife as hl
from headlife.errors import SettingsError
from headlife.fleet.lateness import late_rows, late_sums, swap_lags
from headlife.shop.policy_book import policies_after

DEMO = ("removals.csv", "shop.toml")

SETTINGS = """
name = "Test workshop"
[policy]
swap_at = "failure"
POLICY
[reasons.failures]
"worn out" = "wear"
[reasons.suspensions]
"swap at rating" = "planned swap"
[head_types."A"]
rated_hours = 1000
[spares]
lead_time_weeks = 6
"""
RECORDS = """head,head_type,role,printer,position,date_in,hours_in,date_out,hours_out,reason
H1,A,model,P1,left,2024-01-01,0,2024-12-31,1400,worn out
H2,A,model,P2,left,2024-06-01,0,2025-01-31,1260,swap at rating
H3,A,model,P1,left,2024-12-31,0,2025-06-30,1040,swap at rating
"""


def lag(tmp_path, policy):
    (tmp_path / "shop.toml").write_text(SETTINGS.replace("POLICY", policy), encoding="utf-8")
    (tmp_path / "log.csv").write_text(RECORDS, encoding="utf-8")
    shop = hl.read_shop(tmp_path / "shop.toml")
    return hl.read_case(tmp_path / "log.csv", shop).fleet.swap_lag.get("A", 0.0)


def test_how_late_heads_are_swapped_is_learned_from_the_present_policy_alone(tmp_path):
    # Run to failure nothing is ever late.
    assert lag(tmp_path, "") == 0.0
    # At the rating all along: 400 + 260 + 40 hours past it over two swaps.
    assert lag(tmp_path, "[policy.from.2023-01-01]\nswap_at = 1000") == pytest.approx(350.0)
    # From 2025 on: of H2's 260 hours only those of its last 30 of 244 days.
    since = lag(tmp_path, "[policy.from.2025-01-01]\nswap_at = 1000")
    assert since == pytest.approx((1260.0 * 30 / 244 + 40.0) / 2)


def test_a_rule_for_a_printer_that_is_nowhere_is_refused(tmp_path):
    with pytest.raises(SettingsError, match="printer 'P3', which has no row"):
        lag(tmp_path, 'printers."P3" = { swap_at = 900 }')


def test_the_lag_of_planned_swaps_is_hours_past_due_per_swap():
    demo = hl.read_shop(Path(__file__).parents[2] / "data_demo" / "shop.toml")
    shop = demo.with_(policy={"swap_at": 1000.0})
    rng = np.random.default_rng(1)
    lags = rng.exponential(60.0, 400)
    hours = pd.DataFrame({"hours_in": 0.0, "hours_out": 1000.0 + lags})
    swapped = hours.assign(
        head_type="Standard",
        role="model",
        printer="Heron",
        suspension="planned swap",
        date_in=pd.Timestamp("2026-01-05"),
        date_out=pd.Timestamp("2026-06-01"),
    )
    # Half are taken out to change material first, at a random time: they only count their hours.
    cut = rng.exponential(60.0, 400)
    away = cut < lags
    swapped.loc[away, "hours_out"] = 1000.0 + cut[away]
    swapped.loc[away, "suspension"] = "material change"

    def lag(asked):
        rows = late_rows(swapped, ("material change",), asked)
        return swap_lags(late_sums(rows, policies_after(asked, pd.Timestamp("2026-06-30"))))

    assert lag(shop)["Standard"] == pytest.approx(60.0, rel=3 / np.sqrt(200))
    assert lag(demo.with_(policy={"swap_at": 5000.0})) == {}


def test_parts_of_a_record_add_up_to_the_same_lag_to_the_last_digit():
    demo = hl.read_case(*(Path(__file__).parents[2] / "data_demo" / n for n in DEMO))
    rows = late_rows(demo.records.accepted, ("material change",), demo.shop)
    policies = policies_after(demo.shop, demo.day)
    whole = late_sums(rows, policies)
    parts = [late_sums(rows.iloc[i::3], policies) for i in range(3)]
    assert swap_lags(pd.concat(parts).groupby(level=0).sum()) == swap_lags(whole)
    assert len(rows) > 3
