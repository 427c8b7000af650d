"""Builds on order: their hours are printed as far as the book reaches, and as learned beyond."""

from __future__ import annotations

import datetime

import numpy as np
import pandas as pd
import pytest

import headlife as hl
from headlife.decisions.spares.levels import stock_answers
from headlife.errors import DecisionError, SettingsError
from headlife.fleet.order_book import book_ends, booked_hours
from headlife.fleet.state import Fleet
from headlife.fleet.usage import planned_hours
from headlife.futures.demand import KnownLife
from headlife.futures.forecast import forecast_fleet
from headlife.life.groups import Group
from headlife.show.words.stock import ahead_sentence

START = pd.Timestamp("2026-01-05")
SETTINGS = """
name = "Test workshop"
[policy]
swap_at = "failure"
[reasons.failures]
"worn out" = "wear"
[head_types."A"]
rated_hours = 1000
[head_types."B"]
rated_hours = 1000
[spares]
lead_time_weeks = 6
[review]
draws = 8000
"""
BOOK = """
[order_book."jobs"]
hours = {hours}
begins = {begins}
ends = {ends}
{more}
"""


@pytest.fixture
def shop(tmp_path):
    def make(*books):
        (tmp_path / "shop.toml").write_text(SETTINGS + "".join(books), encoding="utf-8")
        return hl.read_shop(tmp_path / "shop.toml")

    return make


def book(hours=700.0, begins="2026-01-05", ends="2026-03-15", more="", name="jobs"):
    text = BOOK.format(hours=hours, begins=begins, ends=ends, more=more)
    return text.replace("jobs", name)


POSITIONS = pd.DataFrame(
    {
        "head": list("abcdef"),
        "head_type": list("AAABBB"),
        "role": ["model", "support"] * 3,
        "site": ["north"] * 2 + ["south"] * 4,
        "printer": ["P1", "P1", "P2", "P2", "P3", "P3"],
        "position": ["left", "right"] * 3,
        "age_hours": np.zeros(6),
        "weekly_hours": [30.0, 30.0, 30.0, 30.0, 60.0, 60.0],
        "share_of_hours": 1.0,
    }
)


def hours_of(shop, weeks=20):
    booked = booked_hours(POSITIONS, shop.order_book, START, weeks)
    return planned_hours(POSITIONS, shop.plans, START, weeks, booked)


def test_what_is_booked_is_what_is_printed(shop):
    hours = hours_of(shop(book()))
    by_printer = hours[::2]
    # 10 weeks, 700 h over three printers that usually print 30, 30 and 60 h a week
    assert by_printer[:, :10].sum() == pytest.approx(700.0)
    assert by_printer[:, 0] == pytest.approx([17.5, 17.5, 35.0])
    assert by_printer[:, 10:] == pytest.approx(np.array([[30.0], [30.0], [60.0]]) + np.zeros(10))


@pytest.mark.parametrize(
    ("more", "printers"),
    [
        ('printer = "P3"', ["P3"]),
        ('site = "north"', ["P1"]),
        ('head_type = "A"', ["P1", "P2"]),
        ('head_type = "B"\nsite = "south"', ["P2", "P3"]),
    ],
)
def test_a_book_is_about_whom_it_names(shop, more, printers):
    hours = hours_of(shop(book(more=more)))
    named = POSITIONS["printer"].isin(printers).to_numpy()
    assert hours[named, :10].sum() == pytest.approx(2 * 700.0)
    usual = POSITIONS["weekly_hours"].to_numpy()[~named, None]
    assert hours[~named] == pytest.approx(usual + np.zeros(20))


def test_days_within_a_week_count_by_the_day_and_days_gone_do_not(shop):
    # 8 days, of which 2 lie ahead: a quarter of its hours in two sevenths of the first week
    hours = hours_of(shop(book(80.0, "2025-12-30", "2026-01-06", 'printer = "P1"')))
    assert hours[0, 0] == pytest.approx(20.0 + 30.0 * 5 / 7)
    assert hours[0, 1] == 30.0


def test_a_plan_does_not_change_what_is_booked_and_counts_beyond_it(shop):
    plan = '[plans."stop"]\nfactor = 0.0\nbegins = 2026-01-05\n'
    hours = hours_of(shop(book(), plan))
    assert hours[::2, :10].sum() == pytest.approx(700.0)
    assert hours[:, 10:].sum() == 0.0


