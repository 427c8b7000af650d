"""Heads that come back refurbished save new ones, and are not what a vendor's rating is of."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest
from scipy import stats

import headlife as hl
from headlife.decisions.actions import VENDOR, actions_of
from headlife.decisions.spares.levels import stock_answers
from headlife.errors import HeadlifeError
from headlife.fleet.habits import handovers
from headlife.fleet.refurbished import Refurbished, refurbished
from headlife.records.used_up import new_heads_between
from headlife.show.review.values import review_values
from headlife.show.words.actions import why
from headlife.show.words.newest import newest_sentence
from headlife.show.words.stock import ahead_sentence

SETTINGS = """
name = "Shop"
[reasons.failures]
"worn out" = "wear"
[head_types."A"]
rated_hours = 500
[spares]
lead_time_weeks = 8
use_shelf = {use_shelf}
[review]
draws = 4000
groups = {groups}
"""
HEADER = "head,head_type,role,printer,position,date_in,hours_in,date_out,hours_out,reason"


def rows_of(refurbished_share, places=8, turns=8, life=400, refurbished_life=400):
    """Heads of 60 days each; a share of those that go in are refurbished ones."""
    rng, rows, due = np.random.default_rng(5), [], 0.0
    for turn in range(turns):
        for place in range(places):
            begins = np.datetime64("2024-01-01") + 60 * turn + place
            due += refurbished_share if turn else 0.0
            again = due >= 1.0
            due -= again
            last = turn == turns - 1
            mean = refurbished_life if again else life
            ran = 100 if last else mean * rng.uniform(0.9, 1.1)
            rows.append(
                f"H{turn}{place},A,model,P{place},left,{begins},0,{begins + 60},{ran:.0f},"
                f"{'' if last else 'worn out'},{'yes' if again else ''}"
            )
    return rows


@pytest.fixture
def shop(tmp_path):
    def make(rows, use_shelf="true", groups="[]"):
        (tmp_path / "log.csv").write_text("\n".join([HEADER + ",refurbished", *rows]) + "\n")
        (tmp_path / "shop.toml").write_text(SETTINGS.format(use_shelf=use_shelf, groups=groups))
        return hl.read_case(tmp_path / "log.csv", tmp_path / "shop.toml")

    return make


def stock_of(case):
    return stock_answers(case.fleet, case.modes, case.shop, case.day)[0]


def test_heads_needed_are_new_ones_by_the_share_on_record(shop):
    # Before, a refurbished head counted as a new one that has to be ordered.
    half = shop(rows_of(0.5))
    (found,) = half.fleet.refurbished
    assert (found.head_type, found.role) == ("A", "model")
    # Those of the last 364 of 487 days: the heads of five turns and the last four of another.
    assert found.of == 5 * 8 + 4 and abs(found.heads - found.of / 2) <= 1
    none, answer = stock_of(shop(rows_of(0.0))), stock_of(half)
    assert none.refurbished == () and "refurbished" not in ahead_sentence(none)
    assert answer.demand.mean == pytest.approx(none.demand.mean / 2, rel=0.06)
    assert answer.plan.stock_level < none.plan.stock_level
    assert f"{found.heads} of the last {found.of} as model were refurbished" in ahead_sentence(
        answer
    )
    # The settings may say that none comes back.
    apart = stock_of(shop(rows_of(0.5), use_shelf="false"))
    assert apart.refurbished == () and apart.demand.mean == pytest.approx(
        none.demand.mean, rel=0.03
    )


def test_a_share_of_few_heads_is_drawn_and_not_taken_for_known():
    rng = np.random.default_rng(1)
    shares = Refurbished("A", "model", 3, 10).shares_new(20_000, rng)
    # Beta(7.5, 3.5) (scipy.stats).
    known = stats.beta(7.5, 3.5)
    assert stats.kstest(shares, known.cdf).pvalue > 0.001


def test_only_new_lives_that_follow_a_used_up_head_are_counted():
    def stint(head, begins, reason, anew=False, suspension=None):
        day = np.datetime64("2026-01-01") + begins
        return {
            "head": head,
            "hours_in": 0.0,
            "reason": reason,
            "suspension": suspension,
            "printer": "P",
            "position": "left",
            "role": "model",
            "head_type": "A",
            "date_in": day,
            "date_out": day + 10,
            "refurbished": anew,
        }

    rows = pd.DataFrame(
        [
            stint("H1", 0, "worn out", anew=True),  # follows no head
            stint("H2", 10, "worn out"),
            stint("H3", 20, "material", anew=True, suspension="material change"),
            stint("H4", 30, "material", anew=True, suspension="material change"),  # after a change
            stint("H3", 40, None),  # part-used
        ]
    )
    found = refurbished(handovers(rows.assign(row=np.arange(5)), ("material change",)))
    assert found == (Refurbished("A", "model", 1, 2),)
    nothing = handovers(rows.drop(columns="refurbished").assign(row=np.arange(5)), ())
    assert refurbished(nothing) == ()


def test_new_heads_on_record_leave_refurbished_ones_out(shop):
    case = shop(rows_of(0.5))
    taken = new_heads_between(case.records, "2024-02-15", "2030-01-01")
    assert not taken["refurbished"].any() and len(taken) == 8 * 7 - 28


def test_refurbished_heads_that_live_shorter_are_told_and_the_rating_is_of_new_ones(shop):
    # New heads reach 500 h; refurbished ones wear out at 250 h: all together they fall short.
    rows = rows_of(0.5, life=900, refurbished_life=250)
    together = hl.quarterly_review(shop(rows))
    (said,) = (one for one in together.newest if one.column == "refurbished")
    assert said.since is None and said.failures > said.expected and said.chance < 0.05
    assert '[review] groups = ["refurbished"]' in newest_sentence(together.newest)
    assert json.dumps(review_values(together), default=str)
    case = shop(rows, groups='["refurbished"]')
    apart = hl.quarterly_review(case)
    new, again = (apart.divisions[0].parts[i] for i in (0, 1))
    assert (new.group.part, again.group.part) == ("not refurbished", "refurbished")
    assert new.verdict.verdict == "holds" and again.verdict.verdict == "falls short"

    # Nobody is sent to the vendor for what was refurbished.
    def vendors(review):
        return [one for one in actions_of(review, case.shop).each if one.kind == VENDOR]

    assert vendors(apart) == []
    for one in vendors(together):
        assert "were refurbished, so judge new ones first" in why(one, None)


def test_a_head_that_goes_on_after_a_failure_may_be_a_refurbished_one(shop):
    rows = [
        "H1,A,model,P,left,2024-01-01,0,2024-03-01,300,worn out,",
        "H1,A,model,P,left,2024-04-01,0,2024-06-01,200,,",
    ]
    with pytest.raises(HeadlifeError, match="say yes in a column refurbished in the row where"):
        _ = shop(rows).evidence


@pytest.mark.parametrize(("counter", "said"), [(0, False), (300, True)])
def test_refurbished_heads_whose_counter_went_on_are_said_to_count_as_new(shop, counter, said):
    """Simulated heads mended to be as old as they were: 11.6 were expected where 13.9 were used."""
    rows = [row.split(",") for row in rows_of(0.3)]
    for row in rows:
        if row[-1] == "yes":
            row[6], row[8] = str(counter), str(counter + int(row[8]))
    notes = [
        one for one in shop([",".join(row) for row in rows]).provenance.notes if "mended" in one
    ]
    assert len(notes) == said
    if said:
        anew = sum(row[-1] == "yes" for row in rows)
        assert notes[0].startswith(f"{anew} refurbished heads went in with hours on their counter")
        assert "with 300 h) and are counted from 0 h" in notes[0]
