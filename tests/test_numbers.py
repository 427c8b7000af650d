"""Numbers that make no sense are refused with their name, their unit and what was given."""

from __future__ import annotations

import numpy as np
import pytest

from headlife import numbers
from headlife.errors import DecisionError


@pytest.mark.parametrize("value", ["12", None, True, b"1", [1, 2], object()])
def test_what_is_no_number_is_refused(value):
    with pytest.raises(DecisionError, match=r"^The age must be a number \[h\]; got"):
        numbers.number("The age", value, "[h]")


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf"), np.float64("nan")])
def test_a_number_is_finite(value):
    with pytest.raises(DecisionError, match="The age must be a finite number"):
        numbers.number("The age", value, "[h]")


@pytest.mark.parametrize("value", [3, 3.0, np.int64(3), np.float32(3), np.array(3.0)])
def test_every_kind_of_number_is_taken_as_it_is(value):
    assert numbers.number("The age", value, "[h]") == 3.0
    assert type(numbers.positive("The age", value, "[h]")) is float


def test_signs():
    assert numbers.not_negative("The age", 0, "[h]") == 0.0
    with pytest.raises(DecisionError, match=r"The age cannot be below zero \[h\]; got -1"):
        numbers.not_negative("The age", -1, "[h]")
    with pytest.raises(DecisionError, match=r"The age must be above zero \[h\]; got 0"):
        numbers.positive("The age", 0, "[h]")


def test_a_percentage_in_place_of_a_fraction_is_named_as_one():
    with pytest.raises(DecisionError, match="both excluded; got 95; for 95 % write 0.95"):
        numbers.fraction("The share", 95)
    with pytest.raises(DecisionError, match="between 0.5 and 1, both excluded; got 0.5"):
        numbers.fraction("The service level", 0.5, above=0.5)
    for end in (0, 1):
        with pytest.raises(DecisionError, match="The share must be a fraction"):
            numbers.fraction("The share", end)


def test_of_many_numbers_the_place_of_the_bad_one_is_named():
    with pytest.raises(DecisionError, match=r"number 2 of 3 is -4"):
        numbers.not_negative_array("The ages", [1, -4, 2], "[h]")
    with pytest.raises(DecisionError, match="number 1 of 1 is nan"):
        numbers.not_negative_array("The ages", float("nan"), "[h]")
    with pytest.raises(DecisionError, match="one row of numbers"):
        numbers.not_negative_array("The ages", [[1, 2], [3, 4]], "[h]")
    with pytest.raises(DecisionError, match="must be numbers"):
        numbers.not_negative_array("The ages", ["old"], "[h]")
    assert numbers.not_negative_array("The ages", 7, "[h]").tolist() == [7.0]
