from __future__ import annotations

import numpy as np
import pytest

from headlife.decisions.policy.costs import SwapCosts
from headlife.decisions.policy.learning import worth_of_watching
from headlife.errors import DecisionError

COSTS = SwapCosts(head=320.0, visit=25.0, scrapped=300.0)
AGES = (1080.0, 1200.0, 1800.0, np.inf)


def worth(life, heads, **options):
    options = {"run_to": 1800.0, "records": 60} | options
    return worth_of_watching(life, COSTS, AGES, 1200.0, heads, **options)


def test_watching_nobody_is_worth_nothing_and_watching_is_never_worth_less(record):
    life = record(25, 2.5, 1700.0, 1200.0, seed=2)
    values = [worth(life, heads) for heads in (0, 2, 20)]
    assert values[0].value_per_hour == 0 and values[0].probability_of_change == 0
    assert 0 <= values[1].value_per_hour <= values[2].value_per_hour + 2 * values[2].error
    assert values[2].value_per_hour > 0


def test_what_is_known_already_teaches_nothing(record):
    known = record(20_000, 2.5, 1700.0, 4000.0, seed=3)
    assert worth(known, 5).value_per_hour == pytest.approx(0.0, abs=1e-6)


def test_one_policy_leaves_nothing_to_choose(record):
    life = record(25, 2.5, 1700.0, 1200.0, seed=2)
    only = worth_of_watching(life, COSTS, [1200.0], 1200.0, 5, run_to=1800.0, records=20)
    assert only.value_per_hour == 0


def test_bad_input_ends_with_a_sentence(record):
    life = record(25, 2.5, 1700.0, 1200.0, seed=2)
    with pytest.raises(DecisionError, match="past the rating"):
        worth(life, 3, run_to=1100.0)
    with pytest.raises(DecisionError, match="whole number"):
        worth(life, 2.5)
    with pytest.raises(DecisionError, match="at least one"):
        worth_of_watching(life, COSTS, [], 1200.0, 3, run_to=1800.0)
