"""The curve of exposure: ten digits whatever the record, at as many nodes as that takes."""

from __future__ import annotations

import numpy as np
import pytest

from headlife.errors import EvidenceError
from headlife.life.evidence import Evidence, pool
from headlife.life.exposure_curve import (
    LOG_SHAPE_LIMITS,
    NODE_COUNTS,
    SHAPE_RANGE,
    at_nodes,
    chebyshev_basis,
    curve_at,
    curve_derivatives,
    log_shape_nodes,
    resolved,
    resolved_curve,
    shape_nodes,
    watched_late,
)

GRID = np.linspace(*LOG_SHAPE_LIMITS, 1001)


def direct(ages, heads, reference):
    """Logarithm of the exposure by its definition, at every shape of the grid."""
    logs = np.exp(GRID)[:, None] * np.log(np.asarray(ages) / reference) + np.log(heads)
    top = logs.max(axis=1)
    return top + np.log(np.exp(logs - top[:, None]).sum(axis=1))


def lives(ages, heads):
    return Evidence.from_lives(0.0, ages, False, reference_hours=ages[0], weights=heads)


def off(evidence, ages, heads):
    return np.abs(curve_at(evidence.log_curve, GRID) - direct(ages, heads, ages[0])).max()


def test_one_head_that_outlasts_3000_others_tenfold_keeps_ten_digits():
    # 32 nodes were 1.4e-3 off here, 64 are 1.9e-6, 96 are 3e-9.
    evidence = lives([100.0, 1000.0], [3000.0, 1.0])
    assert evidence.log_curve.size > 32
    assert off(evidence, [100.0, 1000.0], [3000.0, 1.0]) < 1e-10


@pytest.mark.parametrize("heads", [1.0, 30.0, 3000.0, 1e5])
@pytest.mark.parametrize("times", [1.01, 2.0, 10.0, 1000.0])
def test_ten_digits_whatever_the_mixture_of_ages(heads, times):
    assert (
        off(lives([100.0, 100.0 * times], [heads, 1.0]), [100.0, 100.0 * times], [heads, 1.0])
        < 5e-10
    )


def test_ten_digits_on_simulated_records_of_any_kind():
    rng = np.random.default_rng(3)
    for _ in range(200):
        heads, shape = int(rng.integers(1, 200)), rng.uniform(0.6, 5.0)
        ages = np.minimum(1000 * rng.weibull(shape, heads), rng.uniform(100, 1500))
        ages *= rng.uniform(0.01, 1.0, heads) ** rng.integers(0, 2)
        ages = np.maximum(ages, 1e-3)
        evidence = Evidence.from_lives(0.0, ages, False, reference_hours=ages[0])
        assert off(evidence, ages, np.ones(heads)) < 1e-9


def test_a_sum_takes_more_nodes_than_its_parts_where_it_must():
    many, old = lives([100.0], [3000.0]), lives([100.0, 1000.0], [1e-30, 1.0])
    single = Evidence.from_lives(0.0, [1000.0], False, reference_hours=100.0)
    assert many.log_curve.size == single.log_curve.size == 32
    for added in (many + single, single + many, pool([many, single]), pool([single, many, old])):
        assert added.log_curve.size > 32
        heads = added.heads - 3000.0
        assert off(added, [100.0, 1000.0], [3000.0, heads]) < 1e-10
    assert (many + many).log_curve.size == 32


def test_evidence_of_different_node_counts_adds():
    bent, plain = lives([100.0, 1000.0], [3000.0, 1.0]), lives([100.0], [5.0])
    for added in (bent + plain, plain + bent):
        assert off(added, [100.0, 1000.0], [3005.0, 1.0]) < 1e-10


def test_moving_the_reference_of_a_longer_curve_changes_nothing():
    evidence = lives([100.0, 1000.0], [3000.0, 1.0]).rereference(777.0)
    shift = curve_at(evidence.log_curve, GRID) - direct([100.0, 1000.0], [3000.0, 1.0], 777.0)
    assert np.abs(shift).max() < 1e-10


