"""Lots that differ in life: heads in place by their own lot's, new heads by the newest one's."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from tests.futures.two_lots import BY_LOT, IN, LONG, RATED, SHORT, WEEKLY, heads_of, made, two_lots

import headlife as hl
from headlife.decisions.spares.ahead import fleet_ahead
from headlife.futures.draws import DrawnLives, ModeDraws
from headlife.futures.in_turn import LivesInTurn, OneOfLives
from headlife.life.by_lot import LifeByLot, by_purchase
from headlife.life.evidence import Evidence
from headlife.life.groups import Group, GroupEvidence
from headlife.life.lots import lot_lives
from headlife.show.words.stock import ahead_sentence, stock_sentence


def demand(case, weeks=26.0):
    return fleet_ahead(case.fleet, case.modes, case.shop, case.day, weeks).demand("A").mean


def test_drawn_lots_have_the_posterior_that_they_are_drawn_from():
    """Shares of draws within three binomial errors of the posterior's own chances."""
    rng = np.random.default_rng(4)
    parts = [
        Evidence.from_lives(
            0.0, np.minimum(ages, 1.5 * RATED), ages < 1.5 * RATED, reference_hours=RATED
        )
        for ages in (700.0 * rng.weibull(2.2, 40), 450.0 * rng.weibull(2.2, 8))
    ]
    draws = 20_000
    node, shared = rng.random(draws), rng.standard_normal(draws)
    for prior in ("calibrated", "forecast"):
        for life in lot_lives(parts, prior):
            shape, scale = life.at(node, shared, rng.standard_normal(draws))
            reached = np.exp(-((RATED / scale) ** shape))
            for share in (0.3, 0.5, 0.7, 0.85):
                chance = life.probability_reliability_above(share, RATED)
                error = 3.0 * np.sqrt(chance * (1.0 - chance) / draws) + 1e-3
                assert (reached > share).mean() == pytest.approx(chance, abs=error)


def test_lots_vary_together_as_far_as_they_lean_on_each_other(tmp_path):
    """All in common where lots do not differ at all, less the wider the spread between them."""
    case = made(tmp_path, two_lots())
    (life,) = case.modes[Group("A", "model")]
    for lot in life.lots.values():
        by_spread = lot.in_common.reshape(-1, 13)
        assert (by_spread[0] == 1.0).all()
        assert (np.diff(by_spread, axis=0) <= 0.0).all()
        assert (lot.in_common >= 0.0).all()


def test_new_heads_live_as_the_lot_with_the_newest_head(tmp_path):
    """With known lives: head in place by its own, every one after it by the other's."""

    def sure(hours):
        return DrawnLives([ModeDraws.from_parameters(np.full(50, 20.0), np.full(50, hours))])

    lives, rng = LivesInTurn(sure(900.0), sure(300.0)), np.random.default_rng(1)
    assert lives.remaining(np.zeros((1, 1), np.float32), ..., rng).mean() > 800.0
    assert lives.new(50, ..., None, rng).mean() < 350.0
    assert lives.part(slice(0, 10)).within(1e9).new(10, ..., None, rng).max() < 400.0
    assert 500.0 < lives.stretched(2.0).new(50, ..., None, rng).mean() < 700.0

    # The same lives on record and as many heads in place; only which lot is bought differs.
    short = demand(made(tmp_path, two_lots("B")), 52.0)
    long = demand(made(tmp_path, two_lots("A")), 52.0)
    pooled = demand(made(tmp_path, two_lots("B"), groups=""), 52.0)
    assert long < 0.75 * pooled and short > 1.3 * pooled
    # In 1,092 h a head is followed every 300 h or, of the long-lived lot, 17 of 25 fail once.
    assert short == pytest.approx(6 * 52 * WEEKLY / 300.0, rel=0.15)
    assert long == pytest.approx(6 * 17 / 25, rel=0.2)


def test_a_head_in_place_is_of_its_own_lot_and_its_spare_of_the_newest(tmp_path):
    """Heads of the long-lived lot in place, the short-lived one bought now: one life each."""
    heads = [
        *heads_of("A", "2023-01-02", LONG),
        *heads_of("B", "2024-06-03", SHORT),
        *heads_of("A", "2025-09-01", [None] * 8),
        *heads_of("B", "2025-12-25", [None]),
    ]
    case = made(tmp_path, heads)
    # 8 heads of lot A at about 366 h are good for 16 weeks more: one of lot B is not.
    alone = made(tmp_path, [*heads[:-9], heads[-1]])
    assert demand(case, 16.0) - demand(alone, 16.0) < 1.5
    b_only = [*heads[:-9], *heads_of("B", "2025-09-01", [None] * 8), heads[-1]]
    assert demand(made(tmp_path, b_only), 16.0) > demand(case, 16.0) + 7.0


