"""Numbers as people read them: one way for each, never a false certainty, never more than known."""

from __future__ import annotations

import datetime
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from headlife.show.words import days, numbers


@pytest.mark.parametrize(
    ("share", "words"),
    [
        (0.0, "under 0.1 %"),
        (0.0004, "under 0.1 %"),
        (0.0061, "0.6 %"),
        (0.012, "1 %"),
        (0.5, "50 %"),
        (0.996, "99.6 %"),
        (1.0, "over 99.9 %"),
        (math.nan, "unknown"),
    ],
)
def test_a_share_is_never_a_false_0_or_1(share, words):
    assert numbers.percent(share) == words


@pytest.mark.parametrize(
    ("amount", "words"),
    [
        (0, "0"),
        (-0.0, "0"),
        (-0.004, "0"),
        (0.29, "0.29"),
        (0.996, "1.0"),
        (2.8, "2.8"),
        (3.54, "3.5"),
        (9.96, "10"),
        (11.9, "12"),
        (84.15, "84"),
        (-95.2, "\N{MINUS SIGN}95"),
        (7883.4, "7,883"),
    ],
)
def test_an_amount_is_no_finer_than_it_is_known(amount, words):
    assert numbers.money(amount) == words
    assert numbers.money(amount, "credits") == f"{words} credits"


@given(st.floats(-1e9, 1e9))
def test_nothing_is_ever_minus_nothing(amount):
    for write in (numbers.money, numbers.whole, numbers.short, numbers.hourly_cost):
        said = write(amount)
        assert not (said[0] == "\N{MINUS SIGN}" and float(said[1:].replace(",", "")) == 0)


@given(st.floats(0.01, 1e9))
def test_an_amount_is_within_its_last_digit(amount):
    said = numbers.money(amount).replace(",", "")
    last = 10.0 ** -len(said.partition(".")[2])
    assert float(said) == pytest.approx(amount, abs=0.5001 * last)


def test_costs_per_hour_can_be_compared():
    assert numbers.hourly_cost(0.9, "credits") == "0.90 credits"
    assert numbers.hourly_cost(1.234) == "1.23"


def test_ranges_name_their_unit_once():
    assert numbers.span(0.71, 0.96) == "71 to 96 %"
    assert numbers.span(0.0001, 0.5) == "under 0.1 % to 50 %"
    assert numbers.hours_span(2094, 22144) == "2,094 to 22,144 h"
    assert numbers.span_of_heads(3.0, 9.0) == "3 to 9" and numbers.span_of_heads(3, 3) == "3"


def test_chances_as_cases():
    assert numbers.in_100(0.47) == "47 of 100"
    assert numbers.in_100(0.001) == "fewer than 1 of 100"
    assert numbers.in_100(0.9999) == "more than 99 of 100"


def test_lists_end_with_and_and_days_read_as_days():
    assert numbers.listed(["a"]) == "a"
    assert numbers.listed(["a", "b", "c"]) == "a, b and c"
    assert days.day(datetime.date(2026, 9, 30)) == "30 September 2026"
    assert numbers.counted(0, "head", "heads") == "no head"
    assert numbers.counted(1234, "head", "heads") == "1,234 heads"


def test_the_level_of_a_range_is_said_of_each_bound_and_of_the_whole():
    said = numbers.ranges(0.95)
    assert "95 % sure" in said and "holds 90 %" in said
