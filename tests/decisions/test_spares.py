from __future__ import annotations

import datetime
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy import stats

import headlife as hl
from headlife.decisions.spares.ahead import forecast_horizon, protection_weeks
from headlife.decisions.spares.levels import stock_answer, stock_answers
from headlife.decisions.spares.shelf import new_heads, usable_shelf
from headlife.decisions.spares.study import shared_stocks
from headlife.errors import DecisionError, SettingsError
from headlife.fleet.on_hand import stocks_of
from headlife.fleet.state import Fleet
from headlife.fleet.usage import (
    add_variation,
    planned_hours,
    usage_variation,
    variation_sums,
)
from headlife.futures.demand import KnownLife
from headlife.futures.forecast import forecast_fleet
from headlife.life.groups import Group
from headlife.show.words.stock import ahead_sentence

START = pd.Timestamp("2026-01-05")
SETTINGS = """
name = "Test workshop"
policy = {{ swap_at = "{policy}" }}
[reasons.failures]
"worn out" = "wear"
[head_types."A"]
rated_hours = 1000
{head}
[head_types."B"]
rated_hours = 500
[spares]
lead_time_weeks = {lead}
review_weeks = 13
{spares}
[review]
draws = {draws}
seed = 3
{more}
"""
EXPONENTIAL = KnownLife(1.0, 1000.0)


@pytest.fixture
def shop(tmp_path):
    def make(head="", spares="", more="", lead=6, draws=20_000, policy="failure"):
        text = SETTINGS.format(
            head=head, spares=spares, more=more, lead=lead, draws=draws, policy=policy
        )
        (tmp_path / "shop.toml").write_text(text, encoding="utf-8")
        return hl.read_shop(tmp_path / "shop.toml")

    return make


def fleet(*ages, site="here", hours=40.0, head_type="A", shelf=(), week_sd=0.0):
    positions = pd.DataFrame(
        {
            "head": [f"H{n}" for n in range(len(ages))],
            "head_type": head_type,
            "role": "model",
            "site": site,
            "printer": [f"P{n:03d}" for n in range(len(ages))],
            "position": "left",
            "age_hours": np.array(ages, float),
            "weekly_hours": hours,
            "share_of_hours": 1.0,
        }
    )
    parts = pd.DataFrame(
        [(f"U{n}", head_type, role, site, float(age)) for n, (role, age) in enumerate(shelf)],
        columns=["head", "head_type", "role", "site", "age_hours"],
    )
    return Fleet(positions, parts, week_sd)


def answer(state, settings, life=EXPONENTIAL, site=None):
    lives = {Group("A", "model"): [life]}
    forecast = forecast_fleet(
        state, lives, settings, forecast_horizon(settings.spares, START), START
    )
    (pooled,) = stocks_of(settings, "A", forecast.sites_of("A"))
    return stock_answer(state, forecast, settings, replace(pooled, site=site))


def test_a_poisson_fleet_gets_the_poisson_stock(shop):
    settings = shop()
    found = answer(fleet(*[100.0] * 10), settings)
    mean = 10 * 40 * 19 / 1000
    assert found.horizon_weeks == protection_weeks(settings.spares, START) == 19
    assert found.demand.mean == pytest.approx(mean, abs=3 * np.sqrt(mean / 20_000))
    assert found.plan.stock_level == stats.poisson(mean).ppf(0.95)
    assert found.reorder_point == stats.poisson(10 * 40 * 6 / 1000).ppf(0.95)
    assert found.positions == 10


def test_a_lead_time_that_spreads_gives_the_mixed_poisson_variance(shop):
    found = answer(fleet(*[100.0] * 10), shop(spares="lead_time_sd_weeks = 3"))
    rate = 10 * 40 / 1000
    # Var N = E N + rate^2 Var(lead time), for a Poisson process over an independent time.
    assert found.demand.mean == pytest.approx(rate * 19, rel=0.02)
    assert found.demand.sd**2 == pytest.approx(rate * 19 + (rate * 3) ** 2, rel=0.06)
    steady = answer(fleet(*[100.0] * 10), shop())
    assert found.plan.stock_level > steady.plan.stock_level


def test_lead_times_of_a_day_and_of_a_year_are_answered(shop):
    short = answer(fleet(*[100.0] * 10), shop(lead=0.14))
    long = answer(fleet(*[100.0] * 10), shop(lead=52, draws=4000))
    assert short.horizon_weeks == pytest.approx(13.14)
    assert short.reorder_point <= 1
    assert long.plan.stock_level == pytest.approx(stats.poisson(0.4 * 65).ppf(0.95), abs=1)


