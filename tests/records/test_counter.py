"""Counter-driven removals: the stated false-alarm rate, the power, and answers both ways."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.stats import binom
from tests.records.small_shop import rows_of

import headlife as hl
from headlife.errors import RecordsError
from headlife.records.audit import audit
from headlife.records.counter import FALSE_ALARM_RATE, counter_tests
from headlife.records.lives import two_readings


def fleet(rng, heads, shape, scale, share_counter=0.0, slack=30.0):
    """Lives of type A (rated 1,200 h): wear, planned swaps at the rating, ages up to now.

    A share of the swaps that the counter calls for is written down as wear.
    """
    life = scale * rng.weibull(shape, heads)
    swap = 1200 + rng.exponential(slack, heads)
    now = rng.uniform(100, 4000, heads)
    exit_hours = np.minimum(np.minimum(life, swap), now)
    called_worn = (swap <= np.minimum(life, now)) & (rng.random(heads) < share_counter)
    mode = np.where((exit_hours == life) | called_worn, "wear", None)
    return pd.DataFrame(
        {
            "head_type": "A",
            "entry_hours": 0.0,
            "exit_hours": exit_hours,
            "mode": mode,
            "rated_hours": 1200.0,
        }
    )


@pytest.mark.parametrize(
    ("heads", "shape", "scale"),
    [(40, 2.5, 1500.0), (400, 1.0, 1500.0), (400, 4.0, 1300.0), (3000, 6.0, 1250.0)],
)
def test_false_alarms_are_no_more_than_stated(shop, heads, shape, scale):
    # Null: wear that rises smoothly with age. Both marks of the type are counted; the limit is
    # the stated rate plus what 1 in 1,000 binomial samples of a rate at the limit would exceed.
    rng = np.random.default_rng(11)
    trials = 250
    alarms = sum(
        test.piled_up
        for _ in range(trials)
        for test in counter_tests(fleet(rng, heads, shape, scale), shop)
        if test.head_type == "A"
    )
    assert alarms <= binom.ppf(0.999, 2 * trials, FALSE_ALARM_RATE)


def test_a_real_pile_up_is_found(shop):
    # Half of the swaps at the rating written down as wear, 150 heads.
    rng = np.random.default_rng(12)
    found = [
        next(
            test
            for test in counter_tests(fleet(rng, 150, 2.5, 2000.0, share_counter=0.5), shop)
            if (test.head_type, test.mark) == ("A", "rating")
        ).piled_up
        for _ in range(50)
    ]
    assert np.mean(found) > 0.9


def test_the_test_counts_heads_and_hours_in_the_bands(shop):
    lives = pd.DataFrame(
        {
            "head_type": ["A"] * 4,
            "entry_hours": [0.0, 1200.0, 0.0, 0.0],
            "exit_hours": [1210.0, 1300.0, 1150.0, 500.0],
            "rated_hours": 1200.0,
            "mode": ["wear", None, "wear", "wear"],
        }
    )
    test = next(t for t in counter_tests(lives, shop) if (t.head_type, t.mark) == ("A", "rating"))
    # Band 1,188 to 1,248 h, beside it 1,128 to 1,188 and 1,248 to 1,308 h.
    assert (test.worn_in_band, test.worn_beside) == (1, 1)
    assert test.hours_in_band == pytest.approx(22 + 48)
    assert test.hours_beside == pytest.approx(60 + 22 + 52)
    share = 1.5 * 70 / (1.5 * 70 + 134)
    assert test.p_value == pytest.approx(1 - (1 - share) ** 2)
    assert not test.piled_up


@pytest.fixture
def piled(read):
    """Twelve heads of type A called worn out just past 1,200 h, one worn out early."""
    base = rows_of()[2]
    rows = [
        base
        | {"head": f"C{i:02d}", "printer": f"Q{i}", "hours_out": str(1201 + i), "date_out": day}
        | {"reason": "worn out"}
        for i, day in enumerate(["2025-06-01"] * 12)
    ]
    return read([*rows_of(), *rows])


def test_every_answer_can_be_had_both_ways(piled):
    both = two_readings(piled)
    assert both.doubtful["head"].tolist() == [f"C{i:02d}" for i in range(12)]
    assert set(both.doubtful["why"]) == {"counter reached"}
    assert (both.as_failures["mode"] == "wear").sum() == 13
    assert (both.as_suspensions["mode"] == "wear").sum() == 1
    assert (both.as_suspensions["suspension"] == "counter reached").sum() == 12
    pd.testing.assert_frame_equal(both.as_failures, hl.lives(piled))
    pd.testing.assert_frame_equal(both.as_suspensions, hl.lives(piled, counter_driven="suspension"))
    same = both.as_failures["head"].isin(both.doubtful["head"]) == False  # noqa: E712
    pd.testing.assert_frame_equal(both.as_failures[same], both.as_suspensions[same])


def test_the_audit_shows_the_pile_up(piled):
    found = audit(piled).set_index("check")
    assert (
        "12 heads of type 'A' are called worn out"
        in found.loc["pile-up at the counter", "sentence"]
    )


def test_heads_pulled_on_looks_are_read_both_ways(read):
    rows = rows_of()
    rows[1]["reason"] = "looked bad"
    both = two_readings(read(rows))
    assert both.doubtful[["head", "why"]].to_numpy().tolist() == [["H1", "looked bad"]]
    assert both.as_failures.set_index("head").loc["H1", "mode"] == "wear"
    pulled = both.as_suspensions.set_index("head").loc["H1"]
    assert (pulled["mode"], pulled["suspension"]) == (None, "looked bad")
    assert np.isnan(pulled["last_good_hours"])


def test_nothing_doubtful_nothing_differs(read):
    both = two_readings(read())
    assert both.doubtful.empty
    pd.testing.assert_frame_equal(both.as_failures, both.as_suspensions)


def test_a_reading_that_is_neither_is_named(read):
    with pytest.raises(RecordsError, match="as failure or as suspension, not as 'maybe'"):
        hl.lives(read(), counter_driven="maybe")