def test_lots_that_are_alike_are_forecast_about_as_one(tmp_path):
    """Mean within a twentieth of the one for all, and no wider by more than a tenth."""
    rng = np.random.default_rng(8)
    lives = 600.0 * rng.weibull(2.5, 120)
    heads = [
        *heads_of("A", "2022-01-03", lives[:60]),
        *heads_of("B", "2023-01-02", lives[60:]),
        *heads_of("B", "2025-10-02", [None] * 16),
    ]
    apart, one = (made(tmp_path, heads, groups) for groups in (BY_LOT, ""))
    found = [
        fleet_ahead(case.fleet, case.modes, case.shop, case.day, 26.0).swaps_of("A").sum(axis=1)
        for case in (apart, one)
    ]
    assert found[0].mean() == pytest.approx(found[1].mean(), rel=0.05)
    assert found[0].std() < 1.1 * found[1].std()


def test_without_lots_to_tell_apart_nothing_changes(tmp_path):
    """One lot, no failure, printers instead of purchases, or no column: byte for byte."""
    single = heads_of("A", "2023-01-02", [*LONG, *IN])
    unfailed = [*heads_of("A", "2025-08-04", IN), *heads_of("B", "2025-12-01", IN)]
    young = [*single, *heads_of("B", "2026-01-01", IN)]  # put in today: no lives to compare
    for heads, groups in (
        (single, BY_LOT),
        (unfailed, BY_LOT),
        (young, BY_LOT),
        (two_lots(), 'groups = ["position"]\n'),
    ):
        apart, one = made(tmp_path, heads, groups), made(tmp_path, heads, "")
        assert not any(isinstance(life, LifeByLot) for own in apart.modes.values() for life in own)
        then = [fleet_ahead(c.fleet, c.modes, c.shop, c.day, 26.0) for c in (apart, one)]
        assert np.array_equal(then[0].swaps_of("A"), then[1].swaps_of("A"))


def test_heads_without_a_lot_and_lots_without_hours_are_forecast(tmp_path):
    """Blank is a lot of its own; one put in today leans on the others; both are said."""
    blank = [(("" if lot == "B" else lot), day, age) for lot, day, age in two_lots()]
    named, unnamed = made(tmp_path, two_lots()), made(tmp_path, blank)
    assert demand(unnamed) == demand(named)
    (answer,) = hl.quarterly_review(unnamed).stock
    assert answer.new_heads_as == {"model": {"no lot": 1.0}}

    today = made(tmp_path, [*two_lots(), *heads_of("C", "2026-01-01", IN)])
    review = hl.quarterly_review(today)
    (answer,) = review.stock
    assert answer.new_heads_as == {"model": {"lot C": 1.0}}
    assert "as those of lot C" in ahead_sentence(answer) and "%" in stock_sentence(answer)
    assert np.isfinite(answer.demand.mean)


def test_a_past_quarter_knows_the_lot_bought_then(tmp_path):
    case = made(tmp_path, two_lots())
    for day, lot in (("2024-12-31", "B"), ("2026-01-01", "B"), ("2024-06-02", None)):
        (life,) = case.with_(as_of=day).modes[Group("A", "model")]
        assert bought(life) == (None if lot is None else {lot: 1.0})
    # A lot that comes back is bought beside the other one as long as that may still be bought.
    returned = made(tmp_path, [*two_lots(), *heads_of("A", "2025-12-29", IN)])
    for day, lots in (("2025-12-28", ["B"]), ("2026-01-01", ["A", "B"])):
        (life,) = returned.with_(as_of=day).modes[Group("A", "model")]
        assert list(bought(life)) == lots


def bought(life):
    """Shares of the lots bought now by their names; None where lots are not told apart."""
    if not isinstance(life, LifeByLot):
        return None
    return {lot.further[0][1]: share for lot, share in life.bought_now.items()}


def parts_bought(*days):
    """Parts of a division, each as its name, its first and last day and its heads."""
    parts = []
    for name, first, last, heads in days:
        group = Group("A", "model", (("vendor", name),))
        between = (pd.Timestamp(last), pd.Timestamp(first))
        parts.append(GroupEvidence(group, RATED, heads, {}, bought=between))
    return {one.group.further[0][1]: one.share for one in by_purchase(parts)}


