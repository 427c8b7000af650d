"""What is bought now: years of purchase stand in for lots, and what the newest heads show."""

from __future__ import annotations

import json

import numpy as np
import pytest
from scipy import stats
from tests.written_case import HEADER, case_of

import headlife as hl
from headlife.decisions.newest import newest_purchases
from headlife.decisions.rating import judge_rating
from headlife.errors import SettingsError
from headlife.life.by_lot import by_purchase
from headlife.life.evidence import Evidence
from headlife.life.lots import lot_lives
from headlife.life.posterior import fit_life
from headlife.show.review.values import review_values
from headlife.show.words.newest import bought_now_sentence, division_answer, newest_sentence
from studies.changing_shops.purchases import DESIGNS, Design, purchase_shops

SETTINGS = """
name = "Shop"
[reasons.failures]
"worn out" = "wear"
[reasons.suspensions]
"swap" = "planned swap"
[head_types."A"]
rated_hours = 500
[spares]
lead_time_weeks = 6
[review]
draws = 300
"""
YEARS = 'groups = ["purchase_year"]\n'


def made(tmp_path, heads, groups="", header=HEADER):
    """Make a case of heads: first day, hours when it went in, hours when it came out, reason."""
    rows = []
    for number, (day, begun, hours, reason, *more) in enumerate(heads):
        out = str(np.datetime64(day) + 90)
        stay = f"H{number:03d},A,model,P{number},left,{day},{begun},{out},{hours},{reason}"
        rows.append(",".join([stay, *more]))
    return case_of(tmp_path, SETTINGS + groups, rows, header)


def of_year(year, heads, failed, hours=500):
    return [
        (f"{year}-03-01", 0, 300 + 5 * k if k < failed else hours, "worn out" if k < failed else "")
        for k in range(heads)
    ]


@pytest.fixture
def old_and_new():
    return [*of_year(2023, 30, 3), *of_year(2024, 30, 2), *of_year(2025, 20, 9)]


def test_years_of_purchase_are_judged_as_lots_are(tmp_path, old_and_new):
    (division,) = hl.quarterly_review(made(tmp_path, old_and_new, YEARS)).divisions
    names = ["purchase year 2023", "purchase year 2024", "purchase year 2025"]
    assert [part.group.part for part in division.parts] == names
    assert [part.heads for part in division.parts] == [30, 30, 20]
    parts = [
        Evidence.from_lives(
            0.0,
            [300.0 + 5 * k if k < failed else 500.0 for k in range(heads)],
            np.arange(heads) < failed,
            reference_hours=500.0,
        )
        for heads, failed in ((30, 3), (30, 2), (20, 9))
    ]
    for part, lot in zip(division.parts, lot_lives(parts), strict=True):
        assert part.verdict.probability == pytest.approx(
            judge_rating(lot, 500.0).probability, abs=1e-12
        )
    assert division.parts[-1].verdict.verdict == "falls short"


def test_the_verdict_speaks_of_what_is_bought_now(tmp_path, old_and_new):
    review = hl.quarterly_review(made(tmp_path, old_and_new, YEARS))
    (division,) = review.divisions
    assert [one.group.part for one in division.purchases][0] == "purchase year 2025"
    said = division_answer(review, division)
    assert said.startswith(
        "A, model, bought now: purchase year 2025, with its newest head of 1 March 2025: falls "
        "short."
    )
    assert "For 80 of 80 heads no day of purchase is on record" in said
    values = review_values(review)["divisions"][0]
    assert (
        values["bought_now"] == [{"purchase_year": "2025", "share": 1.0}]
        and values["sentence"] == said
    )
    assert review.newest == () and json.dumps(values)


def test_newest_heads_too_young_give_way_to_those_that_can_be_judged(tmp_path, old_and_new):
    young = [("2026-02-01", 0, 20, "")] * 3
    review = hl.quarterly_review(made(tmp_path, [*old_and_new, *young], YEARS))
    (division,) = review.divisions
    said = bought_now_sentence(review, division)
    assert (
        "purchase year 2026, with its newest head of 1 February 2026: too young to judge." in said
    )
    assert "The newest that can be judged: purchase year 2025" in said
    assert division.parts[-1].verdict.verdict == "not settled"


def test_the_day_of_purchase_counts_where_it_is_written_down(tmp_path):
    header = f"{HEADER},date_bought"
    heads = [
        ("2025-03-01", 0, 400, "", "2023-12-31"),
        ("2025-03-01", 0, 400, "", ""),
        ("2025-03-01", 120, 400, "", ""),
        ("2025-03-01", 120, 400, "", "2024-01-01"),
    ]
    lives = made(tmp_path, heads, header=header).lives
    # A head that had run when its records begin was bought before, nobody knows when.
    assert lives["purchase_year"].tolist() == ["2023", "2025", None, "2024"]
    again = hl.read_case(tmp_path / "log.csv", tmp_path / "shop.toml")
    years = again.fleet.positions.set_index("head")["purchase_year"].tolist()
    assert years == ["2023", "2025", None, "2024"]


