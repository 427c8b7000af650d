"""Doubts about the records: every answer they change is told twice, and nowhere else."""

from __future__ import annotations

import pytest

from headlife.decisions.two_ways import read_both_ways
from headlife.records.audit import audit
from headlife.show.review import doubts
from headlife.show.review.first_screen import first_screen
from headlife.show.review.values import review_values
from headlife.show.words.numbers import percent
from headlife.show.words.rating import rating_sentence


def worn_at_the_counter(number):
    """Eight worn out at scattered ages, then a pile just past the rating of 500 h."""
    hours = 200 + 29 * number if number < 8 else 501 + number / 10
    reason = "worn" if number < 8 or number % 2 else "swap"
    return f"H{number},A,model,P{number},left,2026-01-05,0,2026-06-01,{hours},{reason}"


@pytest.fixture
def piled(small):
    rows = [worn_at_the_counter(number) for number in range(40)]
    rows.append("H99,A,model,P99,left,2026-05-04,0,2026-06-01,80,")
    records, review = small(rows)
    return records, review, read_both_ways(review, records, records.shop)


def test_first_screen_tells_both_answers(piled):
    _, review, both = piled
    (other,) = both.as_suspensions.strata
    screen = str(first_screen(review, both)).replace("&nbsp;", " ")
    assert "16 of these are in doubt" in screen
    assert f"as no failures: {other.verdict.verdict}" in screen
    assert percent(other.verdict.share_reaching) in screen
    told = review_values(review, both)
    assert told["ratings"][0]["doubt_sentence"] in screen


def test_table_sets_both_answers_side_by_side(piled):
    _, review, both = piled
    told = str(doubts.both_ways_table(both)).replace("&nbsp;", " ")
    assert "16 removals in doubt" in told
    for reading in (both.as_failures, both.as_suspensions):
        assert rating_sentence(reading.strata[0].verdict) in told
        assert f"hold {reading.stock[0].plan.stock_level}, order" in told


def test_audit_findings_are_listed_as_on_the_day_of_the_review(piled):
    records, review, _ = piled
    found = audit(records, review.as_of.date())
    told = str(doubts.findings_table(found))
    assert "kept and flagged" in told and "the counter may have taken them out" in told


def test_without_doubts_nothing_is_added(demo):
    records, review = demo
    both = read_both_ways(review, records, records.shop)
    assert str(first_screen(review, both)) == str(first_screen(review))
    assert "No removal is in doubt" in str(doubts.both_ways_table(both))
    assert "found nothing to flag" in str(
        doubts.findings_table(audit(records, review.as_of.date()))
    )
