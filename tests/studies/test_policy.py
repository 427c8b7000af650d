"""A small version of `python -m studies.policy`, whose full run has 500 shops per design."""

from __future__ import annotations

import pytest

from studies.policy import Design, excess_costs


@pytest.mark.parametrize(
    ("failures", "allowed"),
    # Wanted on average: within 3 % of the best age under full knowledge with about 30 failures
    # on record, within 10 % with about 5.
    [(30, 0.03), (5, 0.10)],
)
def test_advised_age_costs_little_more_than_the_best_and_less_than_the_rating(failures, allowed):
    excess = excess_costs(Design(failures, 0.5), shops=40, seed=11)
    assert (excess["advised"] > -1e-9).all()
    assert excess["advised"].mean() < allowed
    assert excess["advised"].mean() < excess["at_rating"].mean()
