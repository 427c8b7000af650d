"""A fleet in which nothing has failed and no head is old: the rating stands in, and it is said."""

from __future__ import annotations

import pytest
from tests.records.messy_logs import no_removal_yet

import headlife as hl
from headlife.life.evidence import Evidence
from headlife.life.groups import ASSUMED_HEADS, Group, GroupEvidence, fit_modes
from headlife.life.posterior import fit_life
from headlife.show.words.rating import assumed_sentence, stratum_note

RATED = 900.0


def group(hours, failed=(), oldest=None) -> GroupEvidence:
    ended = [hour in failed for hour in hours]
    evidence = Evidence.from_lives(0, hours, ended, reference_hours=RATED)
    oldest = max(hours) if oldest is None else oldest
    return GroupEvidence(
        Group("A", "model"), RATED, len(hours), {"wear": evidence}, "", sum(hours), oldest
    )


@pytest.mark.parametrize("age", [5.0, 70.0, 300.0, 600.0])
@pytest.mark.parametrize("heads", [1, 6, 40])
def test_nothing_is_settled_by_what_is_assumed(age, heads):
    life = fit_modes(group([age] * heads), "wear")["wear"]
    verdict = hl.judge_rating(life, RATED, share=0.9)
    assert verdict.verdict == "not settled"
    low, high = verdict.bounds
    assert high - low > 0.25


def test_without_it_every_young_fleet_would_fall_short():
    life = fit_life(group([70.0] * 2).modes["wear"])
    assert hl.judge_rating(life, RATED, share=0.9).verdict == "falls short"


def test_the_assumption_fades_as_heads_grow_old_and_ends_at_the_rating_or_a_failure():
    shares = [
        abs(
            float(fit_modes(group([age] * 4), "wear")["wear"].evidence.log_curve[0])
            - float(group([age] * 4).modes["wear"].log_curve[0])
        )
        for age in (90.0, 450.0, 810.0, 899.0)
    ]
    assert shares == sorted(shares, reverse=True)
    assert shares[-1] < 0.01
    old = group([450.0, RATED])
    assert not old.rests_on_rating
    assert fit_modes(old, "wear")["wear"].evidence == old.modes["wear"]
    failed = group([450.0, 300.0], failed=[300.0])
    assert not failed.rests_on_rating
    assert ASSUMED_HEADS == 2


def test_a_shop_without_a_removal_gets_a_review_that_says_so(tmp_path):
    log, shop = no_removal_yet(1).write(tmp_path)
    review = hl.quarterly_review(hl.read_case(log, shop))
    assert [one.verdict.verdict for one in review.strata] == ["not settled"] * 4
    for stratum in review.strata:
        assert "the vendor's rating is assumed" in assumed_sentence(stratum)
        assert assumed_sentence(stratum) in stratum_note(stratum)
    assert all(answer.plan.stock_level <= 15 for answer in review.stock)


def test_the_demo_assumes_nothing():
    case = hl.read_case("data_demo/removals.csv", shop="data_demo/shop.toml")
    assert not any(one.rests_on_rating for one in case.evidence)
