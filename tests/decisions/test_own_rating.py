"""Where a type's rating changed, a head in place is due by the rating that it was bought with."""

from __future__ import annotations

import numpy as np
import pytest
from tests.written_case import COSTS

import headlife as hl
from headlife.decisions.plan.build_plan import build_plan
from headlife.decisions.spares.ahead import fleet_ahead
from headlife.futures.visits import PLANNED
from headlife.show.plain import lines

SETTINGS = """
name = "Shop"
[reasons.failures]
"worn out" = "wear"
[head_types."A"]
rated_hours = 900
earlier_ratings = [{{ bought_before = 2025-01-01, rated_hours = 500 }}]
quality_critical = {critical}
price = 300.0
on_hand = 4
[spares]
lead_time_weeks = 3
[policy]
swap_at = "{swap_at}"
[usage]
OLD = 40.0
NEW = 40.0
[review]
build_hours = 30
draws = 500
"""
SETTINGS += COSTS


@pytest.fixture
def shop(tmp_path):
    """Two printers with heads of 480 h: one bought at 500 h, one at 900 h."""

    def make(critical="false", swap_at="rating"):
        rows = ["head,head_type,role,printer,position,date_in,hours_in,date_out,hours_out,reason"]
        for n, hours in enumerate((700, 760, 830)):
            days = f"2023-0{n + 1}-01,0,2023-0{n + 6}-01"
            rows.append(f"P{n},A,model,PAST,left,{days},{hours},worn out")
        rows.append("OLD,A,model,OLD,left,2024-11-01,0,2025-03-01,480,")
        rows.append("NEW,A,model,NEW,left,2025-01-05,0,2025-03-01,480,")
        (tmp_path / "log.csv").write_text("\n".join(rows) + "\n")
        (tmp_path / "shop.toml").write_text(SETTINGS.format(critical=critical, swap_at=swap_at))
        return hl.read_case(tmp_path / "log.csv", tmp_path / "shop.toml")

    return make


def by_head(case):
    return {one.head: one for one in lines(hl.due_list(case).heads)}


def test_what_is_due_goes_by_the_rating_that_a_head_was_bought_with(shop):
    # Before, a head bought at 500 h was left in to 900 h, today's rating of its type.
    found = by_head(shop())
    old, new = found["OLD"], found["NEW"]
    assert (old.rated_hours, old.swap_at, old.notice_hours) == (500, 500, 450)
    assert (new.rated_hours, new.swap_at, new.notice_hours) == (900, 900, 810)
    assert (old.action, new.action) == ("before the next long build", "leave")
    # A rating is a limit for quality-critical heads, whatever the policy.
    critical = by_head(shop("true", "failure"))
    assert critical["OLD"].action == "before the next long build"
    assert critical["NEW"].action == "leave"
    watched = {one.head: one.rated_hours for one in lines(hl.quarterly_review(shop()).watch)}
    assert watched == {"OLD": 500, "NEW": 900}


@pytest.mark.parametrize("critical", ["false", "true"])
def test_a_plan_swaps_it_by_then(shop, critical):
    plan = build_plan(shop(critical), weeks=4)
    swaps = {one.head_out: one for one in lines(plan.swaps) if isinstance(one.head_out, str)}
    assert swaps["OLD"].age_out <= 500 and swaps["OLD"].rated_hours == 500
    assert "NEW" not in swaps or swaps["NEW"].why in ("cheaper", "together")
    assert not len(plan.past_rating)


def test_forecasts_swap_it_by_then(shop):
    case = shop()
    ahead = fleet_ahead(case.fleet, case.modes, case.shop, case.day)
    planned = ahead.swaps_of("A", kinds=[PLANNED])[:, :2].sum(axis=1)
    # It has 20 h to go at 40 h a week; the other one 420 h.
    assert np.mean(planned) > 0.8
