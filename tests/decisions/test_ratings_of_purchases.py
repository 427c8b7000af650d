"""What is to be done about a rating, and what changed of it, where lots are told apart.

Two lots, one of them three times as long-lived: all heads together fall short whichever of them is
bought now, and what is to be done follows the one that is.
"""

from __future__ import annotations

import pytest
from tests.futures.two_lots import heads_of, made, two_lots

import headlife as hl
from headlife.decisions import actions as todo
from headlife.decisions.came_of import OPEN, came_of
from headlife.decisions.ratings import judged_ratings
from headlife.life.groups import Group
from headlife.records.action_list import read_action_list
from headlife.show.actions.table import action_file
from headlife.show.changes.values import changes_values
from headlife.show.markup import badge
from headlife.show.review.first_screen import first_screen
from headlife.show.words.changes import changed_sentence, rating_lines
from headlife.show.words.in_short import ratings_in_short

ALL = Group("A", "model")
LOT_A, LOT_B = (Group("A", "model", (("lot", lot),)) for lot in "AB")
OF_RATINGS = (todo.VENDOR, todo.RATING, todo.PULLED)


def rating_actions(case):
    review = hl.quarterly_review(case)
    each = hl.actions_of(review, case.shop).each
    return review, [(one.kind, one.about) for one in each if one.kind in OF_RATINGS]


def test_a_good_lot_bought_now_leaves_nothing_to_take_up(tmp_path):
    review, found = rating_actions(made(tmp_path, two_lots("A")))
    assert [review.stated_verdict(one) for one in review.judged] == [
        "falls short",
        "holds",
        "falls short",
    ]
    assert found == []


def test_the_first_screen_judges_what_is_bought_now_and_then_all_heads(tmp_path):
    review = hl.quarterly_review(made(tmp_path, two_lots("A")))
    page = str(first_screen(review))
    said = [
        page.index(words) for words in (badge("holds"), "Bought now: lot A", "All A, model heads")
    ]
    assert said == sorted(said) and badge("falls short") not in page
    assert "heads on record: falls short. Only about" in page.replace("\xa0", " ").replace(
        "&nbsp;", " "
    )
    assert ratings_in_short(review) == "Holds: A, model, lot A."


def test_the_first_screen_tells_vendors_side_by_side_each_with_a_verdict(tmp_path):
    """Every other head is of the short-lived lot, up to the last."""
    lots = sorted((*two_lots("A"), *two_lots("B")), key=lambda head: head[1])
    page = str(first_screen(hl.quarterly_review(made(tmp_path, lots))))
    assert page.count("Bought now: lot") == 2
    assert page.count(badge("holds")) == page.count(badge("falls short")) == 1


def test_a_short_lot_bought_now_is_the_one_to_take_up(tmp_path):
    review, found = rating_actions(made(tmp_path, two_lots("B")))
    assert found == [(todo.VENDOR, ("A", "model", "lot B"))]
    assert review.decisive(review.strata[0]) == (review.divisions[0].part(LOT_B),)


def test_where_purchases_are_not_told_apart_the_whole_decides(tmp_path):
    review, found = rating_actions(made(tmp_path, two_lots("A"), groups=""))
    assert found == [(todo.VENDOR, ("A", "model"))]
    assert review.decisive(review.strata[0]) == (review.strata[0],)


def test_what_came_of_it_is_looked_up_for_the_same_lot(tmp_path):
    case = made(tmp_path, two_lots("B"))
    review = hl.quarterly_review(case)
    path = tmp_path / "todo.csv"
    path.write_bytes(action_file(hl.actions_of(review, case.shop), workbook=False))
    given = read_action_list(path, case.shop.name, case.day.date())
    assert not given.problems
    (answer,) = (one for one in came_of(given.rows, case, review) if one.verdict)
    assert answer.given.action.about == LOT_B.names
    assert (answer.state, answer.verdict) == (OPEN, "falls short")
    assert answer.probability == review.divisions[0].part(LOT_B).verdict.probability


@pytest.mark.parametrize(("newer", "now"), [("A", LOT_A), ("B", LOT_B)])
def test_what_changed_is_told_of_every_lot(tmp_path, newer, now):
    """A month before the newer lot came; its first verdict and that it is bought now are news."""
    changes = hl.changes_since(made(tmp_path, two_lots(newer)), "2024-05-01")
    found = {one.group: one for one in changes.groups}
    assert list(found) == [ALL, LOT_A, LOT_B]
    assert [group for group, one in found.items() if one.bought_since] == [now]
    assert found[now].verdict_before is None
    said = {"A": "holds", "B": "falls short"}[newer]
    assert f"A, model, lot {newer} is “{said}” now" in changed_sentence(changes)
    rating = next(one for one in changes_values(changes)["ratings"] if one["bought_since"])
    assert rating["further"] == {"lot": newer} and "Bought now, not then." in rating["sentence"]


def test_lots_add_up_to_all_heads_and_are_judged_alike_with_and_without_their_lives(tmp_path):
    case = made(tmp_path, two_lots("B"))
    strata, divisions = judged_ratings(case.evidence, case.shop)
    with_lives = judged_ratings(
        case.evidence, case.shop, case.lives, case.fleet.positions, lambda *step: None
    )
    for (whole,), (divided,) in ((strata, divisions), with_lives):
        assert sum(part.heads for part in divided.parts) == whole.heads
        assert sum(part.failures["wear"] for part in divided.parts) == whole.failures["wear"]
        # Each leans on the others: of two lots the verdict on all heads lies between theirs.
        low, high = sorted(part.verdict.share_reaching for part in divided.parts)
        assert low < whole.verdict.share_reaching < high
    verdicts = [
        [one.verdict for one in (*whole, *divided[0].parts)]
        for whole, divided in ((strata, divisions), with_lives)
    ]
    assert verdicts[0] == verdicts[1]
    assert sum(part.in_service for part in with_lives[1][0].parts) == len(case.fleet.positions)


def test_lots_of_which_nothing_came_are_told_in_one_line(tmp_path):
    # Lot A is no longer in any printer; one lot of another kind is all its heads.
    changes = hl.changes_since(made(tmp_path, two_lots("B")), "2025-09-30")
    told = dict(rating_lines(changes))
    assert "lot A" in told["As then, without new hours"]
    assert not any(name.endswith("lot A") for name in told)
    assert "Since then" in told["A, model, lot B"]
    alone = hl.changes_since(
        made(tmp_path, heads_of("A", "2025-01-06", [300.0, None])), "2025-06-30"
    )
    assert [name for name, _ in rating_lines(alone)] == ["A, model"]
