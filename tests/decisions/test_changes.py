"""What changed: attributions that add up exactly, and each cause found where it alone changed."""

from __future__ import annotations

import datetime
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import headlife as hl
from headlife.decisions.changes import _state, changes_since
from headlife.decisions.spares.exchange import (
    AGES,
    LEARNED,
    ORDER,
    SETTINGS,
    USE,
    stock_changes,
)
from headlife.decisions.spares.levels import stock_answers
from headlife.errors import HeadlifeError
from headlife.shop.differences import NOT_STATED, setting_changes

DEMO = Path(__file__).parents[2] / "data_demo"


@pytest.fixture(scope="module")
def case():
    found = hl.read_case(DEMO / "removals.csv", DEMO / "shop.toml")
    return found.with_(review={"draws": 2_000})


@pytest.fixture(scope="module")
def review(case):
    return hl.quarterly_review(case)


@pytest.fixture(scope="module")
def state(case, review):
    return _state(review, case)


def with_stock(state, **changed):
    """A state with something changed, and its own answers."""
    other = replace(state, **changed)
    return replace(other, stock=stock_answers(other.fleet, other.lives, other.shop, other.day))


def moved(changes):
    """Parts to which any of the change is given."""
    return {
        step.part
        for one in changes
        for step in one.steps
        if step.level or not np.isclose(step.need, 0.0, atol=1e-12)
    }


@pytest.mark.parametrize("since", ["2026-06-30", "2026-08-17", "2025-03-31"])
def test_the_steps_add_up_to_the_change_of_the_reviews_exactly(case, review, since):
    earlier = case.shop.with_(
        spares={"service_level": 0.8, "lead_time_weeks": 3}, policy={"swap_at": "notice"}
    )
    changes = changes_since(case, since, earlier)
    now = {one.head_type: one.plan.stock_level for one in review.stock}
    then_case = case.with_(as_of=since, spares=earlier.spares, policy=earlier.policy)
    then = {one.head_type: one.plan.stock_level for one in hl.quarterly_review(then_case).stock}
    assert len(changes.stock) == 2
    for one in changes.stock:
        assert [step.part for step in one.steps] == list(ORDER)
        assert one.level_before == then[one.head_type]
        assert one.level_now == now[one.head_type]
        assert sum(step.level for step in one.steps) == one.level_now - one.level_before
        assert sum(step.need for step in one.steps) == pytest.approx(
            one.need_now - one.need_before, abs=1e-12
        )


def test_nothing_changed_is_nothing_anywhere(state):
    assert moved(stock_changes(state, state)) == set()


def test_what_alone_changed_is_given_all_of_it(case, state):
    settings = case.shop.with_(spares={"service_level": 0.5})
    use = replace(
        state.fleet,
        positions=state.fleet.positions.assign(
            weekly_hours=state.fleet.positions["weekly_hours"] * 2.0
        ),
    )
    ages = replace(
        state.fleet,
        positions=state.fleet.positions.assign(
            age_hours=0.0 * state.fleet.positions["age_hours"], reading_hours=0.0
        ),
    )
    lives = {group: modes[:1] for group, modes in state.lives.items()}
    assert moved(stock_changes(with_stock(state, shop=settings), state)) == {SETTINGS}
    assert moved(stock_changes(with_stock(state, fleet=use), state)) == {USE}
    assert moved(stock_changes(with_stock(state, fleet=ages), state)) == {AGES}
    assert moved(stock_changes(with_stock(state, lives=lives), state)) == {LEARNED}


def test_what_is_told_of_heads_is_what_the_records_show(case):
    changes = changes_since(case)
    assert changes.since.date() == datetime.date(2026, 6, 30)
    rows = case.records.accepted
    out = rows[rows["reason"].notna() & (rows["date_out"] > changes.since)]
    assert len(changes.removals) == len(out)
    heads = {one.group: one for one in changes.groups}
    first = rows.groupby("head")["date_in"].min()
    assert sum(one.heads for one in heads.values()) == (first > changes.since).sum()
    gone = changes.gone.set_index("head")
    assert set(gone.index).isdisjoint(changes.new["head"])
    assert (gone["went"].dropna() > changes.since).all()


