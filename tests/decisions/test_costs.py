from __future__ import annotations

from pathlib import Path

import pytest

from headlife.decisions.policy.costs import SwapCosts, as_costs, shop_costs
from headlife.errors import DecisionError, SettingsError
from headlife.shop import Costs, read_shop

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def shop():
    return read_shop(ROOT / "data_demo" / "shop.toml")


def priced(shop, **changes):
    return shop.with_(costs=changes)


def test_costs_add_up_as_a_person_would(shop):
    stated = Costs(
        currency="credits",
        labour_per_hour=40.0,
        machine_hour_rate=10.0,
        swap_labour_hours=0.5,
        calibration_hours=0.6,
        manual_checks=2,
        manual_check_hours=0.25,
        scrapped_build_cost=200.0,
        waiting_hours_per_stockout=48.0,
        carrying_cost_per_head_year=30.0,
    )
    found = shop_costs(shop.with_(costs=stated), "Standard", service_level=0.9)
    price = shop.head_types["Standard"].price
    assert found.head == pytest.approx(price + 0.5 * 50.0)
    # The machine calibrates alone; the two checks need a person beside it.
    assert found.visit == pytest.approx(0.6 * 10.0 + 2 * 0.25 * 50.0)
    assert found.failure - found.planned == pytest.approx(200.0 + 0.1 * 48.0 * 10.0)
    assert found.visit_hours == pytest.approx(1.1) and found.waiting_hours == pytest.approx(4.8)


def test_more_checks_cost_more_and_better_service_waits_less(shop):
    one, three = (shop_costs(priced(shop, manual_checks=n), "Standard") for n in (1, 3))
    assert three.visit > one.visit and three.head == one.head
    low, high = (shop_costs(shop, "Standard", service_level=s) for s in (0.8, 0.99))
    assert high.waiting < low.waiting and high.planned == low.planned


def test_every_missing_cost_is_named_at_once(shop):
    bare = shop.with_(costs=Costs())
    with pytest.raises(SettingsError) as told:
        shop_costs(bare, "Standard")
    for name in ("labour_per_hour", "machine_hour_rate", "scrapped_build_cost"):
        assert f"[costs] {name}" in str(told.value)
    with pytest.raises(SettingsError, match=r"without \[costs\] manual_check_hours; add it"):
        shop_costs(priced(shop, manual_check_hours=None), "Standard")


def test_unknown_head_type_and_free_swaps_end_with_a_sentence(shop):
    with pytest.raises(DecisionError, match=r"add a table \[head_types"):
        shop_costs(shop, "Ceramic")
    free = SwapCosts(head=1.0)
    with pytest.raises(DecisionError, match="costs nothing"):
        free.with_(head=0.0)
    assert as_costs((2.0, 5.0)).failure == 5.0
