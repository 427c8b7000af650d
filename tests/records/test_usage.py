"""Print hours by printer, and which share of them each head runs: exact cases, and what adds."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from headlife.records.usage import learned_hours, role_shares, usage_sums


def stints(rows):
    """Installations (printer, role, first day, last day, hours)."""
    return pd.DataFrame(rows, columns=["printer", "role", "day_in", "day_out", "run"])


def steady(shares, weeks=60, step=10, hours=42.0, printers=4):
    """Printers whose heads are read every `step` weeks; the support head runs a share."""
    rows = []
    for number in range(printers):
        for begin in range(0, weeks, step):
            days = 7 * begin, 7 * (begin + step)
            rows.append((f"P{number}", "model", *days, hours * step))
            rows.append((f"P{number}", "support", *days, hours * step * shares[number]))
    return stints(rows)


def learn(used):
    sums = usage_sums(used, int(used["day_out"].max()))
    shares = role_shares(sums)
    return learned_hours(sums, shares), shares


def test_one_counter_for_both_heads_is_one_share():
    hours, shares = learn(steady([1.0] * 4))
    assert set(shares.values()) == {1.0}
    assert hours == pytest.approx(dict.fromkeys(("P0", "P1", "P2", "P3"), 42.0))


def test_a_twentieth_apart_is_no_difference():
    """Readings are of whole days, and not of one day."""
    assert set(learn(steady([0.96] * 4))[1].values()) == {1.0}


def test_a_head_that_counts_less_is_told_by_its_share():
    hours, shares = learn(steady([0.6] * 4))
    for printer in hours:
        assert shares[printer, "model"] == 1.0
        assert shares[printer, "support"] == pytest.approx(0.6, abs=0.03)
        # the hours of the printer, not the mean of its heads
        assert hours[printer] == pytest.approx(42.0, rel=0.03)


def test_the_busier_role_may_be_either():
    _, shares = learn(steady([1.5] * 4))
    assert shares["P0", "support"] == 1.0
    assert shares["P0", "model"] == pytest.approx(1 / 1.5, abs=0.03)


def test_every_printer_has_its_own_share():
    _, shares = learn(steady([0.4, 0.6, 0.8, 1.0]))
    told = [shares[f"P{number}", "support"] for number in range(4)]
    assert told == sorted(told)
    assert told == pytest.approx([0.4, 0.6, 0.8, 1.0], abs=0.06)


def test_a_young_printer_is_taken_as_its_shop_is():
    """Three weeks of other hours say little beside four printers of a year."""
    old = steady([0.5] * 4)
    young = stints([("P9", "model", 399, 420, 126.0), ("P9", "support", 399, 420, 126.0)])
    _, shares = learn(pd.concat([old, young], ignore_index=True))
    assert 0.5 < shares["P9", "support"] < 0.7
    _, alone = learn(stints([*young.itertuples(index=False)]))
    assert set(alone.values()) == {1.0}


def test_a_printer_with_one_role_runs_all_its_hours():
    used = stints([("P1", "model", 0, 70, 300.0), ("P2", "support", 0, 70, 100.0)])
    hours, shares = learn(used)
    assert shares.get(("P2", "support"), 1.0) == 1.0
    assert hours == pytest.approx({"P1": 30.0, "P2": 10.0})


def test_sums_of_parts_are_those_of_the_whole():
    used = steady([0.3, 0.7, 0.9, 1.0])
    last = int(used["day_out"].max())
    rng = np.random.default_rng(1)
    part = rng.integers(0, 3, len(used))
    parts = pd.concat([usage_sums(used[part == number], last) for number in range(3)])
    pd.testing.assert_frame_equal(parts.groupby(level=[0, 1]).sum(), usage_sums(used, last))
