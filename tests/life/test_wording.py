"""Counts, shares and lists as the findings write them."""

from __future__ import annotations

import pytest

from headlife.life.diagnostics import wording


@pytest.mark.parametrize(
    ("number", "words"), [(0, "No failure"), (1, "1 failure"), (3, "3 failures")]
)
def test_counts_are_grammatical(number, words):
    assert wording.count(number, "failure") == words


@pytest.mark.parametrize(
    ("share", "words"),
    [
        (0.0, "0 %"),
        (0.0004, "under 0.1 %"),
        (0.012, "1.2 %"),
        (0.0996, "10 %"),
        (0.5, "50 %"),
        (0.996, "99.6 %"),
        (1.0, "100 %"),
    ],
)
def test_a_share_is_never_rounded_to_a_false_0_or_1(share, words):
    assert wording.percent(share) == words


def test_lists_end_with_and():
    assert wording.listed(["a"]) == "a"
    assert wording.listed(["a", "b"]) == "a and b"
    assert wording.listed(["a", "b", "c"]) == "a, b and c"
