"""Small modules that every room may use: random streams, memory, numbers of the calendar."""

from __future__ import annotations

import gc

import numpy as np
import pytest

from headlife import memory, units
from headlife.seeds import generator


def test_a_stream_belongs_to_its_name_and_seed_and_not_to_its_turn():
    first = generator(1, "demand", "A").random(3)
    generator(1, "demand", "B").random(100)
    assert np.array_equal(generator(1, "demand", "A").random(3), first)
    for other in (
        generator(2, "demand", "A"),
        generator(1, "demandA"),
        generator(1, "A", "demand"),
    ):
        assert not np.array_equal(other.random(3), first)


def test_streams_are_independent():
    draws = np.array([generator(7, "heads", str(name)).random(2_000) for name in range(40)])
    correlation = np.corrcoef(draws)[~np.eye(40, dtype=bool)]
    # Of 1,560 correlations of 2,000 independent pairs the largest is some 3.6 / sqrt(2,000).
    assert np.abs(correlation).max() < 5 / np.sqrt(2_000)


@pytest.mark.parametrize("collecting", [True, False])
def test_the_search_for_garbage_is_as_it_was_even_after_a_fault(collecting):
    before = gc.isenabled()
    try:
        (gc.enable if collecting else gc.disable)()
        with pytest.raises(ZeroDivisionError), memory.nothing_to_collect():
            assert not gc.isenabled()
            raise ZeroDivisionError
        assert gc.isenabled() is collecting
    finally:
        (gc.enable if before else gc.disable)()


def test_a_year_is_four_quarters_of_thirteen_weeks():
    assert units.WEEKS_PER_YEAR == units.QUARTERS_PER_YEAR * units.WEEKS_PER_QUARTER == 52
    assert units.HOURS_PER_WEEK == 168
