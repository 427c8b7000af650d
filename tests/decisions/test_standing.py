"""How a review's verdicts stand: the past looks are the past reviews, and the page says so."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

import headlife as hl
from headlife.decisions.standing import standings
from headlife.show.words.standing import (
    history_sentence,
    look_sign,
    standing_sentence,
    strip_words,
)

DEMO = Path(__file__).parents[2] / "data_demo"


@pytest.fixture(scope="module")
def case():
    return hl.read_case(DEMO / "removals.csv", shop=DEMO / "shop.toml")


@pytest.fixture(scope="module")
def found(case):
    return standings(case, [one.group for one in case.evidence])


def test_every_past_look_is_the_review_of_that_day(case, found):
    for group, one in found.items():
        for look in one.history.looks[3::4]:
            then = case.with_(as_of=look.day)
            if {known.group: known for known in then.evidence}[group].rests_on_rating:
                # The review of that day leans on the vendor's rating; a look never does.
                assert look.verdict == "not settled"
                continue
            life = then.modes[group][0]
            rated = case.shop.rated_hours[group.head_type]
            chance = life.probability_reliability_above(case.shop.claim.share, rated)
            assert look.probability == chance
            assert look.failures == life.evidence.all_failures


def test_quarter_ends_from_the_first_record_to_the_day(case, found):
    days = [look.day.isoformat() for look in next(iter(found.values())).history.looks]
    assert days[0] == "2023-12-31"
    assert days[-1] == case.day.date().isoformat()
    assert len(days) == 12


def test_an_unfinished_quarter_is_a_look_that_confirms_nothing(case):
    later = case.with_(as_of="2026-08-15")
    one = next(iter(standings(later, [case.evidence[0].group]).values()))
    last = one.history.looks[-1]
    assert last.day.isoformat() == "2026-08-15"
    assert last.holds_from != last.holds_from


def test_few_pulled_heads_and_it_is_not_called_holds(case, found):
    group = next(g for g in found if (g.head_type, g.role) == ("Standard", "support"))
    one = found[group]
    assert one.overturn.verdict == "holds"
    assert one.overturn.pulled.few
    assert one.verdict == "not settled"
    assert "Not called “holds”: if 1 of the 5 heads" in standing_sentence(one)
    many = replace(one.overturn, pulled=replace(one.overturn.pulled, to_overturn=4, few=False))
    assert replace(one, overturn=many).verdict == "holds"
    assert "It would not hold if 4 of the 5" in standing_sentence(replace(one, overturn=many))


def test_the_review_states_what_stands(case):
    review = hl.quarterly_review(case)
    stated = {one.name: review.stated_verdict(one) for one in review.strata}
    assert stated == {
        "Standard, model": "not settled",
        "Standard, support": "not settled",
        "Fibre, model": "falls short",
    }
    # without looks, as from a folder of files, the verdict of the look is all there is
    bare = replace(review, standings={})
    assert bare.stated_verdict(review.strata[1]) == "holds"


def test_words_of_a_history(found):
    falls = next(one for one in found.values() if one.history.verdict == "falls short")
    assert history_sentence(falls.history) == "Confirmed on 31 March 2025."
    signs = "".join(look_sign(look) for look in falls.history.looks)
    assert signs == "··▽▽▽▼▼▼▼▼▼▼"
    assert strip_words(falls.history).startswith("31 December 2023 not settled; ")
    assert "31 March 2025 falls short, confirmed" in strip_words(falls.history)


def test_words_of_heads_that_run_no_more(found):
    first_seen = next(one.history for one in found.values() if one.history.standing == "first seen")
    *before, today = first_seen.looks
    assert history_sentence(first_seen).endswith("now, less every quarter).")
    # The same heads a quarter and eight weeks on, none of them in a printer since.
    idle = {"holds_from": math.nan, "falls_short_to": math.nan}
    ended = replace(today, day=today.day.replace(month=12, day=31), **idle)
    later = replace(today, day=today.day.replace(year=2027, month=2, day=28), **idle)
    gone = replace(first_seen, looks=(*before, today, ended, later))
    assert "these heads ran too little since 30 September 2026 for that" in history_sentence(gone)
    # In the middle of the first quarter after it nothing can be said of that quarter yet.
    soon = replace(first_seen, looks=(*before, today, replace(ended, day=date(2026, 11, 30))))
    assert "that takes the end of a quarter" in history_sentence(soon)


def test_a_group_that_has_not_run_has_no_standing(case, found):
    first = case.with_(as_of="2023-10-03")
    for group in found:
        assert group not in standings(first, [group]) or first.modes[group]