def test_a_verdict_confirmed_since_is_told(case):
    """The demo's review of today says: Fibre, model confirmed on 31 March 2025."""
    told = {
        since: [
            one.group.head_type for one in changes_since(case, since).groups if one.confirmed_since
        ]
        for since in ("2025-03-30", "2025-03-31")
    }
    assert told == {"2025-03-30": ["Fibre"], "2025-03-31": []}


def test_settings_that_differ_are_named_with_both_values(case):
    later = case.shop.with_(spares={"service_level": 0.8}, costs={"labour_per_hour": None})
    found = {(one.table, one.key): one for one in setting_changes(case.shop, later)}
    assert set(found) == {("spares", "service_level"), ("costs", "labour_per_hour")}
    assert found["spares", "service_level"].after == "0.8"
    assert found["costs", "labour_per_hour"].after == NOT_STATED


def test_tables_by_which_rows_are_read_stay_todays_and_are_named(case, tmp_path):
    text = (DEMO / "shop.toml").read_text(encoding="utf-8")
    (tmp_path / "shop.toml").write_text(
        text.replace('"dropped" = "damage"', '"let fall" = "damage"'), encoding="utf-8"
    )
    changes = changes_since(case, earlier=hl.read_shop(tmp_path / "shop.toml"))
    assert changes.not_exchanged == ("reasons",)


@pytest.mark.parametrize(
    ("day", "end"),
    [("2026-07-01", "2026-06-30"), ("2026-02-01", "2025-12-31")],
)
def test_the_earlier_day_is_the_last_quarter_end_before_the_day(case, day, end):
    assert changes_since(replace(case, as_of=day)).since.date().isoformat() == end


@pytest.mark.parametrize(
    ("since", "words"), [("2026-09-30", "is not before"), ("2001-01-01", "nothing was on record")]
)
def test_a_day_that_cannot_be_compared_is_refused(case, since, words):
    with pytest.raises(HeadlifeError, match=words):
        changes_since(case, since)


def test_a_head_type_that_earlier_settings_did_not_have_is_named_and_kept(case, tmp_path):
    text = (DEMO / "shop.toml").read_text(encoding="utf-8")
    start, end = text.index('[head_types."Fibre"]'), text.index("[spares]")
    (tmp_path / "shop.toml").write_text(text[:start] + text[end:], encoding="utf-8")
    changes = changes_since(case, earlier=hl.read_shop(tmp_path / "shop.toml"))
    assert {one.head_type for one in changes.stock} == {"Standard", "Fibre"}
    told = {one.key: one for one in changes.settings if one.table == "head_types"}
    assert told["Fibre.rated_hours"].before == NOT_STATED


def test_a_site_where_a_type_is_at_work_only_since_does_not_stop_the_comparison(tmp_path):
    """What lies on its shelf today lay nowhere then: such a quarter was refused."""
    rows = ["head,head_type,role,printer,position,date_in,hours_in,date_out,hours_out,reason,site"]
    for number in range(12):
        begun = datetime.date(2025, 1, 6) + datetime.timedelta(days=30 * number)
        out = begun + datetime.timedelta(days=30)
        why = "worn" if number < 11 else ""
        hours = 300 + 7 * number % 40
        rows.append(f"N{number},A,model,P1,left,{begun},0,{out},{hours},{why},North")
    rows.append("S1,A,model,P2,left,2025-12-20,0,2025-12-31,60,,South")
    (tmp_path / "log.csv").write_text("\n".join(rows) + "\n")
    (tmp_path / "shop.toml").write_text(
        'name = "S"\n[reasons.failures]\n"worn" = "wear"\n[head_types."A"]\nrated_hours = 400\n'
        'on_hand_by_site = { "North" = 2, "South" = 1 }\n[spares]\nlead_time_weeks = 4\n'
        'sites = "separate"\n[review]\ndraws = 500\n'
    )
    case = hl.read_case(tmp_path / "log.csv", tmp_path / "shop.toml")
    changes = changes_since(case, "2025-11-30")
    assert {one.site for one in changes.stock} >= {"North"}
