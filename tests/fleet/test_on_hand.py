"""Heads on the shelf and on the way: each one is counted once, at one site, on its own day."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

import headlife as hl
from headlife.decisions.spares.levels import stock_answers
from headlife.errors import SettingsError
from headlife.fleet.state import Fleet
from headlife.futures.demand import KnownLife
from headlife.life.groups import Group
from headlife.show.words.stock import note_sentence

START = pd.Timestamp("2026-01-05")
LIVES = {Group("A", "model"): [KnownLife(1.0, 1000.0)]}
SEPARATE = "on_hand_by_site = { north = 1, south = 3 }\n"
SETTINGS = """
name = "Test workshop"
policy = {{ swap_at = "failure" }}
[reasons.failures]
"worn out" = "wear"
[head_types."A"]
rated_hours = 1000
{head}
[spares]
lead_time_weeks = 6
review_weeks = 13
sites = "{sites}"
[review]
draws = 2000
seed = 3
"""


@pytest.fixture
def shop(tmp_path):
    def make(head="", sites="pooled"):
        text = SETTINGS.format(head=head, sites=sites)
        (tmp_path / "shop.toml").write_text(text, encoding="utf-8")
        return hl.read_shop(tmp_path / "shop.toml")

    return make


def fleet(*sites):
    positions = pd.DataFrame(
        {
            "head": [f"H{n}" for n in range(len(sites))],
            "head_type": "A",
            "role": "model",
            "site": list(sites),
            "printer": [f"P{n:03d}" for n in range(len(sites))],
            "position": "left",
            "age_hours": 100.0,
            "weekly_hours": 40.0,
            "share_of_hours": 1.0,
        }
    )
    return Fleet(positions, positions.head(0)[["head", "head_type", "role", "site", "age_hours"]])


TWO_SITES = fleet(*["north"] * 4, *["south"] * 8)


def stock(settings, state=TWO_SITES):
    return stock_answers(state, LIVES, settings, START)


ORDERS = [
    "orders.a = { heads = 2, site = 'north' }",
    "orders.a = { heads = 2, site = 'south', due = 2026-02-02 }\n"
    "orders.b = { heads = 3, site = 'north', due = 2026-03-02 }\n"
    "orders.c = { heads = 1, site = 'south' }",
]


@pytest.mark.parametrize("orders", ORDERS)
def test_heads_on_order_are_the_same_number_pooled_and_apart(orders, shop):
    (pooled,) = stock(shop(SEPARATE + orders))
    apart = stock(shop(SEPARATE + orders, "separate"))
    ordered = shop(orders).head_types["A"]
    assert sum(a.plan.on_order for a in apart) == pooled.plan.on_order == ordered.heads_on_order
    for answer in apart:
        mine = [o.heads for o in ordered.open_orders.values() if o.site == answer.site]
        assert answer.plan.on_order == sum(mine)
        # What is on the way is not ordered again, and what is on order elsewhere does not count.
        held = answer.plan.on_hand + answer.plan.on_order
        assert answer.plan.order_now == max(answer.plan.stock_level - held, 0)
    assert sum(a.plan.on_hand for a in apart) == pooled.plan.on_hand == 4


def test_an_order_says_the_same_as_the_short_form_where_stocks_are_pooled(shop):
    for short, order in [
        ("on_order = 3", "orders.a = { heads = 3 }"),
        ("on_order = 3\non_order_due = 2026-02-02", "orders.a = { heads = 3, due = 2026-02-02 }"),
        ("on_order = 3", "orders.a = { heads = 1, site = 'north' }\norders.b = { heads = 2 }"),
    ]:
        (one,), (other,) = stock(shop(short)), stock(shop(order))
        assert one.plan.on_order == other.plan.on_order == 3
        assert one.plan.order_now == other.plan.order_now
        pd.testing.assert_frame_equal(one.plan.table, other.plan.table)


def test_each_order_saves_waiting_from_its_own_day(shop):
    # Only the level's own first heads count, and those come first that are due first.
    early, late = "due = 2026-01-12", "due = 2026-05-04"
    waits = [
        stock(shop(f"orders.a = {{ heads = 3, {one} }}\norders.b = {{ heads = 3, {two} }}"))[0]
        .plan.table.set_index("stock_level")["idle_hours"]
        .loc[:6]
        .to_numpy()
        for one, two in [(early, early), (early, late), (late, early), (late, late)]
    ]
    np.testing.assert_array_equal(waits[1], waits[2])
    np.testing.assert_array_equal(waits[0][:4], waits[1][:4])
    assert (waits[1][4:] > waits[0][4:]).all()
    assert (waits[3][1:] > waits[1][1:]).all()
    # Without any head the order does not matter.
    assert len({wait[0] for wait in waits}) == 1


def test_the_card_says_what_comes_when_and_where(shop):
    (pooled,) = stock(shop(ORDERS[1]))
    assert note_sentence(pooled) == (
        "On order: 2 (a) for south, due on 2 February 2026; 3 (b) for north, due on 2 March 2026; "
        "1 (c) for south, no day stated, counted one lead time from now."
    )
    north, south = stock(shop(SEPARATE + ORDERS[1], "separate"))
    assert note_sentence(north) == "On order: 3 (b), due on 2 March 2026."
    assert "(a), due" in note_sentence(south)
    assert "(b)" not in note_sentence(south)
    late = note_sentence(stock(shop("on_order = 1\non_order_due = 2025-12-01"))[0])
    assert late == "On order: 1, due on 1 December 2025, which has passed, and counted as here now."
    assert note_sentence(stock(shop("on_order = 1"))[0]) == ""


@pytest.mark.parametrize(
    ("orders", "said"),
    [
        ("on_order = 2", r"on_order = 2 must say for which site; write orders.* site = \"north\""),
        ("orders.a = { heads = 2 }", "the order 'a' must name its site"),
        ("orders.a = { heads = 2, site = 'nort' }", "'nort' .did you mean 'north'.* nowhere"),
    ],
)
def test_an_order_that_belongs_to_no_site_is_refused_where_stocks_are_separate(orders, said, shop):
    with pytest.raises(SettingsError, match=said):
        stock(shop(SEPARATE + orders, "separate"))
    assert stock(shop(orders))[0].plan.on_order == 2


def test_printers_without_a_site_take_the_orders_without_one(shop):
    state = fleet("north", "north", None)
    head = 'on_hand_by_site = {{ north = 0, "" = 1 }}\n{}'
    orders = "orders.a = { heads = 2, site = 'north' }\norders.b = { heads = 3 }"
    found = stock(shop(head.format(orders), "separate"), state)
    assert {a.site: a.plan.on_order for a in found} == {"": 3, "north": 2}
    with pytest.raises(SettingsError, match="printers without a site"):
        stock(shop("on_hand_by_site = { north = 0 }", "separate"), state)


def test_heads_on_a_shelf_where_nothing_runs_are_refused(shop):
    spare = "on_hand_by_site = {{ north = 1, south = 3, west = {} }}"
    with pytest.raises(SettingsError, match="2 on the shelf at 'west'.* counted nowhere"):
        stock(shop(spare.format(2), "separate"))
    assert len(stock(shop(spare.format(0), "separate"))) == 2


def test_two_numbers_of_heads_on_hand_must_agree(shop):
    assert stock(shop("on_hand = 4\n" + SEPARATE))[0].plan.on_hand == 4
    with pytest.raises(SettingsError, match="on_hand = 5, but its on_hand_by_site adds up to 4"):
        shop("on_hand = 5\n" + SEPARATE)
