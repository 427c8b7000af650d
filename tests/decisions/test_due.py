"""What is due: days from use, their range, the one word of what to do, and the spare for it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from tests.written_case import case_of

import headlife as hl
from headlife.decisions.due import (
    ACTIONS,
    BEFORE_BUILD,
    LEAVE,
    PLAN,
    SWAP_NOW,
    due_list,
    reaching_days,
)
from headlife.errors import DecisionError
from headlife.show.plain import lines
from headlife.show.words.due import WHICH_PART_USED, choice_of_spares, spare_words

DEMO = Path(__file__).parents[2] / "data_demo"
SETTINGS = """
name = "Small shop"
[reasons.failures]
"worn" = "wear"
[reasons.suspensions]
"swap" = "planned swap"
"material" = "material change"
[head_types."A"]
rated_hours = 500
on_hand = {on_hand}
{head_type}
[spares]
lead_time_weeks = 4
[usage]
{usage}
[review]
build_hours = 40
draws = 500
{review}
{more}
"""


@pytest.fixture
def due(tmp_path):
    """List what is due in a shop of a few rows."""

    def make(rows, on_hand=0, head_type="", review="", more="", **options):
        used = "\n".join(f"{name} = 42.0" for name in sorted({row.split(",")[3] for row in rows}))
        text = SETTINGS.format(
            on_hand=on_hand, head_type=head_type, review=review, more=more, usage=used
        )
        return due_list(case_of(tmp_path, text, rows), **options)

    return make


def in_service(head, printer, hours, position="left", role="model"):
    return f"{head},A,{role},{printer},{position},2026-01-01,0,2026-03-31,{hours},"


def words_of(found):
    return dict(zip(found.heads["head"], found.heads["action"], strict=True))


def test_at_steady_use_the_day_is_that_of_the_hours():
    passed = np.cumsum(np.full((3, 10), 42.0), axis=1)
    needed = np.array([0.0, 42.0, 63.0])
    day, first, last = reaching_days(needed, np.zeros(3), passed, np.zeros(3))
    np.testing.assert_allclose(day, [0.0, 7.0, 10.5])
    np.testing.assert_allclose(first, day, atol=1e-4)
    np.testing.assert_allclose(last, day, atol=1e-4)


def test_a_stop_moves_the_day_and_beyond_the_weeks_given_there_is_none():
    passed = np.cumsum([[42.0, 0.0, 42.0]], axis=1)
    day, _, _ = reaching_days(np.array([63.0]), np.zeros(1), passed, np.zeros(1))
    np.testing.assert_allclose(day, [17.5])
    assert np.isinf(reaching_days(np.array([85.0]), np.zeros(1), passed, np.zeros(1))[0])


def test_the_range_holds_four_days_in_five_where_use_spreads():
    """80 % ranges hold 80 % of simulated shops, before and after the last reading alike."""
    rng = np.random.default_rng(5)
    shops, spread, since = 4_000, 0.15, 60.0
    log_spread = np.sqrt(np.log1p(spread**2))
    factor = np.exp(log_spread * rng.normal(size=shops) - 0.5 * log_spread**2)
    passed = np.cumsum(np.full((1, 104), 42.0), axis=1)
    _, first, last = (
        one[0]
        for one in reaching_days(np.array([300.0]), np.array([since]), passed, np.array([spread]))
    )
    # The head ran since * factor hours since its reading and needs 300 + 60 in all.
    true_day = np.maximum((300.0 + since) / factor - since, 0.0) / 42.0 * 7.0
    held = np.mean((true_day >= first) & (true_day <= last))
    assert held == pytest.approx(0.80, abs=4 * np.sqrt(0.8 * 0.2 / shops))


def test_one_word_for_each_head_the_most_urgent_first(due):
    rows = [
        in_service("LOW", "P1", 50),
        in_service("PAST", "P2", 520),
        in_service("NEXT", "P3", 470),  # 30 h to the rating, a build is 40 h
        in_service("SOON", "P4", 380),  # 120 h to go, less than four weeks of 42 h
        "OLD,A,model,P1,left,2025-06-01,0,2025-12-31,480,swap",
    ]
    found = due(rows)
    assert words_of(found) == {
        "PAST": SWAP_NOW,
        "NEXT": BEFORE_BUILD,
        "SOON": PLAN,
        "LOW": LEAVE,
    }
    assert list(found.heads["head"]) == ["PAST", "NEXT", "SOON", "LOW"]
    assert set(found.heads["action"]) <= set(ACTIONS)


def test_a_policy_past_the_rating_leaves_a_head_there_unless_it_is_quality_critical(due):
    rows = [in_service("H", "P1", 520), in_service("YOUNG", "P2", 10)]
    late = "[policy]\nswap_at = 700.0"
    assert words_of(due(rows, more=late))["H"] != SWAP_NOW
    critical = due(rows, more=f'{late}\n[printers."P1"]\nquality_critical = true')
    assert words_of(critical)["H"] == SWAP_NOW


def test_run_to_failure_is_never_due_by_policy(due):
    found = due([in_service("H", "P1", 520)], more='[policy]\nswap_at = "failure"')
    row = found.heads.iloc[0]
    assert np.isinf(row["to_swap"]) and pd.isna(row["day_swap"])
    assert row["action"] != SWAP_NOW


def test_policy_and_practice_stand_side_by_side(due):
    rows = [
        in_service("H", "P1", 100),
        "OLD,A,model,P1,left,2025-01-01,0,2025-12-31,560,swap",
    ]
    row = due(rows).heads.iloc[0]
    assert row["swap_at"] == 500 and row["practice_at"] == pytest.approx(560)


def test_each_spare_is_given_once_the_most_urgent_head_first(due):
    rows = [in_service("A1", "P1", 520), in_service("A2", "P2", 510), in_service("A3", "P3", 505)]
    orders = 'orders."7" = { heads = 1, due = 2026-04-20 }'
    found = due(rows, on_hand=1, head_type=orders).heads.set_index("head")
    assert list(found.loc[["A1", "A2", "A3"], "spare"]) == ["new", "on order", "none"]
    assert found.loc["A2", "spare_day"] == pd.Timestamp("2026-04-20")
    assert pd.isna(found.loc["A3", "spare_day"])


def test_a_part_used_head_serves_its_own_role_and_only_with_a_build_to_go(due):
    rows = [
        in_service("S", "P1", 520, "right", "support"),
        in_service("M", "P2", 510),
        "USED,A,model,P3,left,2025-06-01,0,2025-12-31,200,material",
        "WORN,A,support,P3,right,2025-06-01,0,2025-12-31,480,material",
    ]
    found = due(rows).heads.set_index("head")
    assert found.loc["M", "spare_heads"] == ("USED",)
    assert found.loc["S", "spare"] == "none"


def test_which_of_several_part_used_heads_goes_in_is_left_to_the_plan(due):
    # The list named the least used one, the plan put in another: two answers to one question.
    rows = [
        in_service("M1", "P1", 520),
        in_service("M2", "P2", 510),
        in_service("M3", "P3", 505),
        *(
            f"U{hours},A,model,P9,left,2025-06-01,0,2025-12-31,{hours},material"
            for hours in (200, 60, 300)
        ),
    ]
    found = due(rows).heads.set_index("head")
    assert found.loc["M1", "spare_heads"] == ("U60", "U200", "U300")
    assert found.loc["M2", "spare_heads"] == ("U60", "U200")  # the most used counts as gone
    assert spare_words(found.loc["M1"]) == "one of 3 part-used heads (60 to 300 h)"
    assert spare_words(found.loc["M3"]) == "U60 (used 60 h)"
    assert choice_of_spares(lines(due(rows).heads)) == WHICH_PART_USED
    assert choice_of_spares(lines(due(rows[:1]).heads)) == ""


def test_the_demo_shop_has_two_heads_past_the_rating_at_which_its_settings_swap():
    case = hl.read_case(DEMO / "removals.csv", DEMO / "shop.toml")
    found = due_list(case)
    assert list(found.of_action(SWAP_NOW)["head"]) == ["S014", "S027"]
    assert len(found.heads) == len(case.fleet.positions)
    again = due_list(hl.read_case(DEMO / "removals.csv", DEMO / "shop.toml"))
    pd.testing.assert_frame_equal(found.heads, again.heads)


def test_a_build_that_is_none_is_refused():
    case = hl.read_case(DEMO / "removals.csv", DEMO / "shop.toml")
    with pytest.raises(DecisionError, match="length of the next build"):
        due_list(case, build_hours=0)


def test_a_log_of_which_no_head_is_due_has_its_review(tmp_path):
    """The demo's first 80 rows: print hours are learned, and nothing is due; it was a traceback."""
    rows = (DEMO / "removals.csv").read_text().splitlines(keepends=True)[:81]
    (tmp_path / "log.csv").write_text("".join(rows))
    case = hl.read_case(tmp_path / "log.csv", shop=DEMO / "shop.toml")
    review = hl.quarterly_review(case)
    none = review.fleet.positions.iloc[:0]
    factor, spread = review.fleet.usage_ahead(none, np.empty(0))
    assert factor.shape == spread.shape == (0,)
    assert hl.actions_of(review, case.shop) is not None
