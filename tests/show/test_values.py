"""Answers for programs: one shape for one thing, JSON that survives, and every name documented."""

from __future__ import annotations

import datetime
import json
import re

import numpy as np
import pandas as pd
import pytest
from tests.show.conftest import DEMO

import headlife as hl
from headlife.decisions.due import due_list
from headlife.decisions.lifetimes import judge_lifetimes
from headlife.decisions.plan.build_plan import build_plan
from headlife.decisions.policy.proposal import proposal_study
from headlife.records.audit import audit
from headlife.records.lives import two_readings
from headlife.show.backtest.values import past_values
from headlife.show.changes.values import changes_values
from headlife.show.check.values import check_values
from headlife.show.due.values import due_values
from headlife.show.lifetimes.values import lifetimes_values
from headlife.show.past_rating.values import past_rating_values
from headlife.show.plain import plain
from headlife.show.plan.values import plan_values
from headlife.show.review.values import review_values
from headlife.show.spares.values import spares_values
from headlife.show.vendor.values import vendor_values

PAGE = (DEMO.parent / "shared" / "answers.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def answers(demo):
    records, _ = demo
    case = hl.Case(records, records.shop).with_(review={"draws": 2_000})
    review = hl.quarterly_review(case)
    past = hl.backtest(case, last_only=True)
    lifetimes = hl.read_lifetimes(DEMO / "lifetimes.csv")
    return {
        "review": review_values(review),
        "spares": spares_values(hl.spares_study(case), past),
        "backtest": past_values(past),
        "replace": past_rating_values(proposal_study(review, case.shop)),
        "rating": lifetimes_values(judge_lifetimes(lifetimes, 800.0)),
        "changes": changes_values(hl.changes_since(case)),
        "due": due_values(due_list(case)),
        "vendor": vendor_values(hl.vendor_statement(case, "Fibre")),
        "plan": plan_values(build_plan(case)),
        "check": check_values(records, audit(records), two_readings(records).tests),
    }


def documented(heading):
    """Names in the first column of a table of the page."""
    table = PAGE.split(f"\n## {heading}\n")[1].split("\n## ")[0]
    firsts = [line.split("|")[1] for line in table.splitlines() if line.startswith("| `")]
    return {name for cell in firsts for name in re.findall(r"`(\w+)`", cell)}


def test_a_stock_has_one_shape_wherever_a_program_meets_it(answers):
    (one, *_), (other, *_) = answers["review"]["stock"], answers["spares"]["stock"]
    own = {"doubt_sentence", "last_quarter_sentence"}
    assert set(one) - own == set(other) - {"levels"} == documented("stock")
    assert {name: one[name] for name in set(one) - own} == {
        name: other[name] for name in set(other) - {"levels"}
    }


@pytest.mark.parametrize(
    "command", ["review", "spares", "backtest", "replace", "rating", "check", "due"]
)
def test_answers_survive_json_and_every_name_is_documented(answers, command):
    found = answers[command]
    assert json.loads(json.dumps(found, allow_nan=False)) == found
    assert found["format"] == 2
    everywhere = {"format", "shop", "as_of", "stamp"}
    assert set(found) - everywhere == documented(command) - everywhere


def test_spares_always_tell_the_past_and_the_review_what_it_leaves_out(answers):
    assert answers["spares"]["backtest"]["quarters"]
    assert answers["review"]["left_out"] == [] and answers["review"]["divisions"] == []


def test_values_become_plain_and_what_does_not_exist_nothing():
    odd = {
        1: np.float64(2.5),
        "int": np.int64(3),
        "yes": np.bool_(True),
        "nan": float("nan"),
        "far": np.inf,
        "day": pd.Timestamp("2026-09-30 12:00"),
        "no day": pd.NaT,
        "date": datetime.date(2026, 9, 30),
        "pair": (1.0, np.nan),
        "none": None,
    }
    assert plain(odd) == {
        "1": 2.5,
        "int": 3,
        "yes": True,
        "nan": None,
        "far": None,
        "day": "2026-09-30",
        "no day": None,
        "date": "2026-09-30",
        "pair": [1.0, None],
        "none": None,
    }
