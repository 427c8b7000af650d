"""Printers that stand still are told from print hours that swing: simulated shops."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from tests.fleet.test_workload import installations

import headlife as hl
from headlife.decisions.spares.levels import stock_answers
from headlife.fleet.past_hours import learn_workload
from headlife.fleet.stops import stood_still
from headlife.show.words.stock import ahead_sentence

DEMO = Path(__file__).parents[2] / "data_demo"


def with_a_stop(printers, weeks=156, stop=40, **how):
    """The same record, some printers standing still for its last weeks, whatever head is in."""
    names, day_in, day_out, run = installations(weeks=weeks, **how)
    stands, begins = np.isin(names, printers), 7.0 * (weeks - stop)
    # A head in place then stays in; none is put in later.
    kept = ~stands | (day_in < begins)
    names, day_in, day_out, run, stands = (
        values[kept] for values in (names, day_in, day_out, run, stands)
    )
    ran = np.clip((begins - day_in) / (day_out - day_in), 0.0, 1.0)
    run = np.where(stands, run * ran, run)
    return names, day_in, np.where(stands & (day_out > begins), 7.0 * weeks, day_out), run


def test_a_printer_that_stands_still_is_no_swing_of_print_hours():
    """Three of twelve stand: what is learned of the others is as without, of them what they did."""
    for seed in range(6):
        steady = learn_workload(*installations(single=0.1, seed=seed))
        stops = learn_workload(*with_a_stop(["P1", "P4", "P9"], single=0.1, seed=seed))
        assert steady.stood == frozenset()
        assert stops.stood == {"P1", "P4", "P9"}
        assert abs(stops.common - steady.common) < 0.03
        assert abs(stops.single - steady.single) < 0.04
        assert stops.printers == steady.printers
        at = np.arange(12)
        hours, spread = stops.of_printers(at, np.full(12, 13.0))
        usual, as_usual = steady.of_printers(at, np.full(12, 13.0))
        stands = np.isin(steady.printers, ["P1", "P4", "P9"])
        assert (hours[stands] < 0.75 * usual[stands]).all()
        assert hours[~stands] == pytest.approx(usual[~stands], rel=0.1)
        assert (spread[~stands] < as_usual[~stands] + 0.05).all()


def test_a_stop_that_is_over_does_not_stand_for_today():
    """A head in place over a stop, three later ones as usual: none is said to stand."""
    names, day_in, day_out, run = installations(single=0.05, seed=3)
    over = np.flatnonzero((names == "P2") & (day_in < 300.0) & (day_out > 300.0))[:1]
    run = run.copy()
    run[over] *= 0.1
    work = learn_workload(names, day_in, day_out, run)
    assert work.stood == frozenset()
    usual = learn_workload(*installations(single=0.05, seed=3))
    assert work.common < usual.common + 0.03
    at = np.array([work.printers.index("P2")])
    now, then = (one.of_printers(at, np.array([13.0]))[0][0] for one in (work, usual))
    assert now == pytest.approx(then, rel=0.1)


def test_a_shop_that_goes_quiet_as_a_whole_swings():
    """Most printers stand: that is a swing they share, and the model's to say."""
    every = [f"P{number}" for number in range(12)]
    quiet = learn_workload(*with_a_stop(every, stop=26, single=0.05))
    assert quiet.stood == frozenset() and quiet.common > 0.1


def test_shops_that_swing_are_seldom_taken_to_have_a_stop():
    """Of 40 shops whose quarters differ by .25 together and .2 alone, one or two by luck."""
    found = [
        learn_workload(*installations(common=0.25, single=0.2, weeks=104, seed=seed)).stood
        for seed in range(40)
    ]
    assert sum(bool(one) for one in found) <= 2


def test_stocks_name_the_printers_that_stand(case):
    printers = sorted(case.fleet.positions["printer"].unique())
    assert ahead_of(case, []) == ahead_of(case, ["Nowhere"])
    one = ahead_of(case, printers[:1])
    assert f"{printers[0]} stood still for much of the time since its heads went in" in one
    every = ahead_of(case, printers)
    assert f"{', '.join(printers[:5])} and {len(printers) - 5} more stood still" in every
    assert "their heads went in and are taken to print as little" in every
    stated = case.with_(usage={printers[0]: 30.0})
    assert ahead_of(stated, printers[:1]) == ahead_of(stated, [])


@pytest.fixture(scope="module")
def case():
    return hl.read_case(DEMO / "removals.csv", shop=DEMO / "shop.toml")


def ahead_of(case, stood):
    """What is said of the stocks ahead where these printers stand, all head types together."""
    work = replace(case.fleet.workload, stood=frozenset(stood))
    fleet = replace(case.fleet, workload=work)
    answers = stock_answers(fleet, case.modes, case.shop, case.day)
    return " ".join(ahead_sentence(one) for one in answers if set(one.standing) <= set(stood))


def test_a_printer_is_no_part_of_what_the_others_did_meanwhile():
    """Two printers: beside the other alone a stay at 40 % is a stop, beside both it is half one."""
    who = np.repeat([0, 1], 6)
    start = np.tile(np.arange(6) * 70.0, 2)
    rate = np.log(40.0) + 0.01 * np.sin(np.arange(12.0))
    rate[3] += np.log(0.4)
    assert np.flatnonzero(stood_still(who, start, start + 70.0, rate)).tolist() == [3]
