"""Laws of evidence: what may be split, moved, scaled and saved without changing a digit."""

from __future__ import annotations

import decimal
import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from headlife.errors import EvidenceError
from headlife.life.evidence import Evidence, loads, pool
from headlife.life.exposure_curve import LOG_SHAPE_LIMITS, curve_at, shape_nodes


def on_grid(evidence: Evidence) -> np.ndarray:
    """Log exposure at a hundred shapes, whatever the number of values that hold it."""
    return curve_at(evidence.log_curve, np.linspace(*LOG_SHAPE_LIMITS, 101))


def same(a: Evidence, b: Evidence, rel: float = 1e-12) -> None:
    assert a.failures == pytest.approx(b.failures, rel=rel)
    assert a.log_sum == pytest.approx(b.log_sum, rel=rel, abs=1e-10)
    assert on_grid(a) == pytest.approx(on_grid(b), rel=rel, abs=1e-10)
    assert a.heads == pytest.approx(b.heads, rel=rel)
    assert a.reference_hours == b.reference_hours


@pytest.mark.parametrize("late", [False, True])
def test_evidence_of_a_union_is_the_sum(simulate, late):
    lives = simulate(50, late=late)
    first = lives.part(slice(20)).evidence(700.0)
    second = lives.part(slice(20, None)).evidence(1200.0)
    whole = lives.evidence(700.0)
    same(first + second, whole)
    same(pool([first, second]), whole)


def test_evidence_of_an_ordinary_record_is_34_numbers(simulate):
    assert simulate(40).evidence().log_curve.size + 2 == 34


def test_moving_the_reference_there_and_back_changes_nothing(simulate):
    evidence = simulate(40, late=True).evidence(900.0)
    same(evidence.rereference(123.0).rereference(900.0), evidence)
    same(evidence.rereference(123.0), simulate(40, late=True).evidence(123.0))


def test_entry_at_zero_is_no_entry(simulate):
    lives = simulate(40)
    with_entry = Evidence.from_lives(np.zeros(40), lives.exit, lives.failed, reference_hours=900.0)
    without = Evidence.from_lives(0.0, lives.exit, lives.failed, reference_hours=900.0)
    assert with_entry.to_json() == without.to_json()


def test_a_life_may_be_split_at_any_age(simulate):
    lives = simulate(30)
    cut = lives.exit * 0.37
    before = Evidence.from_lives(0.0, cut, False, reference_hours=900.0)
    after = Evidence.from_lives(cut, lives.exit, lives.failed, reference_hours=900.0)
    joined, whole = before + after, lives.evidence()
    assert on_grid(joined) == pytest.approx(on_grid(whole), abs=1e-10)
    assert joined.failures == whole.failures and joined.log_sum == pytest.approx(whole.log_sum)


def test_weights_are_repeats(simulate):
    lives = simulate(30, late=True)
    times = np.arange(30) % 4
    repeated = lives.part(np.repeat(np.arange(30), times)).evidence()
    same(lives.evidence(weights=times), repeated)


@settings(max_examples=25, deadline=None)
@given(st.floats(1e-3, 1e3))
def test_hours_or_minutes_make_no_difference(factor):
    exit_ = np.array([12.0, 40.0, 41.0, 300.0])
    failed = np.array([True, False, True, True])
    one = Evidence.from_lives(5.0, exit_, failed, reference_hours=100.0)
    other = Evidence.from_lives(
        5.0 * factor, exit_ * factor, failed, reference_hours=100.0 * factor
    )
    assert other.log_sum == pytest.approx(one.log_sum, rel=1e-9, abs=1e-9)
    assert on_grid(other) == pytest.approx(on_grid(one), abs=1e-9)


def test_json_gives_every_bit_back(simulate):
    lives = simulate(40, late=True)
    good = np.where(np.arange(40) % 3, lives.exit, 0.9 * lives.exit)
    evidence = lives.evidence(np.pi * 100, last_good_hours=good)
    back = Evidence.from_json(evidence.to_json())
    assert back.to_json() == evidence.to_json()
    assert np.array_equal(back.log_curve, evidence.log_curve)
    assert np.array_equal(back.intervals, evidence.intervals)
    assert (back.failures, back.log_sum, back.heads, back.reference_hours) == (
        evidence.failures,
        evidence.log_sum,
        evidence.heads,
        evidence.reference_hours,
    )


def test_a_glance_at_the_end_of_a_long_life_keeps_its_digits():
    # A life watched for one minute at an age of 1000 h, against 50 decimal digits.
    entry = 999.9833333333333
    evidence = Evidence.from_lives(entry, 1000.0, False, reference_hours=1000.0, weights=3)
    with decimal.localcontext() as context:
        context.prec = 50
        log_entry = (decimal.Decimal(entry) / 1000).ln()
        direct = [
            float((3 - 3 * (log_entry * decimal.Decimal(b)).exp()).ln()) for b in shape_nodes()
        ]
    assert evidence.log_curve == pytest.approx(direct, rel=1e-12)


