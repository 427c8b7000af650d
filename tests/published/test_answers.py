"""headlife against every published value, to its printed digits.

Source, origin and tolerance of each value stand in shared/published/*.toml.
"""

from __future__ import annotations

from functools import cache

import pytest

from validation import answers, cases

VALUES = [
    (name, value)
    for name in answers.ANSWERS
    for value in cases.load(name).expected
    if (name, value) not in answers.NOT_ANSWERED
]


@cache
def ours(name):
    return answers.ANSWERS[name](cases.load(name))


@pytest.mark.parametrize(("name", "value"), VALUES, ids=[f"{n}-{v}" for n, v in VALUES])
def test_the_printed_digits_come_out(name, value):
    expected = cases.load(name).expected[value]
    got = ours(name)[value]
    assert expected.agrees(got), f"{expected.value} expected ({expected.origin}), got {got}"


def test_answers_name_nothing_that_is_not_expected():
    for name in answers.ANSWERS:
        assert set(ours(name)) <= set(cases.load(name).expected)
    for name, value in answers.NOT_ANSWERED:
        assert value not in ours(name)


def test_bearing_cages_do_not_settle_the_question_of_8000_hours():
    """National Research Council (2004), NAP 10871 appendix A: "most likely not met"."""
    import headlife as hl

    case = cases.load("bearing_cages")
    life = answers.fits.fit(
        case.array("exit"), case.array("failed"), reference=8000.0, weights=case.array("count")
    )
    verdict = hl.judge_rating(life, rated_hours=8000.0, share=0.90)
    assert verdict.verdict != "holds"
    assert verdict.probability < 0.5
    # the likelihood-ratio limits hold 8,000 h: not refuted at 95 % two-sided
    low, high = life.likelihood_ratio_life_bounds(0.10, confidence=0.95)
    assert low < 8000.0 < high


def test_circuit_breakers_need_their_entry_ages():
    # Fit without entry ages, seen in the ReLife user guide as the wrong answer: shape 5.08.
    table = cases.load("circuit_breakers").table
    life = answers.fits.fit(table["exit"], table["failed"] == 1, reference=50.0)
    assert life.shape == pytest.approx(5.080, abs=0.001)
    assert life.scale == pytest.approx(76.18, abs=0.01)