def test_demand_follows_the_book(shop):
    """Exponential lives: a Poisson number with mean hours / scale (see `test_coming`)."""
    lives = {Group(t, r): [KnownLife(1.0, 1000.0)] for t in "AB" for r in ("model", "support")}
    fleet = Fleet(POSITIONS, POSITIONS.head(0)[["head", "head_type", "role", "site", "age_hours"]])
    found = forecast_fleet(fleet, lives, shop(book(3500.0)), 10, START)
    mean = 2 * 3500.0 / 1000.0
    swaps = found.swaps_of().sum(axis=1)
    assert swaps.mean() == pytest.approx(mean, abs=4 * np.sqrt(mean / 8000))


def test_a_book_that_ends_early_is_named(shop):
    books = shop(book(), book(begins="2025-11-01", ends="2025-12-01", name="old")).order_book
    early = book_ends(books, START.date(), 19.0)
    assert [(one.name, one.over) for one in early] == [("old", True), ("jobs", False)]
    assert early[1].ends == datetime.date(2026, 3, 15)
    assert [one.name for one in book_ends(books, START.date(), 10.0)] == ["old"]


def test_a_book_that_begins_only_after_the_answer_is_named(shop):
    """The fault: a year of 2028 for 2026 left the book out without a word."""
    books = shop(book(begins="2028-02-01", ends="2028-03-15"), book(name="now")).order_book
    late = [one for one in book_ends(books, START.date(), 19.0) if one.yet]
    assert [(one.name, one.begins, one.over) for one in late] == [
        ("jobs", datetime.date(2028, 2, 1), False)
    ]
    first_week_after = datetime.timedelta(weeks=19)
    for day, yet in ((START.date() + first_week_after, True), (datetime.date(2026, 5, 17), False)):
        one = shop(book(begins=str(day), ends="2028-03-15")).order_book
        assert [end.yet for end in book_ends(one, START.date(), 19.0)] == [True] * yet


@pytest.mark.parametrize(
    ("begins", "ends", "says"),
    [
        ("2025-11-01", "2025-12-01", "“jobs” ended on 1 December 2025 and counts no more"),
        ("2026-01-05", "2026-03-15", "“jobs” reaches to 15 March 2026; from then on print hours"),
        ("2028-02-01", "2028-03-15", "“jobs” begins on 1 February 2028, after the time that these"),
        ("2026-01-05", "2028-03-15", ""),
    ],
)
def test_the_answer_on_spares_says_where_a_book_does_not_reach(shop, begins, ends, says):
    lives = {Group(t, r): [KnownLife(1.0, 1000.0)] for t in "AB" for r in ("model", "support")}
    fleet = Fleet(POSITIONS, POSITIONS.head(0)[["head", "head_type", "role", "site", "age_hours"]])
    answers = stock_answers(fleet, lives, shop(book(begins=begins, ends=ends)), START)
    for answer in answers:
        said = ahead_sentence(answer)
        assert says in said and (said != "") is (says != "")


def test_books_that_make_no_sense_are_named(shop):
    with pytest.raises(SettingsError, match="ends on 2026-01-01, before it begins"):
        shop(book(ends="2026-01-01"))
    with pytest.raises(SettingsError, match="hours"):
        shop(book(hours=-1.0))
    with pytest.raises(
        DecisionError, match="printer 'P9', where no head is in service.*P1, P2, P3"
    ):
        hours_of(shop(book(more='printer = "P9"')))
    with pytest.raises(DecisionError, match="no printer in service"):
        hours_of(shop(book(more='printer = "P1"\nhead_type = "B"')))
    with pytest.raises(DecisionError, match="'jobs' and 'more' both say what P2 prints on 2026-02"):
        hours_of(
            shop(
                book(more='site = "south"'),
                book(begins="2026-02-01", more='head_type = "B"', name="more"),
            )
        )
    with pytest.raises(DecisionError, match=r"books 5,000 print hours .*have 1,680 h for all"):
        hours_of(shop(book(hours=5000.0, more='printer = "P1"')))