def test_orders_are_whole_multiples(shop):
    plain = answer(fleet(*[100.0] * 10), shop(head="on_hand = 2\non_order = 1"))
    dozen = answer(fleet(*[100.0] * 10), shop("on_hand = 2\non_order = 1", "order_multiple = 5"))
    assert plain.plan.order_now == plain.plan.stock_level - 3
    assert dozen.plan.order_now % 5 == 0
    assert 0 <= dozen.plan.order_now - plain.plan.order_now < 5


def test_waiting_without_any_stock_is_the_area_under_the_demand(shop):
    found = answer(fleet(*[100.0] * 10), shop())
    table = found.plan.table.set_index("stock_level")
    # Every head asked for by the end of week w waits through week w: 40 h x sum of 0.4 w.
    expected = 40.0 * 0.4 * np.arange(1, 20).sum()
    assert table.loc[0, "idle_hours"] == pytest.approx(expected, rel=0.03)
    assert table["idle_hours"].is_monotonic_decreasing
    assert found.idle_hours == table.loc[found.plan.stock_level, "idle_hours"]


def test_heads_on_order_that_come_sooner_save_waiting(shop):
    ordered = "on_order = 6\non_order_due = {}"
    soon = answer(fleet(*[100.0] * 10), shop(head=ordered.format("2026-01-12")))
    late = answer(fleet(*[100.0] * 10), shop(head=ordered.format("2026-04-06")))
    assert soon.plan.stock_level == late.plan.stock_level
    assert soon.idle_hours < 0.5 * late.idle_hours


def test_the_balanced_level_is_the_newsvendor(shop):
    from stockpyl.newsvendor import newsvendor_poisson

    costs = """[costs]
machine_hour_rate = 10.0
waiting_hours_per_stockout = 60.0
carrying_cost_per_head_year = {}
"""
    for carrying in (60.0, 400.0, 1000.0):
        found = answer(fleet(*[100.0] * 10), shop(more=costs.format(carrying)))
        over = carrying * 19 / 52
        best, _ = newsvendor_poisson(over, 600.0, 10 * 40 * 19 / 1000)
        assert found.balanced_level == best
        table = found.plan.table
        assert (table["total_cost"] >= table["total_cost"][found.balanced_level]).all()
    assert answer(fleet(100.0), shop()).balanced_level is None


def test_shortfall_is_the_loss_function_of_an_inventory_library(shop):
    from stockpyl.loss_functions import poisson_loss

    from headlife.decisions.spares.stock import expected_shortfall
    from headlife.futures.distribution import known_demand

    demand = known_demand(stats.poisson(7.6).pmf(np.arange(80)))
    ours = expected_shortfall(demand, 15)
    assert ours == pytest.approx([poisson_loss(level, 7.6)[0] for level in range(16)], abs=1e-8)


def test_sites_together_need_no_more_than_apart(shop):
    state = fleet(*[100.0] * 12, site=["north"] * 4 + ["south"] * 8)
    settings = shop()
    forecast = forecast_fleet(state, {Group("A", "model"): [EXPONENTIAL]}, settings, 19.0, START)
    found = shared_stocks(state, forecast, settings)[0]
    assert found.shared_level == stats.poisson(12 * 0.76).ppf(0.95)
    assert found.separate_levels == {
        "north": stats.poisson(4 * 0.76).ppf(0.95),
        "south": stats.poisson(8 * 0.76).ppf(0.95),
    }
    assert found.saving == sum(found.separate_levels.values()) - found.shared_level > 0


def test_separate_stocks_need_to_know_what_is_where(shop):
    state = fleet(*[100.0] * 6, site=["north"] * 2 + ["south"] * 4)
    lives = {Group("A", "model"): [EXPONENTIAL]}
    with pytest.raises(SettingsError, match="on_hand_by_site .*'north'"):
        stock_answers(state, lives, shop(spares='sites = "separate"'), START)
    stated = shop("on_hand_by_site = { north = 1, south = 3 }", 'sites = "separate"')
    found = stock_answers(state, lives, stated, START)
    assert [(a.site, a.plan.on_hand) for a in found] == [("north", 1), ("south", 3)]
    assert sum(a.positions for a in found) == 6