def test_longer_curves_are_saved_and_read_and_old_files_still_are():
    bent, plain = lives([100.0, 1000.0], [3000.0, 1.0]), lives([100.0], [5.0])
    for evidence, named in ((bent, "headlife evidence 2"), (plain, "headlife evidence 1")):
        assert evidence.to_data()["format"] == named
        assert Evidence.from_json(evidence.to_json()).to_json() == evidence.to_json()
    damaged = bent.to_data()
    damaged["log_curve"] = damaged["log_curve"][:-1]
    with pytest.raises(EvidenceError, match="do not fit together"):
        Evidence.from_data(damaged)


def test_nodes_lie_inside_the_range_and_carry_polynomials_exactly():
    for nodes in NODE_COUNTS[:3]:
        shapes = shape_nodes(nodes)
        assert SHAPE_RANGE[0] < shapes.min() and shapes.max() < SHAPE_RANGE[1]
        cubic = log_shape_nodes(nodes) ** 3
        assert chebyshev_basis(GRID, nodes) @ cubic == pytest.approx(GRID**3, abs=1e-11)
        assert at_nodes(cubic, 128) == pytest.approx(log_shape_nodes(128) ** 3, abs=1e-11)
        inner = slice(20, -20)  # rounding of a second derivative: nodes**2 / distance to an end
        found = curve_derivatives(cubic, GRID[inner])
        for value, wanted in zip(found, (GRID**3, 3 * GRID**2, 6 * GRID), strict=True):
            assert value == pytest.approx(wanted[inner], abs=1e-6)
        _, slopes, _ = curve_derivatives(cubic, np.array(LOG_SHAPE_LIMITS))
        assert slopes == pytest.approx(3 * np.square(LOG_SHAPE_LIMITS), abs=1e-6)


def test_no_exposure_is_resolved_and_stays_nothing():
    nothing = np.full(32, -np.inf)
    assert resolved(nothing) and np.isneginf(at_nodes(nothing, 64)).all()


def test_how_late_heads_came_under_watch_does_not_depend_on_the_reference():
    exits = np.linspace(800.0, 1000.0, 40)
    for entry, low, high in ((0.0, 0.0, 1e-3), (700.0, 0.99, 1.0)):
        found = [
            watched_late(Evidence.from_lives(entry, exits, False, reference_hours=hours).log_curve)
            for hours in (300.0, 1000.0, 5000.0)
        ]
        assert low <= min(found) and max(found) <= high
        assert found == pytest.approx([found[0]] * 3, abs=1e-6)


def test_one_head_from_new_counts_for_many_that_came_late():
    # By hand: S(b) = 1 + 39 (1 - 0.7^b), S' = 39 a 0.7^b, S'' = -39 a^2 0.7^b with a = -ln 0.7.
    curve = Evidence.from_lives(
        np.r_[0.0, [700.0] * 39], np.full(40, 1000.0), False, reference_hours=1000.0
    ).log_curve
    rate, part = -np.log(0.7), 39 * 0.7**0.2
    whole = 1.0 + 39 - part
    bend = -(rate**2) * part / whole - (rate * part / whole) ** 2
    assert watched_late(curve) == pytest.approx(-(0.2**2) * bend, abs=1e-5)
    assert watched_late(np.stack([curve, curve])) == pytest.approx([watched_late(curve)] * 2)


@pytest.mark.parametrize("times", [-50.0, -1e-3, 0.3, 2.0, 1e6])
def test_how_late_stays_a_share_whatever_the_curve(times):
    # By hand, of a curve c x^2 in the log shape x: slope less curvature is 2 c x - 2 c.
    curve = times * log_shape_nodes() ** 2
    wanted = min(max(2.0 * times * (LOG_SHAPE_LIMITS[0] - 1.0), 0.0), 1.0)
    assert watched_late(curve) == pytest.approx(wanted, abs=1e-9)
    assert watched_late(np.stack([curve, curve])) == pytest.approx([wanted] * 2, abs=1e-9)


