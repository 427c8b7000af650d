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
# Changes of one value of a curve: where, by how much, what is said.
DENTS = [
    *((place, -0.02, "falls, or stays") for place in (9, 12, 15)),
    (6, 0.001, "bends the wrong way"),
    *((place, 0.01, "bends the wrong way") for place in (18, 21, 24)),
    (18, -0.01, "bends the wrong way"),
]


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


def said(evidence, **changed):
    """The refusal, or none."""
    return refusals([replace(evidence, **changed)])[0]


@pytest.mark.parametrize(
    ("rows", "why"),
    [
        ([[0.0, 800.0, 1.0]], None),
        ([[0.0, 1e6, 1.0]], None),
        ([[0.0, 1.001e6, 1.0]], "reversed, negative or absurd"),
        ([[500.0, 500.0, 1.0]], "reversed, negative or absurd"),
        ([[500.0, 900.0, 1.0], [900.0, 800.0, 1.0]], "reversed, negative or absurd"),
        ([[500.0, 900.0, 1.0], [-5.0, 800.0, 1.0]], "reversed, negative or absurd"),
        ([[500.0, 900.0, 1.0], [500.0, 2e6, 1.0]], "reversed, negative or absurd"),
        ([[500.0, 900.0, 1.0], [500.0, 900.0, 0.0]], "counts no head"),
        # 30 heads, of which three failed at known ages.
        ([[500.0, 900.0, 27.0]], None),
        ([[500.0, 900.0, 28.0]], "more failures than heads"),
        ([[500.0, 900.0, 20.0], [500.0, 900.0, 8.0]], "more failures than heads"),
        ([[10.0, 20.0, 1e-5]] * 10_000, None),
        ([[10.0, 20.0, 1e-5]] * 10_001, "10,000 at most"),
    ],
)
def test_rows_between_readings_are_looked_at_one_by_one(honest, rows, why):
    found = said(honest, intervals=np.array(rows))
    assert found is None if why is None else why in found


def test_heads_may_have_run_for_114_years_and_not_for_longer():
    """1e6 h, the limit that is stated; one such head among 30 is as impossible."""
    for others in (0, 29):
        for oldest, why in ((1e6, None), (1.1e6, "larger than so many heads")):
            ages = [oldest, *np.linspace(300.0, 1200.0, others)]
            made = _Sums(*_sums(np.zeros(len(ages)), ages, 1200.0))
            found = refusals([made])[0]
            assert found is None if why is None else why in found


@pytest.mark.parametrize("failures", [1, 3])
def test_no_failure_comes_within_four_seconds_and_none_is_older_than_all_heads(failures):
    """A thousandth of an hour, as is stated; 2.3 times the age that every head reached."""
    ages = np.full(failures, 1200.0)
    own = Evidence.from_lives(0, ages, [True] * failures, reference_hours=1200.0)
    young = np.log(np.array([1.1e-3, 0.9e-3]) / 1200.0)
    assert said(own, log_sum=failures * young[0]) is None
    assert "younger than any failure" in said(own, log_sum=failures * young[1])
    assert "older than its exposure" in said(own, log_sum=failures * np.log(2.3))


def test_a_failure_after_36_seconds_of_watching_is_possible():
    own = Evidence.from_lives(1e6 - 0.01, 1e6, True, reference_hours=1200.0)
    assert refusals([own]) == [None]


@pytest.mark.parametrize("reference", [50.0, 1200.0, 30_000.0])
@pytest.mark.parametrize(
    ("entry", "ages"),
    [
        (0.0, 1200.0),
        (0.0, 0.05),
        (0.0, OLDEST_HOURS),
        (0.0, np.geomspace(1.0, OLDEST_HOURS, 30)),
        (1199.0, 1200.0),
        (OLDEST_HOURS - 1.0, OLDEST_HOURS),
    ],
)
def test_ten_digits_of_a_curve_are_enough_and_five_are_not(entry, ages, reference):
    """A file may round, as is stated; a curve of any size, also one at an edge of what can be."""
    exits = np.broadcast_to(ages, 30)
    exact = Evidence.from_lives(entry, exits, [False] * 30, reference_hours=reference).log_curve
    for digits, passes in ((11, True), (10, True), (5, False)):
        curve = np.array([float(f"{value:.{digits}g}") for value in exact])
        assert (refusals([_Sums(reference, 0.0, 0.0, curve, 30.0)]) == [None]) is passes


