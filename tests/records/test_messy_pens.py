"""A new user with a log in any hand: draft, state a few lines, read; every life right or flagged.

The truth is that of a seeded fleet; the hands are `messy_pens`'.
"""

from __future__ import annotations

import pytest
from tests.records.messy_pens import HANDS, walk


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("make", HANDS, ids=lambda make: make.__name__)
def test_every_life_is_right_without_editing_a_cell(make, seed, tmp_path):
    hand = make(seed)
    got = walk(hand, tmp_path)
    assert got.problems == []
    assert got.score.flagged == 0
    assert got.score.right + got.score.in_range == got.score.true
    if hand.exact:
        assert got.score.right == got.score.true
    assert 15 <= got.rows <= 90
    assert got.lines <= 10
    assert got.runs == 2