def test_part_used_heads_go_first_and_only_into_their_role(shop):
    # Immortal heads, swapped at 1000 h: six positions at 700 h come due once in 19 weeks.
    settings = shop(policy="rating")
    shelf = [("model", 100.0), ("model", 150.0), ("model", 700.0), ("support", 50.0)]
    state = fleet(*[700.0] * 6, shelf=shelf)
    forecast = forecast_fleet(
        state, {Group("A", "model"): [KnownLife(2.0, 1e12)]}, settings, 19, START
    )
    # 760 h ahead: the head of 700 h would come due again; the support head has no position.
    assert usable_shelf(state, forecast, settings, "A")["head"].tolist() == ["U0", "U1"]
    needed = new_heads(state, forecast, settings, "A")
    assert needed.shelf == 2
    assert needed.total.sum(axis=1).tolist() == [4] * forecast.draws
    # They come due in week 8 (at 300 h); the first two are served from the shelf.
    assert needed.total[0].tolist()[:8] == [0] * 7 + [4]
    unused = new_heads(state, forecast, shop(policy="rating", spares="use_shelf = false"), "A")
    assert unused.shelf == 0
    assert unused.total.sum(axis=1).tolist() == [6] * forecast.draws


def test_a_part_used_head_that_fails_again_is_counted(shop):
    settings = shop(draws=5000)
    state = fleet(0.0, hours=40.0, shelf=[("model", 10.0)])
    forecast = forecast_fleet(state, {Group("A", "model"): [EXPONENTIAL]}, settings, 19, START)
    needed = new_heads(state, forecast, settings, "A")
    # An exponential head is as good as new: with one in reserve the need falls, by less than one.
    spared = forecast.swaps_of("A").sum(axis=1) - needed.total.sum(axis=1)
    assert spared.max() == 1
    assert 0 < spared.mean() < 1
    assert (needed.failures <= needed.total).all()


def test_planned_changes_move_the_print_hours(shop):
    more = """[plans."Winter stop"]
factor = 0.0
begins = 2026-01-12
ends = 2026-01-25
[plans."Second shift"]
factor = 2.0
begins = 2026-02-05
printer = "P001"
"""
    settings = shop(more=more)
    hours = planned_hours(fleet(0.0, 0.0).positions, settings.plans, START, 6)
    assert hours[0].tolist() == [40, 0, 0, 40, 40, 40]
    # The second shift starts on a Thursday: four days of that week at double hours.
    assert hours[1] == pytest.approx([40, 0, 0, 40, 40 * (1 + 4 / 7), 80])
    state = fleet(*[0.0] * 5)
    lives = {Group("A", "model"): [EXPONENTIAL]}
    stopped = forecast_fleet(state, lives, settings, 6, START).demand()
    assert stopped.failures_by_week[1:3].sum() == 0


@pytest.mark.parametrize("where", ['printer = "Nowhere"', 'site = "Nowhere"'])
def test_a_plan_for_what_does_not_exist_is_named(shop, where):
    more = f'[plans."Stop"]\nfactor = 0.0\nbegins = 2026-01-12\n{where}\n'
    with pytest.raises(DecisionError, match=r"plan 'Stop' .*'Nowhere'.*in service: "):
        planned_hours(fleet(0.0).positions, shop(more=more).plans, START, 6)


def test_the_spread_of_print_hours_is_learned_from_installations():
    rng = np.random.default_rng(1)
    rows = []
    for printer in range(6):
        day = pd.Timestamp("2024-01-01")
        for weeks in rng.integers(4, 20, 60):
            hours = np.maximum(rng.normal(30.0, 12.0, weeks), 0.0).sum()
            end = day + datetime.timedelta(weeks=int(weeks))
            rows.append((f"P{printer}", "model", day, end, 0.0, hours))
            day = end
    columns = ["printer", "role", "date_in", "date_out", "hours_in", "hours_out"]
    stints = pd.DataFrame(rows, columns=columns)
    week_sd, learned = usage_variation(variation_sums(stints), {})
    # 360 installations estimate 12 / 30 to about 1 part in 27.
    assert week_sd == pytest.approx(0.4, rel=0.12)
    assert set(learned) == {f"P{n}" for n in range(6)}
    parts = [variation_sums(stints.iloc[i::4]) for i in range(4)]
    assert usage_variation(add_variation(parts), {}) == (week_sd, learned)
    state = fleet(0.0)
    # Heads that run half of their printer's hours tell of the same weeks.
    halved = stints.assign(hours_out=0.5 * stints["hours_out"])
    shares = {(f"P{n}", "model"): 0.5 for n in range(6)}
    assert usage_variation(variation_sums(halved), shares)[0] == pytest.approx(week_sd)
    del learned["P3"]
    state = Fleet(state.positions, state.shelf, week_sd, learned)
    # Stated hours spread less than learned ones, and a long horizon less than a short one.
    assert state.usage_sd("P3", 13) < state.usage_sd("P1", 13) < state.usage_sd("P1", 4)