def test_a_stack_of_curves_needs_nodes_where_each_alone_does():
    """Bent, plain and empty curves in every company: what is said of one hangs on it alone."""

    def values(heads, times):
        ages = np.log([1.0, times])
        return lambda shapes: np.logaddexp(shapes * ages[0] + np.log(heads), shapes * ages[1])

    kinds = [(1.0, 1.01), (30.0, 2.0), (300.0, 3.0), (3000.0, 10.0), (1e5, 1000.0), (10.0, 1.5)]
    enough = [resolved_curve(values(*kind)).size == 32 for kind in kinds]
    assert any(enough) and not all(enough)
    curves = [values(*kind)(shape_nodes()) for kind in kinds]
    nothing = np.full(32, -np.inf)
    assert resolved(np.stack(curves)).tolist() == enough
    assert resolved(np.stack([nothing, *curves, nothing])).tolist() == [True, *enough, True]
    assert [bool(resolved(curve)) for curve in curves] == enough
    most = np.stack([values(*kind)(shape_nodes(NODE_COUNTS[-1])) for kind in kinds])
    assert resolved(most).all(), "no more nodes can be had"
    assert np.isneginf(resolved_curve(lambda shapes: np.full(shapes.shape, -np.inf))).all()


def test_rounding_at_the_ends_of_the_range_is_no_end_of_the_curve():
    low, high = LOG_SHAPE_LIMITS
    beyond = chebyshev_basis(np.array([np.nextafter(low, -9.0), np.nextafter(high, 9.0)]))
    assert beyond == pytest.approx(chebyshev_basis(np.array([low, high])), abs=1e-6)


def test_nodes_that_all_share_cannot_be_written_into():
    with pytest.raises(ValueError, match="read-only"):
        shape_nodes()[0] = 1.0


def test_the_numbers_of_nodes_are_those_that_files_hold_each_twice_the_one_before():
    # A curve is saved as its values, as many as it needs: another count could not be read.
    counts = np.array(NODE_COUNTS)
    assert (counts[1:] == 2 * counts[:-1]).all() and counts[0] == 32


def term(order, nodes):
    """A Chebyshev polynomial over the log shapes, at the nodes."""
    low, high = np.log(SHAPE_RANGE)
    place = (2.0 * np.log(shape_nodes(nodes)) - low - high) / (high - low)
    return np.cos(order * np.arccos(place))


@pytest.mark.parametrize("nodes", [32, 64])
@pytest.mark.parametrize(
    ("before", "last", "enough"),
    [
        (0.0, 0.0, True),
        (0.0, 1e-7, False),
        # Large for the ten digits, however fast the terms fall.
        (1.0, 5e-9, False),
        (1e-2, 5e-10, True),
        # Small, and no smaller than those before: as many follow.
        (1e-9, 9e-10, False),
        (1e-2, 5e-9, False),
    ],
)
def test_a_series_ends_where_its_last_terms_are_small_and_fall_fast(nodes, before, last, enough):
    """One term among the last four, and one among the four before them."""
    for first in range(nodes - 8, nodes - 4):
        for second in range(nodes - 4, nodes):
            curve = 2.0 + before * term(first, nodes) + last * term(second, nodes)
            assert resolved(curve) == enough
            both = resolved(np.array([curve, np.full(nodes, -np.inf), np.full(nodes, 2.0)]))
            assert both.tolist() == [enough, True, True]


def test_more_nodes_than_there_are_are_never_asked_for():
    most = NODE_COUNTS[-1]
    assert resolved(2.0 + term(most - 1, most))
    assert resolved(np.full((2, 32), -np.inf)).tolist() == [True, True]


def test_a_curve_is_taken_at_as_many_nodes_as_its_series_needs():
    low, high = np.log(SHAPE_RANGE)

    def values(order, size):
        def at(shapes):
            place = (2.0 * np.log(shapes) - low - high) / (high - low)
            return 2.0 + size * np.cos(order * np.arccos(np.clip(place, -1.0, 1.0)))

        return at

    for order in range(28, 32):
        assert resolved_curve(values(order, 1e-6)).size == NODE_COUNTS[1]
        assert resolved_curve(values(order, 1e-14)).size == 32
    for order in range(24, 28):
        assert resolved_curve(values(order, 1e-3)).size == 32