def test_a_failure_between_readings_is_a_survivor_up_to_the_last_good_one():
    evidence = Evidence.from_lives(
        0.0, [100.0, 200.0], [True, True], reference_hours=100.0, last_good_hours=[80.0, np.nan]
    )
    survivor = Evidence.from_lives(0.0, [80.0, 200.0], [False, True], reference_hours=100.0)
    same(evidence, survivor)
    assert evidence.intervals.tolist() == [[80.0, 100.0, 1.0]]
    assert evidence.all_failures == 2


def test_found_failed_at_the_first_look_was_good_at_entry():
    evidence = Evidence.from_lives(
        [0.0, 30.0, 0.0],
        [100.0, 90.0, 50.0],
        [True, True, False],
        reference_hours=100.0,
        last_good_hours=[0.0, 0.0, np.nan],
    )
    assert evidence.intervals[:, 0].tolist() == [0.0, 30.0]


@pytest.mark.parametrize("late", [False, True])
@pytest.mark.parametrize("weighted", [False, True])
def test_binned_log_ages_give_the_same_curve_as_powers(simulate, late, weighted):
    lives = simulate(60_000, until=3000.0, late=late)
    lives.exit[7] = 1e-6  # far below the bins
    lives.entry[7] = 0.0
    if late:
        lives.entry[11] = lives.exit[11] * (1 - 1e-9)  # watched for an instant
    weight = np.random.default_rng(1).random(60_000) if weighted else np.ones(60_000)
    binned = lives.evidence(weights=weight if weighted else None)
    parts = [
        lives.part(slice(k, k + 15_000)).evidence(weights=weight[k : k + 15_000])
        for k in range(0, 60_000, 15_000)
    ]
    assert on_grid(binned) == pytest.approx(on_grid(pool(parts)), abs=1e-10)


def test_pooling_keeps_the_rows_of_failures_between_two_readings(simulate):
    lives = simulate(12)
    some = lives.evidence(last_good_hours=0.9 * lives.exit)
    assert len(some.intervals) == lives.failed.sum()
    both = pool([some, lives.evidence(), some])
    assert both.intervals.tolist() == 2 * some.intervals.tolist()
    assert both.all_failures == 3 * lives.failed.sum()


def test_pooling_of_very_unlike_ages_stays_finite():
    # Hours from a billionth to a billion of the reference: powers of up to 20 leave the range of
    # floating-point numbers, their logarithms do not. The smallest count for nothing.
    parts = [Evidence.from_lives(0.0, [h, h], False, reference_hours=1.0) for h in (1e-18, 1e18)]
    found = pool([parts[0], parts[1], parts[0]])
    assert on_grid(found) == pytest.approx(on_grid(parts[1]), abs=1e-6)


def test_heads_that_never_ran_are_evidence_of_nothing():
    none = Evidence(900.0, 0.0, 0.0, np.full(32, -np.inf), 3.0)
    assert none.to_data()["log_curve"] == [None] * 32
    back = Evidence.from_json(none.to_json())
    assert np.isneginf(back.log_curve).all()
    assert np.isneginf(pool([none, none, none]).log_curve).all()
    assert pool([none, none, none]).heads == 9.0


@pytest.mark.parametrize("data", [[], "text", None, {}, {"format": "other", "unit": "h"}])
def test_what_is_no_evidence_is_named(data):
    with pytest.raises(EvidenceError, match="not evidence this version reads"):
        Evidence.from_data(data)


@pytest.mark.parametrize(
    ("name", "value"),
    [("failures", "many"), ("log_sum", None), ("log_curve", 3), ("intervals", [[1.0, 2.0]])],
)
def test_numbers_that_are_none_are_named(simulate, name, value):
    with pytest.raises(EvidenceError, match="This evidence is damaged: "):
        Evidence.from_data(simulate(10).evidence().to_data() | {name: value})


def test_another_unit_and_no_json_are_named(simulate):
    with pytest.raises(EvidenceError, match="not evidence this version reads"):
        Evidence.from_data(simulate(10).evidence().to_data() | {"unit": "d"})
    with pytest.raises(EvidenceError, match=r"not JSON \(line 2\)"):
        loads('{"format":\n nonsense}')
    with pytest.raises(EvidenceError, match="no evidence to pool"):
        pool([])


def test_numbers_that_do_not_fit_together_are_named(simulate):
    data = simulate(10).evidence().to_data()
    heads = data["heads"]
    half = [None, *data["log_curve"][1:]]
    rows = [[1.0, 2.0, float("inf")]]
    for changes in (
        *({"failures": heads * (1 + 1e-6)}, {"failures": -0.1}, {"failures": float("nan")}),
        *({"log_sum": float("inf")}, {"heads": float("inf")}, {"log_curve": half}),
        *({"log_curve": data["log_curve"][:-1]}, {"intervals": rows}),
    ):
        with pytest.raises(EvidenceError, match="do not fit together"):
            Evidence.from_data(data | changes, possible=False)
    # A sum of weights may be off in its last digit.
    for failures in (heads, heads * (1 + 5e-10)):
        one = Evidence.from_data(data | {"failures": failures}, possible=False)
        assert one.failures == failures
    assert Evidence.from_data(json.loads(json.dumps(data))).heads == heads