def test_sums_that_none_could_give_spoil_no_answer_on_others(honest):
    """Each is judged by itself: those with nothing run, without failures, with other nodes."""
    idle = _Sums(1200.0, 0.0, 0.0, np.full(32, -np.inf), 4.0)
    fine = Evidence.from_lives(0, [1e3, 800.0] * 20, [False] * 40, reference_hours=1200.0)
    long = Evidence.from_lives(0, [1e5] * 3 + [1.0] * 40, [False] * 43, reference_hours=1200.0)
    assert long.log_curve.size > 32
    wrong = replace(honest, log_sum=500.0)
    bent = replace(fine, log_curve=fine.log_curve + 0.02 * (-1.0) ** np.arange(32))
    many = [idle, wrong, fine, long, bent, honest]
    found = refusals(many)
    assert [one is None for one in found] == [True, False, True, True, False, True]
    assert found == [refusals([one])[0] for one in many]


@pytest.mark.parametrize(("place", "change", "why"), DENTS)
def test_a_dent_at_one_shape_is_named(place, change, why):
    """No power mean falls (Hardy, Littlewood & Polya, theorem 16), nor does ln (S / shape) bend."""
    ages = np.geomspace(30.0, 1200.0, 40)
    curve = Evidence.from_lives(0, ages, [False] * 40, reference_hours=1200.0).log_curve.copy()
    assert refusals([_Sums(1200.0, 0.0, 0.0, curve, 40.0)]) == [None]
    curve[place] += change
    assert why in refusals([_Sums(1200.0, 0.0, 0.0, curve, 40.0)])[0]


@pytest.mark.parametrize("place", range(20, 30))
def test_a_millionth_is_seen_in_a_curve_that_hardly_bends(place):
    """Heads watched for their last hour alone: ln (S / shape) is all but straight."""
    watched = Evidence.from_lives(1199.0, [1200.0] * 30, [False] * 30, reference_hours=1200.0)
    curve = watched.log_curve.copy()
    assert refusals([_Sums(1200.0, 0.0, 0.0, curve, 30.0)]) == [None]
    curve[place] += 1e-6
    assert "bends the wrong way" in refusals([_Sums(1200.0, 0.0, 0.0, curve, 30.0)])[0]


@pytest.mark.parametrize(("age", "taken"), [(800.0, 2.5), (800.0, 3.0), (900.0, 2.5)])
def test_fewer_than_no_heads_at_risk_are_refused_though_the_curve_is_convex(age, taken):
    """10 heads to 300 h, 2 to 1,200 h, and more than these two taken away in between."""
    powers = {hours: (hours / 1200.0) ** SHAPES for hours in (300.0, age)}
    for away, why in ((0.0, None), (taken, "bends the wrong way")):
        curve = np.log(10.0 * powers[300.0] + 2.0 - away * powers[age])
        assert (np.diff(np.diff(curve - np.log(SHAPES)) / np.diff(SHAPES)) > 1e-4).all()
        found = refusals([_Sums(1200.0, 0.0, 0.0, curve, 12.0 - away)])[0]
        assert found is None if why is None else why in found


class _Sums:
    """The numbers of an evidence that was never checked."""

    def __init__(self, reference_hours, failures, log_sum, log_curve, heads):
        self.reference_hours, self.failures, self.log_sum = reference_hours, failures, log_sum
        self.log_curve, self.heads, self.intervals = log_curve, heads, np.empty((0, 3))


def _sums(entry, ages, reference):
    """Evidence of heads that did not fail, by its definition."""
    shapes = shape_nodes(32)
    ahead = np.log(np.asarray(ages) / reference)[:, None] * shapes
    assert not np.any(entry)
    return reference, 0.0, 0.0, np.logaddexp.reduce(ahead, axis=0), float(len(ages))