def test_usage_spread_widens_the_demand(shop):
    settings = shop()
    lives = {Group("A", "model"): [EXPONENTIAL]}
    steady = forecast_fleet(fleet(*[0.0] * 8), lives, settings, 19, START).demand()
    spread = forecast_fleet(fleet(*[0.0] * 8, week_sd=1.5), lives, settings, 19, START).demand()
    assert spread.sd > 1.02 * steady.sd
    assert spread.mean == pytest.approx(steady.mean, rel=0.02)


def test_other_head_types_and_names_leave_an_answer_alone(shop):
    settings = shop(draws=2000)
    lives = {Group("A", "model"): [EXPONENTIAL], Group("B", "model"): [KnownLife(2.0, 300.0)]}
    alone = forecast_fleet(fleet(10.0, 500.0, 300.0), lives, settings, 19, START)
    more = fleet(10.0, 500.0, 300.0)
    other = fleet(20.0, 70.0, head_type="B").positions.assign(printer=["X1", "X2"])
    renamed = more.positions.assign(printer=["Z", "Y", "X"]).iloc[::-1]
    both = Fleet(pd.concat([other, renamed], ignore_index=True), more.shelf)
    together = forecast_fleet(both, lives, settings, 19, START)
    assert alone.demand("A").pmf.tobytes() == together.demand("A").pmf.tobytes()


def test_no_head_in_service_needs_nothing(shop):
    found = stock_answers(fleet(), {Group("A", "model"): [EXPONENTIAL]}, shop(), START)
    assert (found[0].plan.stock_level, found[0].plan.order_now, found[0].positions) == (0, 0, 0)
    assert found[0].demand.pmf.tolist() == [1.0]


def test_a_printer_never_used_needs_nothing(shop):
    found = answer(fleet(0.0, 0.0, hours=0.0), shop())
    assert found.demand.mean == 0
    assert found.plan.stock_level == 0


def test_a_policy_that_changes_later_is_said_and_not_counted(shop):
    changes = {"2026-03-01": {"swap_at": 300.0}, "2027-01-01": {"swap_at": 200.0}}
    settings = shop(draws=500)
    now = answer(fleet(100.0, 290.0), settings)
    found = answer(fleet(100.0, 290.0), settings.with_(policy={"from": changes}))
    assert [str(day) for day in found.policy_changes] == ["2026-03-01"]  # the other is beyond
    assert found.demand.pmf.tolist() == now.demand.pmf.tolist()
    assert "change the policy on 1 March 2026: these numbers are for" in ahead_sentence(found)
    assert "policy" not in ahead_sentence(now)
    # The other one is named too, so that a slip of the year is seen.
    assert [str(day) for day in found.policy_changes_beyond] == ["2027-01-01"]
    assert "change the policy on 1 January 2027, after the time that" in ahead_sentence(found)


def test_what_other_head_types_are_swapped_at_changes_nothing_for_one():
    """So one simulation at a common share answers every type; 20,000 futures, total variation."""
    from headlife.decisions.spares.same_year import proposed_ahead

    case = hl.read_case("data_demo/removals.csv", shop="data_demo/shop.toml")
    found = []
    for fibre in (800.0, 400.0):
        ahead = proposed_ahead(case, {"Standard": 900.0, "Fibre": fibre}, 19.0)
        answers = stock_answers(case.fleet, case.modes, case.shop, case.day, forecast=ahead)
        found.append({one.head_type: one.demand.pmf for one in answers})
    apart = {}
    for name in ("Standard", "Fibre"):
        size = max(len(one[name]) for one in found)
        one, other = (np.pad(pmf[name], (0, size - len(pmf[name]))) for pmf in found)
        apart[name] = 0.5 * np.abs(one - other).sum()
    assert apart["Standard"] < 0.03 < apart["Fibre"]
