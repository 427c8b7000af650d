"""Hours that printers wait, and the demand a stock must cover: against plain counting."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from headlife.decisions.spares.protection import lead_times
from headlife.decisions.spares.waiting import idle_hours
from headlife.shop import Spares


def counted(needed, lead, review_weeks, due, on_hand, level, hours):
    """Go through every future and week with a level of stock, head by head."""
    missing = 0
    for future, wait in zip(needed, lead, strict=True):
        asked = 0
        for week, more in enumerate(future, start=1):
            asked += more
            if week > np.ceil(wait + review_weeks):
                continue
            there = min(level, on_hand)
            coming = min(level - there, len(due))
            there += sum(day < week for day in due[:coming])
            there += (level - min(level, on_hand) - coming) * (week > wait)
            missing += max(asked - there, 0)
    return missing / len(needed) * hours


@settings(max_examples=30, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    on_hand=st.integers(0, 6),
    ordered=st.integers(0, 4),
    last=st.integers(0, 14),
    spread=st.booleans(),
)
def test_hours_waited_at_every_level_are_those_counted_one_by_one(
    seed, on_hand, ordered, last, spread
):
    rng = np.random.default_rng(seed)
    needed = rng.poisson(0.6, (25, 9))
    lead = rng.uniform(1.0, 5.0, 25) if spread else np.full(25, 3.0)
    due = np.sort(rng.uniform(0.0, 8.0, ordered))
    found = idle_hours(needed, lead, 4.0, due, on_hand, last, 40.0)
    wanted = [counted(needed, lead, 4.0, due, on_hand, n, 40.0) for n in range(last + 1)]
    assert found == pytest.approx(wanted, abs=1e-9)
    assert (np.diff(found) <= 1e-9).all(), "one head more never makes anyone wait longer"


def test_lead_times_have_the_mean_and_the_spread_stated():
    # Gamma: its mean and its standard deviation are those stated; 4 deviations bound it.
    spares = Spares(lead_time_weeks=6.0, lead_time_sd_weeks=1.5)
    drawn = lead_times(spares, 40_000, np.random.default_rng(2))
    assert drawn.mean() == pytest.approx(6.0, abs=4 * 1.5 / 200)
    assert drawn.std() == pytest.approx(1.5, rel=0.03)
    assert drawn.max() <= 6.0 + 4 * 1.5
    fixed = lead_times(Spares(lead_time_weeks=6.0), 5, np.random.default_rng(2))
    assert fixed.tolist() == [6.0] * 5


def late_once_in_ten(rng, size):
    return np.where(rng.random(size) < 0.1, 16.0, 6.0)


def spread_by_two_fifths(rng, size):
    return rng.gamma(1 / 0.4**2, 6.0 * 0.4**2, size)


@pytest.mark.parametrize("true_leads", [late_once_in_ten, spread_by_two_fifths])
def test_past_deliveries_tell_what_a_single_figure_hides(true_leads):
    # Simulated: Poisson demand at a known rate, so that only the lead time is not known.
    rng = np.random.default_rng(4)
    rate, review, mean = 0.5, 13.0, 7.0 if true_leads is late_once_in_ten else 6.0
    leads = true_leads(rng, 20_000)
    needed = rng.poisson(rate * (leads + review))

    def served(spares):
        drawn = lead_times(spares, 8_000, rng)
        level = np.quantile(rng.poisson(rate * (drawn + review)), 0.95, method="inverted_cdf")
        return np.mean(needed <= level)

    shops = [true_leads(rng, 12).tolist() for _ in range(150)]
    told = [served(Spares(lead_time_weeks=mean, past_lead_times_weeks=past)) for past in shops]
    assert np.mean(told) >= 0.94
    assert np.mean(told) > served(Spares(lead_time_weeks=6.0))


def test_past_deliveries_are_drawn_and_one_in_so_many_is_not_like_them():
    spares = Spares(lead_time_weeks=6.0, past_lead_times_weeks=[5.0, 7.0, 16.0])
    drawn = lead_times(spares, 40_000, np.random.default_rng(3))
    for weeks in spares.past_lead_times_weeks:
        assert np.mean(drawn == weeks) == pytest.approx(0.25, abs=0.01)
    assert drawn.max() <= spares.longest_lead_weeks == 16.0
