from __future__ import annotations

import datetime

import numpy as np
import pandas as pd
import pytest

import headlife as hl
from headlife.decisions.spares.budget import budget_weeks, fiscal_names, make_budget, split_weeks
from headlife.fleet.state import Fleet
from headlife.futures.demand import KnownLife
from headlife.futures.forecast import forecast_fleet
from headlife.life.groups import Group
from headlife.quarters import quarters_ahead, quarters_behind

START = pd.Timestamp("2025-12-31")
QUARTERS = ("2026 Q1", "2026 Q2", "2026 Q3", "2026 Q4")
COSTS = """
[costs]
currency = "credits"
labour_per_hour = 40.0
machine_hour_rate = 10.0
swap_labour_hours = 0.5
calibration_hours = 0.6
manual_checks = 2
manual_check_hours = 0.25
scrapped_build_cost = 200.0
"""
SETTINGS = """
name = "Test workshop"
policy = {{ swap_at = {swap} }}
[reasons.failures]
"worn out" = "wear"
[head_types."A"]
rated_hours = 1000
price = 300.0
[head_types."B"]
rated_hours = 800
{price}
[spares]
lead_time_weeks = 6
[review]
draws = 4000
{costs}
"""


@pytest.fixture
def shop(tmp_path):
    def make(swap='"failure"', price="price = 500.0", costs=COSTS):
        text = SETTINGS.format(swap=swap, price=price, costs=costs)
        (tmp_path / "shop.toml").write_text(text, encoding="utf-8")
        return hl.read_shop(tmp_path / "shop.toml")

    return make


def fleet(*rows):
    columns = ["head_type", "site", "age_hours"]
    positions = pd.DataFrame(rows, columns=columns).assign(
        role="model", weekly_hours=40.0, share_of_hours=1.0
    )
    names = [f"P{n}" for n in range(len(rows))]
    positions = positions.assign(head=names, printer=names, position="left")
    return Fleet(
        positions, pd.DataFrame(columns=["head", "head_type", "role", "site", "age_hours"])
    )


MIXED = fleet(*[("A", "north", 100.0)] * 6, *[("A", "south", 400.0)] * 4, ("B", "south", 50.0))
LIVES = {Group("A", "model"): [KnownLife(2.0, 900.0)], Group("B", "model"): [KnownLife(1.0, 700.0)]}


def budget(state, settings, lives=LIVES):
    return make_budget(
        forecast_fleet(state, lives, settings, budget_weeks(START), START),
        settings.costs,
        settings.prices,
    )


def test_a_year_of_certain_swaps_costs_what_it_says(shop):
    # Immortal heads swapped every 530 h at 40 h a week: day 93, 186 and 279 of the year.
    settings = shop(swap=530)
    immortal = {Group("A", "model"): [KnownLife(2.0, 1e12)]}
    found = budget(fleet(*[("A", "north", 0.0)] * 3), settings, immortal)
    heads = [found.line("heads", q) for q in (*QUARTERS, "year")]
    assert [line.median for line in heads] == [0, 3, 3, 3, 9]
    assert all(line.low == line.median == line.high for line in heads)
    year = {item: found.line(item).median for item in found.lines["item"].unique()}
    assert year["visits"] == 9
    assert year["labour hours"] == pytest.approx(9 * (0.5 + 2 * 0.25))
    assert year["calibration hours"] == pytest.approx(9 * 0.6)
    assert year["standstill hours"] == pytest.approx(9 * 1.6)
    assert year["head cost"] == 2700
    assert year["labour"] == pytest.approx(9 * 40)
    assert year["calibration"] == pytest.approx(9 * 6)
    assert year["standstill"] == pytest.approx(9 * 10)
    assert year["spoiled build cost"] == 0
    assert year["total"] == pytest.approx(2700 + 360 + 54 + 90)
    assert found.line("heads", kind="unplanned").high == 0


