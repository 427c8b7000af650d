"""Orders ahead, last year's actuals and the same year under another policy."""

from __future__ import annotations

import datetime
from pathlib import Path

import numpy as np
import pytest

import headlife as hl
from headlife.decisions.spares.budget import YEAR
from headlife.decisions.spares.last_year import last_year
from headlife.decisions.spares.purchases import LATER, NOW, PLACED, by_quarter, order_up_to
from headlife.decisions.spares.same_year import ON_RECORD, PROPOSED, STATED, same_year
from headlife.quarters import quarter_of
from headlife.show.words.stock import ahead_sentence

DEMO = Path(__file__).parents[2] / "data_demo"


@pytest.fixture(scope="module")
def case():
    found = hl.read_case(DEMO / "removals.csv", DEMO / "shop.toml")
    return found.with_(review={"draws": 1_000})


@pytest.fixture(scope="module")
def study(case):
    return hl.spares_study(case)


def test_known_needs_give_known_orders():
    """By hand: level 5, 2 there, multiples of 3; 1 a week, reviews every 4 weeks."""
    needed = np.ones((1, 12), dtype=np.int64)
    # 2 -> order 3 (5); 4 used -> 1, order 6 (7); 4 used -> 3, order 3.
    assert order_up_to(needed, [5, 5, 5], 2, 3, [0.0, 4.0, 8.0]).tolist() == [[3, 6, 3]]
    # Up to 9 on the second day: 4 used -> 1, order 9 (10); 4 used -> 6.
    assert order_up_to(needed, [5, 9, 5], 2, 3, [0.0, 4.0, 8.0]).tolist() == [[3, 9, 0]]


@pytest.mark.parametrize("multiple", [1, 2, 5])
@pytest.mark.parametrize("level", [0, 3, 11])
def test_every_order_brings_the_stock_to_its_level_and_no_further_than_a_multiple(level, multiple):
    rng = np.random.default_rng(1)
    needed = rng.poisson(0.7, (500, 53))
    orders = order_up_to(needed, [level] * 5, 2, multiple, 13.0 * np.arange(5.0))
    assert orders.shape == (500, 5)
    assert (orders % multiple == 0).all()
    for review in range(5):
        have = 2 + orders[:, : review + 1].sum(axis=1) - needed[:, : 13 * review].sum(axis=1)
        assert (have >= level).all()
        assert (have[orders[:, review] > 0] < level + multiple).all()


def test_the_first_orders_are_the_plans_and_what_is_placed_is_not_ordered_again(study):
    now = {one.head_type: one.heads for one in study.purchases if one.state == NOW}
    assert now == {one.head_type: one.plan.order_now for one in study.stock}
    (placed,) = [one for one in study.purchases if one.state == PLACED]
    assert (placed.head_type, placed.heads, placed.ordered) == ("Fibre", 1, None)
    # Six weeks from 30 September.
    assert placed.arrives == datetime.date(2026, 11, 11)
    later = [one for one in study.purchases if one.state == LATER]
    assert all(one.low <= one.heads <= one.high for one in later)
    assert all((one.arrives - one.ordered).days == 42 for one in later)


def test_where_heads_are_bought_once_a_year_the_stock_lasts_to_the_order_of_the_next_day(case):
    """On 30 September, bought on 15 December: eleven weeks on, then a year."""
    found = hl.spares_study(case.with_(spares={"order_days": ["12-15"]}))
    eleven = hl.spares_study(case.with_(spares={"review_weeks": 11}))
    year = hl.spares_study(case.with_(spares={"review_weeks": 53}))
    for one, same in zip(found.stock, eleven.stock, strict=True):
        assert (one.next_order, same.next_order) == (datetime.date(2026, 12, 15), None)
        assert one.horizon_weeks == 6 + 11
        assert one.plan.stock_level == same.plan.stock_level
        assert one.reorder_point == same.reorder_point
        assert "next on 15 December 2026" in ahead_sentence(one).replace("\xa0", " ")
    later = [one for one in found.purchases if one.state == LATER]
    assert {one.ordered for one in later} == {datetime.date(2026, 12, 15)}
    # What is left of today's level fills up to that of a year.
    for one in later:
        level, a_year = (
            next(
                stock.plan.stock_level for stock in study.stock if stock.head_type == one.head_type
            )
            for study in (found, year)
        )
        assert a_year - level - 2 <= one.low <= one.high <= a_year + 2


