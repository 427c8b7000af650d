"""Evidence that no lives could give is refused by name; evidence of any lives is not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from headlife.errors import EvidenceError
from headlife.life.evidence import Evidence
from headlife.life.exposure_curve import shape_nodes
from headlife.life.possible import OLDEST_HOURS, SHORTEST_WATCH, refusals

SHAPES = shape_nodes(32)


@pytest.fixture(scope="module")
def honest():
    """30 heads rated 1,200 h, three of them failed before."""
    ages = [300.0, 700.0, 900.0, *np.linspace(800, 1200, 27)]
    return Evidence.from_lives(0, ages, [True] * 3 + [False] * 27, reference_hours=1200.0)


@settings(max_examples=200, deadline=None)
@given(data=st.data())
def test_evidence_of_any_lives_passes_and_so_do_sums(data):
    parts = []
    for _ in range(2):
        n = data.draw(st.integers(1, 12))
        ages = data.draw(st.lists(st.floats(SHORTEST_WATCH, OLDEST_HOURS), min_size=n, max_size=n))
        late = data.draw(st.lists(st.just(0.0) | st.floats(1e-6, 1), min_size=n, max_size=n))
        failed = data.draw(st.lists(st.booleans(), min_size=n, max_size=n))
        exits = np.array(ages)
        entries = np.maximum(np.minimum(0.999 * exits * late, exits - SHORTEST_WATCH), 0.0)
        entries[exits <= 2 * SHORTEST_WATCH] = 0.0
        reference = data.draw(st.sampled_from([50.0, 1200.0, 30_000.0]))
        parts.append(Evidence.from_lives(entries, exits, failed, reference_hours=reference))
    assert refusals([*parts, parts[0] + parts[1]]) == [None, None, None]


@pytest.mark.parametrize(
    ("changed", "why"),
    [
        ({"log_sum": 500.0}, "older than its exposure shows"),
        ({"log_sum": 20.0}, "older than its exposure shows"),
        ({"log_sum": -200.0}, "younger than any failure"),
        ({"failures": 0.0}, "no failure"),
        ({"failures": 31.0}, "more failures than heads"),
        ({"log_curve": np.zeros(32)}, "another number of heads"),
        ({"log_curve": 3.3 - 0.05 * SHAPES}, "another number of heads"),
        ({"log_curve": np.linspace(5.0, 1.0, 32)}, "larger than so many heads"),
        ({"log_curve": np.full(32, 203.0)}, "larger than so many heads"),
        ({"log_curve": np.full(32, -np.inf)}, "no running hours"),
        ({"intervals": np.array([[900.0, 800.0, 1.0]])}, "reversed"),
        ({"intervals": np.array([[-5.0, 800.0, 1.0]])}, "negative"),
        ({"intervals": np.array([[5.0, 800.0, 0.0]])}, "counts no head"),
    ],
)
def test_what_no_lives_could_give_is_refused_by_name(honest, changed, why):
    assert refusals([honest]) == [None]
    assert why in refusals([replace(honest, **changed)])[0]
    with pytest.raises(EvidenceError, match="No heads could give this|do not fit together"):
        Evidence.from_data(replace(honest, **changed).to_data())


@pytest.mark.parametrize("size", [1e-3, 0.02])
def test_a_zigzag_is_refused_however_small(honest, size):
    curve = honest.log_curve + size * (-1.0) ** np.arange(32)
    assert refusals([replace(honest, log_curve=curve)])[0] is not None


def test_all_heads_swapped_at_one_age_is_no_forgery():
    """30 heads from new to the rating: S = 30 at every shape, by its definition."""
    level = Evidence.from_lives(0, [1200.0] * 30, [False] * 30, reference_hours=1200.0)
    assert refusals([level]) == [None]
    assert refusals([replace(level, heads=40.0)])[0] is not None


def test_many_rows_between_readings_are_refused_before_they_cost_a_minute(honest):
    rows = np.tile([10.0, 20.0, 1e-5], (200_000, 1))
    assert "10,000 at most" in refusals([replace(honest, intervals=rows)])[0]