def test_what_is_bought_side_by_side():
    """Shares by how often heads came; a part that ended, or never overlapped, has none."""
    one_after_the_other = parts_bought(
        ("A", "2023-01-01", "2024-12-31", 25), ("B", "2025-01-05", "2025-06-01", 6)
    )
    assert one_after_the_other == {"B": 1.0, "A": 0.0}
    # One head every 30 days and one every 10, both to the end.
    beside = parts_bought(
        ("A", "2023-01-01", "2025-05-20", 30), ("B", "2024-12-03", "2025-06-01", 19)
    )
    assert beside == {"B": pytest.approx(0.75, abs=0.01), "A": pytest.approx(0.25, abs=0.01)}
    # The older one's last heads were used up when the newer one had come already: 29 days apart, so
    # beside it for 87 days more and no longer.
    leftover = ("A", "2023-01-01", "2025-01-20", 27)
    assert parts_bought(leftover, ("B", "2025-01-01", "2025-04-10", 5))["A"] > 0.3
    assert parts_bought(leftover, ("B", "2025-01-01", "2025-04-20", 5)) == {"B": 1.0, "A": 0.0}
    # Bought in one go there is no pace to go by: the newest alone.
    at_once = parts_bought(
        ("A", "2025-06-01", "2025-06-01", 10), ("B", "2025-01-01", "2025-06-01", 1)
    )
    assert at_once == {"A": 1.0, "B": 0.0}
    assert parts_bought() == {}


def test_new_heads_bought_side_by_side_live_as_either(tmp_path):
    """Of lives of 300 and 900 h a quarter and three quarters, in the engine and in policies."""
    rng = np.random.default_rng(5)

    def sure(hours):
        return DrawnLives([ModeDraws.from_parameters(np.full(4000, 50.0), np.full(4000, hours))])

    either = OneOfLives([sure(300.0), sure(900.0)], [0.25, 0.75])
    who = np.arange(4000)
    for lives, hours in ((either, 600.0), (either.stretched(2.0), 1200.0)):
        short = lives.new(4000, who, None, rng) < hours
        assert short.mean() == pytest.approx(0.25, abs=4 * np.sqrt(0.25 * 0.75 / 4000))
    longer = np.isinf(either.within(500.0).new(4000, who, None, rng))
    assert longer.mean() == pytest.approx(0.75, abs=0.03)
    assert either.part(slice(0, 10)).new(10, who[:10], None, rng).shape == (10,)
    # Demand over a year lies between that of either alone.
    both = [*two_lots("B"), *heads_of("A", "2025-12-26", IN)]
    case = made(tmp_path, both)
    (life,) = case.modes[Group("A", "model")]
    assert set(bought(life)) == {"A", "B"}
    (answer,) = hl.quarterly_review(case).stock
    assert "bought side by side; each head" in ahead_sentence(answer)
    drawn = life.new_heads.draw(20_000, rng)
    shape, scale, weight = life.new_heads.nodes()
    there = weight @ np.exp(-((450.0 / scale) ** shape))
    assert weight.sum() == pytest.approx(1.0, abs=1e-9)
    assert np.exp(-((450.0 / drawn[1]) ** drawn[0])).mean() == pytest.approx(there, abs=0.01)
    shares = [bought(life)[name] for name in ("A", "B")]
    mean = sum(
        share * lot.median_reliability(450.0)
        for share, lot in zip(shares, (life.lots[k] for k in sorted(life.lots)), strict=True)
    )
    assert there == pytest.approx(mean, abs=0.05)


def test_printers_to_come_bring_heads_of_the_newest_lot(tmp_path):
    more = (
        '[new_printers."N"]\nmodel = "A"\nsupport = "A"\nbegins = 2026-01-05\nweekly_hours = 21\n'
    )
    case = made(tmp_path, two_lots("B"), more=more)
    other = made(tmp_path, two_lots("A"), more=more)
    found = [
        fleet_ahead(replace(c.fleet), c.modes, c.shop, c.day, 52.0).swaps_of("A")
        for c in (case, other)
    ]
    without = [demand(made(tmp_path, two_lots(lot)), 52.0) for lot in "BA"]
    added = [f.sum(axis=1).mean() - w for f, w in zip(found, without, strict=True)]
    assert added[0] == pytest.approx(52 * WEEKLY / 300.0, rel=0.3)
    assert added[1] < 0.6 * added[0]


def test_the_doubt_about_a_stock_is_that_of_its_lots(tmp_path):
    """Heads of each lot with its own draws, and the newest one's for those put in for them."""
    from headlife.futures.forecast import heads_in_place

    heads = [*two_lots("B"), *heads_of("A", "2025-09-01", [None] * 3)]
    case = made(tmp_path, heads)
    ahead = fleet_ahead(case.fleet, case.modes, case.shop, case.day, 26.0)
    own = {one.ages.size: one for one in heads_in_place(case.fleet, ahead, "A")}
    lots = {lot.part: modes for lot, modes in ahead.lots.modes.items()}
    assert own[3].modes is lots["lot A"] and own[6].modes is lots["lot B"]
    assert all(one.new_heads == [(1.0, lots["lot B"])] for one in own.values())
