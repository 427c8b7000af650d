from __future__ import annotations

import pytest

import headlife as hl
from headlife.errors import SettingsError
from headlife.fleet.basis import fleet_on
from headlife.records.lives import lives

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
    records = hl.read_records(tmp_path / "log.csv", shop)
    return fleet_on(records, shop, None, lives(records)).swap_lag.get("A", 0.0)


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
