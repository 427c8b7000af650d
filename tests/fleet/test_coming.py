"""Printers that will come: what they add is known from their hours and the life of their heads."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import stats

import headlife as hl
from headlife.decisions.spares.budget import budget_weeks, make_budget
from headlife.decisions.spares.levels import stock_answers
from headlife.errors import DecisionError, SettingsError
from headlife.fleet.coming import with_coming
from headlife.fleet.state import Fleet
from headlife.fleet.usage import planned_hours
from headlife.futures.demand import KnownLife
from headlife.futures.forecast import forecast_fleet
from headlife.futures.visits import FAILED, JOINED, PLANNED
from headlife.life.groups import Group
from headlife.show.words.stock import note_sentence

START = pd.Timestamp("2026-01-05")
DRAWS = 20_000
SETTINGS = """
name = "Test workshop"
policy = {{ {policy} }}
[reasons.failures]
"worn out" = "wear"
[head_types."A"]
rated_hours = 1000
{head}
[head_types."B"]
rated_hours = 500
[spares]
lead_time_weeks = 6
review_weeks = 13
sites = "{sites}"
[review]
draws = {draws}
seed = 3
{more}
"""
HERON = """
[new_printers."Heron"]
begins = {begins}
weekly_hours = 30
model = "{model}"
support = "{support}"
{site}
"""
ROLES = ("model", "support")
EXPONENTIAL = {Group(name, role): [KnownLife(1.0, 1000.0)] for name in "AB" for role in ROLES}
IMMORTAL = {Group(name, role): [KnownLife(2.0, 1e12)] for name in "AB" for role in ROLES}


def heron(begins="2026-02-16", model="A", support="A", site=""):
    return HERON.format(begins=begins, model=model, support=support, site=site)


@pytest.fixture
def shop(tmp_path):
    def make(more="", policy='swap_at = "failure"', head="", sites="pooled", draws=DRAWS):
        text = SETTINGS.format(more=more, policy=policy, head=head, sites=sites, draws=draws)
        (tmp_path / "shop.toml").write_text(text, encoding="utf-8")
        return hl.read_shop(tmp_path / "shop.toml")

    return make


def fleet(printers=0, week_sd=0.0, site="north"):
    count = 2 * printers
    positions = pd.DataFrame(
        {
            "head": [f"H{n}" for n in range(count)],
            "head_type": ["A"] * count,
            "role": list(ROLES) * printers,
            "site": [site] * count,
            "printer": [f"P{n // 2:03d}" for n in range(count)],
            "position": list(ROLES) * printers,
            "age_hours": np.linspace(0.0, 900.0, count),
            "weekly_hours": np.full(count, 40.0),
            "share_of_hours": 1.0,
        }
    )
    return Fleet(
        positions, positions.head(0)[["head", "head_type", "role", "site", "age_hours"]], week_sd
    )


def test_a_new_printer_with_exponential_lives_adds_a_poisson_number(shop):
    # No memory: each head fails at a rate of hours / scale from the printer's first day on, so
    # the count is Poisson (any text on Poisson processes, such as Cox, Renewal Theory, 1962).
    for begins, wait in (("2026-01-05", 0.0), ("2026-02-16", 6.0), ("2026-03-01", 55 / 7)):
        found = forecast_fleet(fleet(), EXPONENTIAL, shop(heron(begins)), 19, START)
        demand, mean = found.demand("A"), 2 * 30 * (19 - wait) / 1000
        assert demand.mean == pytest.approx(mean, abs=3 * np.sqrt(mean / DRAWS))
        wanted = stats.poisson(mean).pmf(np.arange(demand.pmf.size))
        assert demand.pmf == pytest.approx(wanted, abs=4 * np.sqrt(0.25 / DRAWS))
        # Nothing before its first day, and at its rate in every whole week after it.
        weekly = demand.failures_by_week
        assert weekly[: int(wait)].sum() == 0
        assert weekly[int(np.ceil(wait)) :] == pytest.approx(
            2 * 30 / 1000, abs=4.5 * np.sqrt(0.06 / DRAWS)
        )


def test_a_new_printer_leaves_the_futures_of_the_others_as_they_were(shop):
    state = fleet(5, week_sd=0.4)
    before = forecast_fleet(state, EXPONENTIAL, shop(), 19, START)
    alone = forecast_fleet(fleet(week_sd=0.4), EXPONENTIAL, shop(heron()), 19, START)
    both = forecast_fleet(state, EXPONENTIAL, shop(heron()), 19, START)
    np.testing.assert_array_equal(both.swaps_of("A"), before.swaps_of("A") + alone.swaps_of("A"))
    assert sum(both.positions.values()) == sum(before.positions.values()) + 2
    after = forecast_fleet(state, EXPONENTIAL, shop(heron("2026-06-01")), 19, START)
    np.testing.assert_array_equal(after.swaps_of(), before.swaps_of())
    assert after.hours_per_week == before.hours_per_week


def test_the_heads_it_comes_with_are_not_taken_from_the_stock(shop):
    found = forecast_fleet(fleet(), IMMORTAL, shop(heron()), 52, START)
    assert found.swaps_of().sum() == 0


def test_both_heads_of_a_new_printer_share_its_visits(shop):
    # Immortal heads at 30 h a week from week 6: A (1000 h) is due after 33.3 weeks, in week 40;
    # B (500 h) after 16.7 and 33.3 weeks, the second time together with A: one visit for both.
    policy = 'swap_at = "rating", join_from = "notice"'
    settings = shop(heron(model="A", support="B"), policy=policy)
    found = forecast_fleet(fleet(), IMMORTAL, settings, 45, START)
    assert (found.swaps_of(kinds=[PLANNED]).sum(axis=1) == 2).all()
    assert (found.swaps_of(kinds=[JOINED]).sum(axis=1) == 1).all()
    assert found.swaps_of(kinds=[FAILED]).sum() == 0
    assert np.flatnonzero(found.swaps_of()[0]).tolist() == [22, 39]


def test_planned_changes_of_hours_are_about_new_printers_too(shop):
    plan = "[plans.rest]\nfactor = 0.5\nbegins = 2026-03-02\nends = 2026-03-08\n{}\n"
    for which in ("", 'printer = "Heron"'):
        settings = shop(heron("2026-02-19") + plan.format(which))
        hours = planned_hours(with_coming(fleet(), settings, START), settings.plans, START, 10)
        # 2026-02-19 is the fourth day of the seventh week.
        assert hours[0] == pytest.approx([0] * 6 + [30 * 4 / 7, 30, 15, 30])
    with pytest.raises(DecisionError, match="printer 'Herron'"):
        settings = shop(heron() + plan.format('printer = "Herron"'))
        forecast_fleet(fleet(), EXPONENTIAL, settings, 19, START)


def test_hours_of_a_new_printer_spread_as_the_others(shop):
    steady = forecast_fleet(fleet(), EXPONENTIAL, shop(heron()), 52, START).demand()
    spread = forecast_fleet(fleet(week_sd=2.0), EXPONENTIAL, shop(heron()), 52, START).demand()
    assert spread.mean == pytest.approx(steady.mean, abs=0.06)
    # Var N = E N + Var(hours) / scale^2; both heads share the hours of 46 weeks.
    mean = 2 * 30 * 46 / 1000
    assert spread.sd**2 == pytest.approx(mean + (mean * 2.0) ** 2 / 46, rel=0.05)


def test_stock_and_budget_count_a_new_printer_at_its_site(shop):
    head = "on_hand_by_site = { north = 1, south = 0 }"
    settings = shop(heron(site='site = "south"'), head=head, sites="separate")
    known = {Group("A", role): EXPONENTIAL[Group("A", role)] for role in ROLES}
    north, south = stock_answers(fleet(3), known, settings, START)
    assert (north.site, north.positions, note_sentence(north)) == ("north", 6, "")
    assert (south.site, south.positions) == ("south", 2)
    assert south.demand.mean == pytest.approx(2 * 30 * 13 / 1000, abs=0.03)
    assert note_sentence(south) == (
        "The new printer Heron (model and support, 30 h a week) is counted from 16 February 2026 "
        "on; the heads it comes with are not taken from the stock."
    )
    year = make_budget(
        forecast_fleet(fleet(3), EXPONENTIAL, settings, budget_weeks(START), START),
        settings.costs,
        settings.prices,
    )
    without = make_budget(
        forecast_fleet(fleet(3), EXPONENTIAL, shop(), budget_weeks(START), START),
        shop().costs,
        shop().prices,
    )
    line = year.line("heads", site="south")
    # The year begins with the next whole quarter, in which the printer is there already.
    assert line.mean == pytest.approx(2 * 30 * (365 / 7) / 1000, abs=0.06)
    assert year.line("heads").mean == pytest.approx(without.line("heads").mean + line.mean)
    rest, whole = (
        year.line("heads", name, site="south").mean for name in ("2026 Q1, rest", "2026 Q2")
    )
    assert rest == pytest.approx(2 * 30 * (43 / 7) / 1000, abs=0.06)
    assert rest < whole


def test_notes_say_what_is_not_counted_yet(shop):
    later = stock_answers(fleet(3), EXPONENTIAL, shop(heron("2026-06-01")), START)[0]
    assert note_sentence(later) == (
        "The new printer Heron comes on 1 June 2026, after these 19 weeks, and adds nothing yet."
    )
    known = {Group("A", role): [KnownLife(1.0, 1000.0)] for role in ROLES}
    settings = shop(heron(support="B"))
    one, other = stock_answers(fleet(3), known, settings, START)
    assert (one.head_type, other.head_type) == ("A", "B")
    assert "(model, 30 h a week) is counted" in note_sentence(one)
    assert "Its support head is left out: no B head has run in that role yet." in note_sentence(
        other
    )
    assert other.demand.mean == 0


@pytest.mark.parametrize(
    ("name", "begins", "said"),
    [
        ("P001", "2026-02-16", r"P001.* is on record already.*'P001'.* counted twice"),
        ("p001 ", "2026-02-16", r"is on record already.*'P001'"),
        ("Heron", "2026-01-04", r"begins on 2026-01-04, before the day looked at .2026-01-05"),
    ],
)
def test_a_new_printer_that_is_not_new_is_refused(name, begins, said, shop):
    settings = shop(heron(begins).replace("Heron", name))
    with pytest.raises(SettingsError, match=said):
        forecast_fleet(fleet(3), EXPONENTIAL, settings, 19, START)


def test_a_new_printer_needs_a_site_where_stocks_are_separate(shop):
    settings = shop(heron(), head="on_hand_by_site = { north = 1 }", sites="separate")
    with pytest.raises(SettingsError, match='"Heron".* must say where it will stand'):
        stock_answers(fleet(3), EXPONENTIAL, settings, START)


def test_a_printer_that_was_on_record_once_is_not_new(tmp_path):
    text = SETTINGS.format(
        more=heron(), policy='swap_at = "failure"', head="", sites="pooled", draws=500
    )
    (tmp_path / "shop.toml").write_text(text, encoding="utf-8")
    (tmp_path / "log.csv").write_text(
        "head,head_type,role,printer,position,date_in,hours_in,date_out,hours_out,reason\n"
        "H1,A,model,Heron,left,2025-01-01,0,2025-06-01,400,worn out\n"
        "H2,A,model,Wren,left,2025-01-01,0,2025-12-01,700,\n",
        encoding="utf-8",
    )
    settings = hl.read_shop(tmp_path / "shop.toml")
    records = hl.read_records(tmp_path / "log.csv", settings)
    for ask in (hl.spares_study, hl.quarterly_review):
        with pytest.raises(SettingsError, match=r"log\.csv has rows of the printer 'Heron'"):
            ask(records, settings)


def test_the_study_carries_new_printers_into_the_year(tmp_path):
    text = SETTINGS.format(
        more="", policy='swap_at = "failure"', head="", sites="pooled", draws=2000
    )
    (tmp_path / "log.csv").write_text(
        "head,head_type,role,printer,position,date_in,hours_in,date_out,hours_out,reason\n"
        "H1,A,model,Wren,left,2024-06-01,0,2025-06-01,800,worn out\n"
        "H2,A,model,Wren,left,2025-06-01,0,2026-01-05,500,\n"
        "H3,A,support,Wren,right,2024-06-01,0,2026-01-05,1300,\n",
        encoding="utf-8",
    )
    studies = []
    for more in ("", heron("2026-06-01")):
        (tmp_path / "shop.toml").write_text(text + more, encoding="utf-8")
        settings = hl.read_shop(tmp_path / "shop.toml")
        studies.append(hl.spares_study(hl.read_records(tmp_path / "log.csv", settings), settings))
    before, after = studies
    assert [head.role for head in after.coming] == ["model", "support"]
    assert before.coming == ()
    # It comes after the stock's horizon and within the year.
    assert after.stock[0].demand.mean == before.stock[0].demand.mean
    assert after.budget.line("heads").mean > before.budget.line("heads").mean
    weeks = (pd.Timestamp("2026-06-01") - START).days // 7
    more = (after.weekly["failures"] - before.weekly["failures"]).to_numpy()
    assert (more[:weeks] == 0).all()
    assert (more[weeks + 4 :] > 0).any()
    assert after.fleet.positions.equals(before.fleet.positions)