def test_parts_add_up_to_the_whole(shop):
    found = budget(MIXED, shop(swap=800))
    for item in ("heads", "total", "labour hours"):
        for period in ("2026 Q1", "year"):
            whole = found.line(item, period).mean
            kinds = sum(found.line(item, period, kind=k).mean for k in ("planned", "unplanned"))
            types = sum(found.line(item, period, head_type=t).mean for t in ("A", "B"))
            sites = sum(found.line(item, period, site=s).mean for s in ("north", "south"))
            assert [kinds, types, sites] == pytest.approx([whole] * 3, rel=1e-9)
    year = found.line("heads").mean
    assert sum(found.line("heads", name).mean for name in QUARTERS) == pytest.approx(year)


def test_the_band_of_a_sum_is_narrower_than_the_sum_of_bands(shop):
    found = budget(MIXED, shop())
    width = {p: found.line("heads", p).high - found.line("heads", p).low for p in QUARTERS[:2]}
    year = found.line("heads")
    assert year.high - year.low < 4 * max(width.values())
    assert year.low <= year.median <= year.high


def test_the_band_holds_four_futures_of_five(shop):
    settings = shop()
    forecast = forecast_fleet(MIXED, LIVES, settings, budget_weeks(START), START)
    heads = forecast.swaps_of().sum(axis=1)
    line = make_budget(forecast, settings.costs, settings.prices).line("heads")
    inside = np.mean((heads >= line.low) & (heads <= line.high))
    # Whole heads: at least the nominal share, and less with either end left out.
    assert inside >= 0.80
    assert np.mean((heads > line.low) & (heads < line.high)) < 0.80


def test_without_costs_there_are_heads_and_no_amounts(shop):
    found = budget(MIXED, shop(costs="", price=""))
    assert found.line("total") is None
    assert found.line("heads").median > 0
    assert "[costs] labour_per_hour" in found.missing
    assert '[head_types."B"] price' in found.missing
    assert "labour hours" not in set(found.lines["item"])


def test_a_type_without_price_leaves_out_only_its_amounts(shop):
    found = budget(MIXED, shop(price=""))
    assert found.missing == ('[head_types."B"] price',)
    assert found.line("total") is None
    assert found.line("total", head_type="A").median > 0


def test_same_seed_same_budget(shop):
    one, two = budget(MIXED, shop()), budget(MIXED, shop())
    assert one.lines.equals(two.lines)


def test_quarters_are_those_of_the_calendar_and_of_the_fiscal_year(shop):
    found = budget(MIXED, shop(costs=COSTS + 'fiscal_year_begins = "April"\n'))
    assert found.periods == (*QUARTERS, "year")
    assert found.fiscal == ("FY2026 Q4", "FY2027 Q1", "FY2027 Q2", "FY2027 Q3")
    assert fiscal_names(found.quarters, shop().costs) == ()


@pytest.mark.parametrize("days", [0, 1, 40, 88, 89, 90, 91])
def test_quarters_follow_each_other_without_a_gap_from_the_day_after_on(days):
    day = (START + pd.Timedelta(days=days)).date()
    ahead, behind = quarters_ahead(day), quarters_behind(day)
    assert ahead[0].first - day == pd.Timedelta(days=1)
    assert sum(one.whole for one in ahead) == len(behind) == 4
    for year in (behind, ahead):
        for one, other in zip(year, year[1:], strict=False):
            assert other.first - one.last == pd.Timedelta(days=1)
    assert behind[-1].last <= day


def test_a_week_that_is_cut_is_shared_out_by_its_days_and_loses_no_head():
    day = datetime.date(2026, 3, 27)  # four days are left of the quarter
    quarters = quarters_ahead(day)
    counts = np.full((40_000, 53), 0)
    counts[:, 0] = 7
    counts[:, 30] = 2
    found = split_weeks(counts, quarters, day, np.random.default_rng(1))
    assert (found.sum(axis=1) == 9).all()
    assert found[:, 0].mean() == pytest.approx(4.0, abs=0.05)
    assert found[:, 1].mean() == pytest.approx(3.0, abs=0.05)


def test_no_head_in_service_costs_nothing(shop):
    found = budget(fleet(), shop())
    assert found.line("heads").high == 0
    assert found.line("total").high == 0
