"""Heads on the shelf and on the way: each one is counted once, at one site, on its own day."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

import headlife as hl
from headlife.decisions.plan.stocks import ON_SHELF, Stocks
from headlife.decisions.spare_for import ELSEWHERE, NEW, NONE, SpareHeads
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
    def make(head="", sites="pooled", more=""):
        text = SETTINGS.format(head=head, sites=sites) + more
        (tmp_path / "shop.toml").write_text(text, encoding="utf-8")
        return hl.read_shop(tmp_path / "shop.toml")

    return make


def fleet(*sites, closed=()):
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
    shelf = positions.head(0)[["head", "head_type", "role", "site", "age_hours"]]
    return Fleet(positions, shelf, sites=frozenset({*sites, *closed} - {None}))


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


def test_heads_where_none_of_their_type_is_at_work_are_named_and_not_counted(shop):
    head = (
        "on_hand_by_site = { north = 1, south = 3, kiln = 2 }\n"
        "orders.a = { heads = 1, site = 'kiln' }"
    )
    state = fleet(*["north"] * 4, *["south"] * 8, closed=["kiln"])
    answers = stock(shop(head, "separate"), state)
    plain = stock(shop(SEPARATE, "separate"))
    for answer, other in zip(answers, plain, strict=True):
        assert (answer.plan.on_hand, answer.plan.on_order) == (other.plan.on_hand, 0)
        assert answer.plan.order_now == other.plan.order_now > 3
        assert answer.order_moved == answer.plan.order_now - 3
        (idle,) = answer.elsewhere
        assert (idle.site, idle.on_hand, idle.on_order) == ("kiln", 2, 1)
        assert note_sentence(answer) == (
            "Not counted: 2 on the shelf and 1 on order at kiln, where no A head is at work. "
            f"With them moved here first, order {answer.order_moved}."
        )
        assert not other.elsewhere
        assert other.order_moved == other.plan.order_now
    # Shared, they serve every site.
    (pooled,) = stock(shop(head), state)
    assert (pooled.plan.on_hand, pooled.plan.on_order, pooled.elsewhere) == (6, 1, ())


def test_heads_where_none_of_their_type_is_at_work_stop_no_list_of_what_is_due(shop):
    # Where a printer will come such heads may lie before it does.
    coming = (
        '[new_printers."Linnet"]\nbegins = 2026-11-02\nweekly_hours = 40\nmodel = "A"\n'
        'support = "A"\nsite = "quay"\n'
    )
    head = "on_hand_by_site = { north = 1, south = 0, kiln = 2, quay = 1 }\n"
    settings = shop(head, "separate", coming)
    state = fleet("north", "south", closed=["kiln"])
    spares = SpareHeads(settings, state, START)
    rows = list(state.positions.itertuples(index=False))
    # South has none: those where none of their type is at work are to be moved there.
    found = [spares.take(row, 96.0) for row in [*rows, rows[1], rows[1], rows[1]]]
    assert [one.kind for one in found] == [NEW, *[ELSEWHERE] * 3, NONE]
    assert [one.site for one in found] == ["", "kiln", "kiln", "quay", ""]
    assert Stocks(settings, state, START).take("A", "north", 0.0)[0] == ON_SHELF


def test_heads_on_a_shelf_of_a_site_that_nothing_names_are_refused(shop):
    spare = "on_hand_by_site = {{ north = 1, south = 3, west = {} }}"
    with pytest.raises(SettingsError, match="2 on the shelf at 'west', a site that no record"):
        stock(shop(spare.format(2), "separate"))
    assert len(stock(shop(spare.format(0), "separate"))) == 2


def test_two_numbers_of_heads_on_hand_must_agree(shop):
    assert stock(shop("on_hand = 4\n" + SEPARATE))[0].plan.on_hand == 4
    with pytest.raises(SettingsError, match="on_hand = 5, but its on_hand_by_site adds up to 4"):
        shop("on_hand = 5\n" + SEPARATE)