def test_heads_and_cash_of_quarters_add_up_to_the_orders_that_arrive(study):
    quarters = study.budget.quarters
    found = by_quarter(study.purchases, quarters)
    inside = [one for one in study.purchases if one.arrives <= quarters[-1].last]
    assert sum(heads for heads, _ in found.values()) == pytest.approx(sum(o.mean for o in inside))
    assert sum(cash for _, cash in found.values()) == pytest.approx(sum(o.cash for o in inside))


def test_last_year_is_what_the_records_show(case, study):
    rows = case.records.accepted
    used = rows[
        rows["reason"].notna()
        & ~rows["suspension"].isin(["material change"])
        & (rows["date_out"] > "2025-09-30")
        & (rows["date_out"] <= "2026-09-30")
    ]
    last = study.last_year
    assert last.complete
    assert [one.name for one in last.quarters] == ["2025 Q4", "2026 Q1", "2026 Q2", "2026 Q3"]
    assert last.happened("heads") == len(used)
    assert last.happened("heads", kind="unplanned") == used["mode"].notna().sum()
    for quarter in last.quarters:
        own = [quarter_of(day.date()).name == quarter.name for day in used["date_out"]]
        assert last.happened("heads", quarter.name) == sum(own)
    price = used["head_type"].map(case.shop.prices).sum()
    assert last.happened("head cost") == pytest.approx(price)
    assert last.happened("spoiled build cost") == 240.0 * used["mode"].notna().sum()


def test_two_heads_of_one_visit_are_one_visit_and_records_that_begin_later_are_said(case, tmp_path):
    header = "head,head_type,role,printer,position,date_in,hours_in,date_out,hours_out,reason\n"
    rows = [
        "A1,Standard,model,P,left,2026-01-02,0,2026-05-04,900,swap at rating",
        "A2,Standard,support,P,right,2026-01-02,0,2026-05-04,900,swap at rating",
        "B1,Standard,model,P,left,2026-05-04,0,2026-09-30,500,",
    ]
    (tmp_path / "log.csv").write_text(header + "\n".join(rows) + "\n")
    records = hl.read_records(tmp_path / "log.csv", case.shop)
    found = last_year(records, "2026-09-30", case.shop.costs, case.shop.prices)
    assert (found.happened("heads"), found.happened("visits")) == (2, 1)
    assert not found.complete
    assert found.taken[YEAR] == 1


def test_the_year_as_the_settings_say_is_the_budget_and_a_proposal_of_the_same_ages_too(
    case, study
):
    stated, proposed = study.same_year
    assert (stated.name, proposed.name) == (STATED, PROPOSED)
    assert stated.budget is study.budget
    assert proposed.ages == {"Standard": 1500.0, "Fibre": 800.0}
    same = case.with_(
        head_types={
            name: kind.model_dump(exclude_unset=True) | {"quality_critical": True}
            for name, kind in case.shop.head_types.items()
        }
    )
    (_, at_rating) = same_year(same, study.budget)
    assert at_rating.budget.lines["mean"].tolist() == study.budget.lines["mean"].tolist()


def test_an_older_swap_age_plans_fewer_swaps_and_fails_more(study):
    stated, older = (one.budget for one in study.same_year)
    assert older.line("heads", kind="planned").mean < stated.line("heads", kind="planned").mean
    assert older.line("heads", kind="unplanned").mean > stated.line("heads", kind="unplanned").mean


def test_a_lower_proposal_is_not_carried_out_as_late_as_the_past_was_against_it(case, study):
    """Heads swapped at their rating were not 600 h late for a proposal nobody had made.

    At half the rating every planned interval halves, and fewer heads fail before: over a year
    nearly twice the planned swaps, and half as many again at the very least.
    """
    at_rating, halved = (same_year(case, study.budget, age)[-1].budget for age in (1200.0, 600.0))
    planned = [
        one.line("heads", kind="planned", head_type="Standard").mean for one in (at_rating, halved)
    ]
    assert planned[1] > 1.5 * planned[0]


def test_a_practice_that_is_another_one_stands_beside_the_settings(case, study):
    """The demo swaps at the rating, clearly not what settings with run to failure say."""
    other = case.with_(policy={"swap_at": "failure"})
    assert any(one.settings for one in other.fleet.practised)
    found = {one.name: one.budget for one in same_year(other, study.budget)}
    assert list(found) == [STATED, ON_RECORD, PROPOSED]
    assert found[ON_RECORD] is study.budget
    assert found[STATED].line("heads", kind="planned").mean == 0.0