def test_without_any_day_of_purchase_the_answer_is_what_to_write(tmp_path):
    case = made(tmp_path, [("2025-03-01", 120, 400, "")] * 3, YEARS)
    with pytest.raises(SettingsError, match=r"fill in the column date_bought.*purchase_year out"):
        hl.quarterly_review(case)


def test_the_default_review_says_how_the_newest_have_fared(tmp_path, old_and_new):
    review = hl.quarterly_review(made(tmp_path, old_and_new))
    assert review.divisions == ()
    (one,) = review.newest
    assert (one.since, one.column, one.heads, one.failures) == (2025, "purchase_year", 20, 9)
    said = newest_sentence(review.newest)
    assert "of A, model, 9 of the 20 heads bought since 2025 failed where" in said
    # So many or more of a Poisson number with that mean (SciPy 1.15).
    assert one.chance == pytest.approx(stats.poisson.sf(8, one.expected), rel=1e-9)
    assert '[review] groups = ["purchase_year"]' in said
    # All heads together have failed just as often as their own life expects, about.
    everything = [*old_and_new, ("2022-01-01", 0, 1.0, "")]
    review = hl.quarterly_review(made(tmp_path, everything))
    whole = newest_purchases(
        [
            (
                s.group,
                s.life,
                s.lives.assign(
                    date_first=np.where(
                        s.lives["exit_hours"] > 1,
                        np.datetime64("2025-01-01"),
                        np.datetime64("2022-01-01"),
                    )
                ),
            )
            for s in review.strata
        ],
        "wear",
    )
    assert whole[0].failures == 14 and whole[0].expected == pytest.approx(14.0, abs=0.8)


def test_what_says_nothing_yet_is_not_told(tmp_path, old_and_new):
    # Too little run since; one year only; no failure at all.
    young = [("2026-02-01", 0, 20, "")] * 3
    (told,) = hl.quarterly_review(made(tmp_path, [*old_and_new, *young])).newest
    assert told.since == 2025 and told.heads == 23
    assert hl.quarterly_review(made(tmp_path, of_year(2025, 20, 9))).newest == ()
    assert (
        hl.quarterly_review(made(tmp_path, [*of_year(2024, 9, 0), *of_year(2025, 9, 0)])).newest
        == ()
    )
    assert newest_sentence(()) == ""


def test_a_lot_on_record_is_named_and_the_lot_of_the_newest_head_is_bought_now(tmp_path):
    header = f"{HEADER},lot"
    heads = [
        (*one, lot) for lot, year in (("L9", 2023), ("L1", 2025)) for one in of_year(year, 30, 4)
    ]
    (one,) = hl.quarterly_review(made(tmp_path, heads, header=header)).newest
    assert one.column == "lot"
    review = hl.quarterly_review(made(tmp_path, heads, 'groups = ["lot", "printer"]\n', header))
    by_lot, by_printer = review.divisions
    assert by_lot.purchases[0].group.part == "lot L1"
    assert by_printer.purchases == () and bought_now_sentence(review, by_printer) == ""


def test_order_of_purchases_does_not_hang_on_the_order_of_parts(tmp_path, old_and_new):
    years = 'groups = ["purchase_year"]\n'
    parts = [one for one in made(tmp_path, old_and_new, years).evidence if one.group.further]
    parts = [parts[1], parts[0], parts[2]]
    assert by_purchase(parts) == by_purchase(parts[::-1])
    assert [dict(one.group.further)["purchase_year"] for one in by_purchase(parts)] == [
        "2025",
        "2024",
        "2023",
    ]


def test_a_steady_shop_errs_no_more_by_years_and_a_change_is_passed_over_less_often():
    """Both sides at the claim's edge at most 5 %, three binomial errors of 60 shops allowed."""
    small = Design(16, 45.0, 2.2, 3, 1.0)
    edge = purchase_shops(small, "steady, at the edge", shops=60, seed=3)
    band = 0.05 + 3.0 * np.sqrt(0.05 * 0.95 / 60)
    assert max(edge.holds, edge.falls_short) < band
    changed = purchase_shops(DESIGNS[0], "30 % longer until the last year", shops=40, seed=3)
    assert changed.holds < 0.7 * changed.pooled_holds


def test_expected_failures_by_brute_force(tmp_path, old_and_new):
    """The mean number over a hundred thousand lives drawn from the posterior."""
    review = hl.quarterly_review(made(tmp_path, old_and_new))
    (one,), (stratum,) = review.newest, review.strata
    life = fit_life(stratum.evidence.modes["wear"])
    shapes, scales = life.draw(100_000, np.random.default_rng(5))
    own = stratum.lives[stratum.lives["purchase_year"] == "2025"]
    hazards = [np.mean((hours / scales) ** shapes) for hours in own["exit_hours"]]
    assert one.expected == pytest.approx(sum(hazards), rel=0.01)
