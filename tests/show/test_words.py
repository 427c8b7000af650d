"""The wording: it follows the verdict, never claims a certainty, and says what was assumed."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import poisson

from headlife.decisions.rating import judge_rating
from headlife.decisions.spares.stock import plan_stock
from headlife.futures.distribution import known_demand
from headlife.life.evidence import Evidence
from headlife.life.posterior import fit_life
from headlife.show.words import numbers, rating, stock, watch


def verdict_of(failed, heads=40, until=1000.0):
    leave = np.where(np.arange(heads) < failed, np.linspace(0.3, 0.9, heads) * until, until)
    evidence = Evidence.from_lives(0.0, leave, np.arange(heads) < failed, reference_hours=until)
    return judge_rating(fit_life(evidence), until)


def test_each_verdict_has_its_own_words():
    holds, short, open_ = verdict_of(0), verdict_of(25), verdict_of(4)
    assert [v.verdict for v in (holds, short, open_)] == ["holds", "falls short", "not settled"]
    assert rating.rating_sentence(holds).startswith("About ")
    assert rating.rating_sentence(short).startswith("Only about ")
    assert "anything from" in rating.rating_sentence(open_)
    for verdict in (holds, short, open_):
        words = rating.rating_sentence(verdict)
        assert "1,000 h" in words and numbers.chance(verdict.probability) in words


def test_nothing_is_only_under_a_bound():
    none = replace(verdict_of(25), share_reaching=1e-6, bounds=(1e-9, 0.01))
    assert rating.rating_sentence(none).startswith("Under 0.1 % of heads reach 1,000 h")


def test_a_life_is_known_as_far_as_five_ratings_or_five_times_the_oldest_head():
    assert numbers.hours(4001, numbers.most_known(800)) == "over 4,000 h"
    assert numbers.hours(4001, numbers.most_known(800, 900)) == "4,001 h"


def test_no_hours_says_so():
    assert "nothing can be said" in rating.rating_sentence(None)


@given(st.floats(0, 1))
def test_no_share_is_called_certain(share):
    for words in (numbers.percent(share), numbers.chance(share)):
        assert words not in ("0 %", "100 %", "0.0 %", "100.0 %")


@given(st.floats(0.0011, 0.9989))
def test_percent_is_within_its_last_digit(share):
    number = float(numbers.percent(share).removesuffix(" %"))
    assert number == pytest.approx(100 * share, abs=0.5 if 0.01 <= share <= 0.99 else 0.051)


@given(st.floats(1, 1e6), st.floats(1, 1e6))
def test_a_range_reads_from_low_to_high(one, other):
    low, high = sorted((one, other))
    assert numbers.hours_span(low, high).endswith(numbers.hours(high))


def test_what_does_not_exist_is_unknown():
    for words in (numbers.percent, numbers.chance, numbers.hours):
        assert words(math.nan) == "unknown"
    assert numbers.hours(math.inf, 5000.0) == "over 5,000 h"


def stock_of(on_hand, on_order=0):
    demand = known_demand(poisson.pmf(np.arange(60), 5.0), weeks=19)
    plan = plan_stock(demand, 0.95, on_hand=on_hand, on_order=on_order)
    return SimpleNamespace(demand=demand, plan=plan, horizon_weeks=19, shelf_heads=0)


def test_stock_sentence_orders_what_is_missing():
    # Poisson demand of 5: 9 suffice with 96.8 %.
    assert "Hold 9 new heads" in stock.stock_sentence(stock_of(3, 1))
    assert "so order 5 now" in stock.stock_sentence(stock_of(3, 1))
    assert "97 %" in stock.stock_sentence(stock_of(3, 1))
    assert stock.stock_sentence(stock_of(9)).endswith("exactly that, so order none now.")
    assert "12, more than that" in stock.stock_sentence(stock_of(10, 2))


def test_stock_sentence_names_the_heads_held_for_doubt():
    answer = stock_of(3)
    assert "not known" not in stock.stock_sentence(answer)
    for added, words in ((1, "one of them for what is"), (2, "2 of them for what is")):
        more = SimpleNamespace(**vars(answer) | {"plan": replace(answer.plan, added=added)})
        assert words in stock.stock_sentence(more)


def watched(*chances):
    return pd.DataFrame(
        {
            "head": [f"H{number}" for number in range(len(chances))],
            "printer": "P1",
            "position": "left",
            "age_hours": 900.0,
            "probability": chances,
            "lives_as": "",
        }
    )


def test_watch_sentence_names_the_worst_and_counts_the_rest():
    words = watch.watch_sentence(watched(0.3, 0.5, 0.7, 0.99), 96)
    assert "H0 in P1 left at 900 h (30 %)" in words and "H1" in words
    assert "H2" not in words and "1 more" in words and "H3" not in words


def test_a_head_that_calls_for_another_is_named_among_those_to_watch():
    """The list of what is due takes it out before the build: the fault said none was below."""
    words = watch.watch_sentence(watched(0.897, 0.99), 96)
    assert words.startswith("H0 in P1 left at 900 h (89.7 %): below 90 %")


def test_a_head_is_at_its_rating_only_once_it_has_run_it():
    assert numbers.of_rating(1195.0, 1200.0) == "99.6 %"  # the fault: 100 %
    assert [numbers.of_rating(age, 1200.0) for age in (0.0, 604.0, 1200.0, 1383.0)] == [
        "0 %", "50 %", "100 %", "115 %",
    ]  # fmt: skip


def test_watch_sentence_without_anything_to_say():
    calm = watch.watch_sentence(watched(0.95, 0.99), 96)
    assert calm.startswith("None") and "lowest is H0 in P1 left at 900 h (95 %)" in calm
    assert "No head" in watch.watch_sentence(watched(), 96)
    assert "unknown" in watch.watch_sentence(watched(math.nan), 96)


def test_an_assumed_shape_is_called_assumed(small):
    rows = [f"H{n},A,model,P{n},left,2026-01-05,0,2026-06-01,400," for n in range(6)]
    _, review = small(rows)
    (stratum,) = review.strata
    for words in (rating.basis(stratum), rating.evidence_sentence(stratum)):
        assert "assumed" in words or "No head has failed" in words
        assert "learned" not in words.replace("not learned", "")


def test_last_quarter_says_what_was_forecast_and_what_came():
    quarter = pd.DataFrame(
        {"head_type": ["A"], "low_80": [3], "high_80": [9], "inside_80": [True], "happened": [7]}
    )
    words = stock.last_quarter_sentence(quarter, "A")
    assert "3 to 9" in words and "it was 7." in words
    missed = quarter.assign(inside_80=False, happened=12)
    assert "12, outside the range" in stock.last_quarter_sentence(missed, "A")
    assert stock.last_quarter_sentence(quarter, "B") == ""
    assert stock.last_quarter_sentence(quarter.iloc[:0], "A") == ""


def test_one_policy_has_one_cost_in_sentence_and_table(demo):
    from headlife.decisions.policy.proposal import proposal_study
    from headlife.show.past_rating.tables import policies
    from headlife.show.words.policy import advice_sentence

    records, review = demo
    made = proposal_study(review, records.shop)
    named = 0
    for kind, answer in made.each():
        said = advice_sentence(kind, answer)
        listed = answer.listed(answer.advice.age)
        if listed is None:
            assert "spares held not counted" in said
            continue
        named += 1
        place = answer.policies.index(listed)
        cost = policies(answer).rows[place][2].split(" (")[0]
        assert f"({cost} {made.currency} per print hour, spares held included)" in said
    assert named >= 2
