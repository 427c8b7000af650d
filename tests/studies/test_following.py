"""The shop that does what it is told: its books add up, and its log is one that is read whole."""

from __future__ import annotations

import datetime
from dataclasses import replace

import numpy as np

from studies.following import FIRST, Kind, SimulatedShop, follow

SMALL = Kind(printers=2, stock=3)
LISTENS, LAST = datetime.date(2021, 9, 30), datetime.date(2022, 6, 30)


def test_every_head_bought_is_in_a_printer_used_up_on_the_shelf_or_on_order(tmp_path):
    shop, found = follow(SMALL, np.random.default_rng(3), LISTENS, LAST)
    on_order = sum(heads for _, heads in shop.orders)
    in_printers = sum(head is not None for head in shop.heads.values())
    assert shop.bought == shop.used_up + in_printers + shop.shelf + on_order
    assert len(shop.rows) == shop.used_up + in_printers
    assert len(found.held) == 4 and all(level > 0 for level in found.held)
    case = shop.case(tmp_path)
    assert len(case.records.accepted) == len(shop.rows)
    assert len(case.fleet.positions) == in_printers


def test_a_shop_that_stays_without_heads_waits_and_one_with_plenty_does_not():
    days = (LISTENS - FIRST).days
    for stock, waits in ((0, True), (99, False)):
        shop = SimulatedShop(replace(SMALL, stock=stock), np.random.default_rng(3))
        for _ in range(days):
            shop.next_day()
        assert bool(shop.waited) is waits
    assert shop.used_up > 0


def test_a_head_runs_the_life_it_was_given_and_no_longer():
    shop = SimulatedShop(Kind(printers=8, stock=400, swap_at="failure"), np.random.default_rng(5))
    for _ in range(1500):
        shop.next_day()
    lives = np.array([float(str(row[-2])) for row in shop.rows if row[-1]])
    assert {row[-1] for row in shop.rows} == {"worn out", ""}
    # By the renewal theorem heads come out at the rate of hours over the mean life, about.
    hours = 1500 * SMALL.daily_hours * 16
    assert abs(lives.size - hours / (1500.0 * 0.8862)) < 4 * np.sqrt(lives.size)
