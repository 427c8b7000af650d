"""Verdicts over time: what is confirmed, when, and how often wrongly."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from scipy.stats import norm

from headlife.decisions.boundaries import boundaries
from headlife.decisions.looks import (
    FALLS_SHORT_SPENDS,
    HOLDS_SPENDS,
    LOOKS,
    SPENDING,
    quarter_ends,
    verdict_history,
)
from headlife.decisions.rating import judge_rating
from headlife.errors import DecisionError
from headlife.life.evidence import Evidence
from headlife.life.posterior import fit_life

RATED = 1000.0
DAYS = quarter_ends(date(2020, 1, 1), date(2024, 12, 31))


def grown(failures_a_quarter, heads_a_quarter=10.0, quarters=LOOKS):
    """Evidence of heads that all ran to the rating but for some that failed at .8 of it."""
    return [
        Evidence.from_lives(
            0.0,
            [RATED, 0.8 * RATED, 0.7 * RATED],
            [False, True, True],
            reference_hours=RATED,
            weights=[
                heads_a_quarter * q,
                0.7 * failures_a_quarter * q,
                0.3 * failures_a_quarter * q,
            ],
        )
        for q in range(1, quarters + 1)
    ]


def test_quarter_ends_are_those_of_the_calendar():
    assert quarter_ends(date(2024, 3, 31), date(2024, 12, 30)) == (
        date(2024, 6, 30),
        date(2024, 9, 30),
    )
    assert len(DAYS) == LOOKS


def test_each_look_alone_is_what_a_review_of_that_day_said():
    evidence = grown(0.5)
    history = verdict_history(DAYS, evidence, RATED)
    for look, one in zip(history.looks, evidence, strict=True):
        alone = judge_rating(fit_life(one), RATED)
        assert look.probability == alone.probability
        assert look.verdict == alone.verdict
        assert look.failures == pytest.approx(one.all_failures)


def test_a_good_rating_is_first_seen_then_confirmed_and_stays_so():
    evidence = grown(0.2)
    history = verdict_history(DAYS, evidence, RATED)
    assert (history.standing, history.verdict) == ("confirmed", "holds")
    assert history.seen_since < history.confirmed_on
    early = [look.day for look in history.looks].index(history.seen_since) + 1
    before = verdict_history(DAYS[:early], evidence[:early], RATED)
    assert (before.standing, before.verdict) == ("first seen", "holds")
    assert before.confirmed_on is None


def test_a_bad_rating_is_confirmed_on_its_side():
    history = verdict_history(DAYS, grown(3.0), RATED)
    assert (history.standing, history.verdict) == ("confirmed", "falls short")


def test_past_looks_do_not_change_when_quarters_are_added():
    evidence = grown(0.4)
    whole = verdict_history(DAYS, evidence, RATED)
    for count in (5, 12):
        part = verdict_history(DAYS[:count], evidence[:count], RATED)
        for then, now in zip(part.looks, whole.looks, strict=False):
            assert (then.probability, then.verdict) == (now.probability, now.verdict)
            # the boundary moves a little with the shape that is learned
            assert then.holds_from == pytest.approx(now.holds_from, abs=2e-3, nan_ok=True)


def test_an_unfinished_quarter_confirms_nothing():
    evidence = grown(0.2)
    confirmed = verdict_history(DAYS, evidence, RATED).confirmed_on
    at = DAYS.index(confirmed)
    days = (*DAYS[:at], date(confirmed.year, confirmed.month, 20))
    history = verdict_history(days, evidence[: at + 1], RATED)
    assert history.standing == "first seen"
    assert np.isnan(history.looks[-1].holds_from)


def test_what_was_confirmed_and_is_no_longer_seen_is_said():
    evidence = grown(0.2)
    bad = Evidence.from_lives(0.0, [0.5 * RATED] * 30, [True] * 30, reference_hours=RATED)
    # in an unfinished quarter, so that the other side is not confirmed at once
    days = (*DAYS[:-1], date(2024, 12, 30))
    history = verdict_history(days, [*evidence[:-1], evidence[-1] + bad], RATED)
    assert (history.standing, history.verdict) == ("confirmed, not seen today", "holds")
    assert history.looks[-1].verdict == "falls short"
    other = verdict_history(DAYS, [*evidence[:-1], evidence[-1] + bad], RATED)
    assert (other.standing, other.verdict) == ("confirmed", "falls short")


def test_a_second_opinion_is_asked_only_where_it_matters_and_can_refuse():
    evidence = grown(0.2)
    asked = []

    def unsure(look, chance):
        assert chance > 0.95
        asked.append(look)
        return 0.9

    plain = verdict_history(DAYS, evidence, RATED)
    refused = verdict_history(DAYS, evidence, RATED, second_opinion=unsure)
    assert refused.standing == "first seen"
    assert [DAYS[look] for look in asked] == [
        look.day for look in plain.looks if look.confirms == "holds"
    ]


def test_no_hours_yet_and_after_five_years_a_new_plan():
    evidence = grown(0.4, quarters=30)
    days = quarter_ends(date(2017, 7, 1), date(2024, 12, 31))
    history = verdict_history(days, [None, *evidence[1:]], RATED)
    assert history.looks[0].verdict == "not settled"
    assert np.isnan(history.looks[0].probability)
    # The first look of a new plan has next to no error to spend: 0.05 * 0.05 ** 5 at most. With 5 %
    # more information than the last one, which already let nothing pass above its own boundary,
    # that takes a step of five deviations.
    scores = [look.holds_from for look in history.looks]
    assert not scores[20] < 0.995  # NaN would be: this look confirms nothing
    assert scores[19] < 0.98


def test_confirmed_verdicts_are_seldom_wrong_at_the_edge():
    """At most 5 % on each side over 20 looks, within the binomial band of 150 shops.

    The whole study is `python -m studies.changing_shops --rows looks`.
    """
    from studies.changing_shops.looks import looks_at_the_edge

    found = looks_at_the_edge(shops=150, seed=11)
    band = 3.0 * np.sqrt(0.05 * 0.95 / 150)
    assert found.holds_confirmed < 0.05 + band
    assert found.falls_short_confirmed < 0.05 + band
    # the fault: a decisive look is not a decision
    assert found.holds_seen > 0.12
    assert found.falls_short_seen > 0.08


def test_looks_that_make_no_sense():
    evidence = grown(0.4)
    with pytest.raises(DecisionError, match="one a quarter"):
        verdict_history((DAYS[0], DAYS[0]), evidence[:2], RATED)
    with pytest.raises(DecisionError, match="there are 1 days and 2"):
        verdict_history(DAYS[:1], evidence[:2], RATED)


def test_the_boundary_of_a_look_is_that_of_the_error_spent_by_then():
    # How much is spent is chosen by study, see the module; here it is where and how it is spent.
    history = verdict_history(DAYS, grown(0.4), RATED)
    information = [look.information for look in history.looks]
    part = (np.arange(LOOKS) + 1.0) / LOOKS
    for name, share in (("holds_from", HOLDS_SPENDS), ("falls_short_to", FALLS_SHORT_SPENDS)):
        scores = boundaries(information, SPENDING(part, share * 0.05))
        wanted = norm.cdf(scores if name == "holds_from" else -scores)
        wanted[np.isinf(scores)] = np.nan
        found = np.array([getattr(look, name) for look in history.looks])
        # Information as it is told has the factor of the claimed share, which moves no boundary.
        assert found == pytest.approx(wanted, abs=1e-6, nan_ok=True)
    assert history.looks[-1].falls_short_to < 0.5 < history.looks[-1].holds_from


def test_information_is_the_failures_to_be_expected_at_the_edge():
    # By hand: ten heads a quarter to the rating, one in ten of which fails at the edge of 90 %:
    # -ln 0.9 = 0.105 each; the one that failed earlier adds at most as much.
    history = verdict_history(DAYS, [None, *grown(1.0)[1:]], RATED)
    assert history.looks[0].information == 0.0
    assert history.looks[0].failures == 0.0
    for quarter, look in enumerate(history.looks[1:], start=2):
        assert 1.0536 * quarter <= look.information <= 1.0536 * 1.1 * quarter


def test_a_second_opinion_that_agrees_is_asked_once():
    asked = []

    def agrees(look, chance):
        asked.append(look)
        return chance

    history = verdict_history(DAYS, grown(0.2), RATED, second_opinion=agrees)
    assert history.standing == "confirmed"
    assert len(asked) == 1


@pytest.mark.parametrize("month", [1, 2])
def test_two_looks_in_one_quarter_are_refused(month):
    with pytest.raises(DecisionError, match="one a quarter"):
        verdict_history((date(2024, month, 28), date(2024, 3, 31)), grown(0.4)[:2], RATED)


def test_a_confidence_just_above_one_half_is_a_confidence():
    assert verdict_history(DAYS[:1], grown(0.4)[:1], RATED, confidence=0.6).error == 0.4
