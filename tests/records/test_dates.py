"""Dates in any hand: one cell has its readings, the column settles which one counts.

Month names and forms as in the Unicode locale data (CLDR) of the nine languages; the rest are
habits of shops, common practice, no source.
"""

from __future__ import annotations

from datetime import date, datetime

import pytest
from babel.dates import format_date
from hypothesis import given
from hypothesis import strategies as st
from tests.records.small_shop import rows_of

from headlife.errors import SettingsError
from headlife.records.cells import Problem
from headlife.records.date_columns import read_dates
from headlife.records.dates import DateReadings, date_readings
from headlife.shop import Intake
from headlife.shop.columns import LANGUAGES

TODAY = date(2026, 9, 30)
DAYS = st.dates(date(2020, 1, 1), TODAY)


def days(*texts, stored=False, others=(), **intake):
    columns = {"date_in": list(texts), "date_out": list(others)}
    got = read_dates(columns, Intake(**intake), stored, TODAY)
    return ["?" if isinstance(one, Problem) else str(one)[:10] for one in got.cells["date_in"]]


@pytest.mark.parametrize(
    "text",
    [
        "2025-03-14",
        "2025-3-14",
        "20250314",
        "2025/03/14",
        "2025. 3. 14.",
        "14.03.2025",
        "14/3/2025",
        "03/14/2025",
        "14\u201303\u20132025",
        "14 Mar 2025",
        "14-Mar-25",
        "Mar 14, 2025",
        "March 14th, 2025",
        "Fri, 14 Mar 2025",
        "Fr 14.03.2025",
        "le 14 mars 2025",
        "ven. 14 mars 2025",
        "14. M\u00e4rz 2025",
        "14 de marzo de 2025",
        "14 marca 2025 r.",
        "14 III 2025",
        "2025\u5e743\u670814\u65e5",
        "\u4ee4\u548c7\u5e743\u670814\u65e5",
        "R7.3.14",
        "\uff12\uff10\uff12\uff15\uff0f\uff13\uff0f\uff11\uff14",
        "14.03.2025 08:30",
        "14.03.2025, 8:30 Uhr",
        "14/03/2025 08h30",
        "2025-03-14T08:30:00Z",
    ],
)
def test_a_cell_with_one_reading_needs_no_column(text):
    assert days(text) == ["2025-03-14"]


@pytest.mark.parametrize("width", ["medium", "long", "full"])
@pytest.mark.parametrize("language", LANGUAGES)
@given(day=DAYS)
def test_every_language_reads_back(language, width, day):
    text = format_date(day, width, locale=language)
    stated = (
        None if any(c.isalpha() for c in text) else ("day first", "year first")[language == "ja"]
    )
    assert days(text, date_order=stated) == [day.isoformat()]


@given(day=DAYS)
def test_another_language_can_be_named(day):
    text = format_date(day, "long", locale="cs")
    assert days(text, languages=["cs"]) == [day.isoformat()]


def test_day_or_month_first_is_asked_not_guessed():
    got = read_dates({"date_in": ["03/04/2025", "01/02/2025"]}, Intake(), today=TODAY)
    assert all(isinstance(one, Problem) for one in got.cells["date_in"])
    (question,) = got.questions
    assert '2025-04-03 (date_order = "day first")' in question
    assert '2025-03-04 (date_order = "month first")' in question
    assert "(1 more such cell)" in question
    assert days("03/04/2025", date_order="day first") == ["2025-04-03"]
    assert days("03/04/2025", date_order="month first") == ["2025-03-04"]


def test_the_column_settles_its_cells_and_the_table_too():
    assert days("03/04/2025", "25/04/2025") == ["2025-04-03", "2025-04-25"]
    assert days("03/04/2025", "04/25/2025") == ["2025-03-04", "2025-04-25"]
    assert days("03/04/2025", others=["25/04/2025"]) == ["2025-04-03"]
    got = read_dates({"date_in": ["03/04/2025", "25/04/2025"]}, Intake(), today=TODAY)
    assert got.notes == ("Dates such as '03/04/2025' are read day first, as '25/04/2025' shows.",)
    assert got.proved == ("day first",)


def test_another_mark_is_another_hand():
    # Points never stand between month, day and year; slashes do, and no slash tells the order here.
    assert days("03/04/2025", "25.04.2025", "2025-04-25") == ["?", "2025-04-25", "2025-04-25"]


def test_cells_that_contradict_each_other_settle_nothing():
    texts = ("03/04/2025", "25/04/2025", "04/26/2025", "05/05/2025")
    assert days(*texts) == ["?", "2025-04-25", "2025-04-26", "2025-05-05"]
    got = read_dates({"date_in": list(texts)}, Intake(), today=TODAY)
    assert "each was read in the only way it can be" in got.notes[0]


def test_two_digit_years_are_settled_by_days_that_would_lie_ahead():
    assert days("14.03.25", "28.03.25") == ["2025-03-14", "2025-03-28"]
    assert days("25/03/14", "25/03/28") == ["2025-03-14", "2025-03-28"]
    assert days("14.03.25") == ["?"]  # 2014-03-25 or 2025-03-14
    assert days("14-03-98", "31-03-99") == ["1998-03-14", "1999-03-31"]


def test_a_stated_format_counts_before_the_look_of_a_cell():
    assert days("2025-04-03", date_format="%Y-%d-%m") == ["2025-03-04"]
    assert days("2025-12-25", date_format="%Y-%d-%m") == ["?"]
    assert days("2025-04-03", date_format="%Y-%d-%m", stored=True) == ["?"]
    assert days("2025-04-03", "03.04.2025", date_format="%d.%m.%Y") == ["2025-04-03"] * 2
    assert days("31.02.2025", date_format="%d.%m.%Y") == ["?"]


@pytest.mark.parametrize("text", ["%d.%m.%Y %d", "%d.%m"])
def test_a_format_with_a_part_twice_or_missing_is_refused(text, tmp_path):
    from tests.records.small_shop import SETTINGS

    import headlife as hl

    (tmp_path / "shop.toml").write_text(f'{SETTINGS}\n[intake]\ndate_format = "{text}"')
    with pytest.raises(SettingsError, match="date format"):
        hl.read_shop(tmp_path / "shop.toml")


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("soon", "is not a date"),
        ("45000", "day number of a spreadsheet"),
        ("31/02/2025", "not a date of the calendar"),
        ("2025-25-12", "not a date of the calendar"),
        ("14.03.1225", "outside the years"),
        ("14.03.225", "is not a date"),
        ("14 Mar", "has no year"),
        ("14.3.", "has no year"),
        ("Mar 2025", "no day"),
        ("märz 2025", "no day"),
        ("03/2025", "no day"),
        ("2025-03", "no day"),
        ("Q1 2025", "no day"),
        ("1113.3", "is not a date"),
    ],
)
def test_what_cannot_be_read_is_named(text, sentence):
    (problem,) = read_dates({"date_in": [text]}, Intake(), today=TODAY).cells["date_in"]
    assert sentence in problem.sentence


@given(st.text(max_size=60))
def test_any_text_has_readings_or_a_problem(text):
    reading = date_readings(text)
    assert reading is None or isinstance(reading, DateReadings | Problem)
    if isinstance(reading, DateReadings):
        assert all(isinstance(day, datetime) for _, day in reading.days)


@given(st.text("1./- at", min_size=61, max_size=2_000))
def test_a_long_cell_is_refused_by_its_length(text):
    # What bounds the time one cell can take; `benchmarks` print it.
    if len(" ".join(text.split())) > 60:
        assert isinstance(date_readings(text), Problem)


def test_a_table_of_another_century_is_not_answered_as_of_then(read):
    # One date of 2126 among others was set aside, a whole table of them was accepted.
    rows = [
        {name: cell.replace("2025-", "2125-") for name, cell in row.items()} for row in rows_of()
    ]
    records = read(rows, unknown="set aside")
    assert records.accepted.empty
    assert set(records.set_aside["problem"]) == {
        "lies after today and so does every other date; correct the year, or the clock of this "
        "computer"
    }


@pytest.mark.parametrize(
    "text",
    ["KW 12/2025", "kw12/25", "KW 12 2025", "2025-W12", "2025W12", "2025 KW 12", "W12-2025"]
    + ["Week 12, 2025", "semaine 12 2025", "sem. 12/2025", "semana 12/2025"]
    + ["settimana 12/2025", "tydz. 12/2025", "2025年第12週"],
)
def test_a_calendar_week_is_read_as_its_thursday(text):
    """ISO 8601: a week belongs to the year of its Thursday; python's calendar counts the same."""
    assert days(text) == [str(date.fromisocalendar(2025, 12, 4))]


def test_a_day_of_a_week_is_that_day_and_weeks_that_are_none_are_refused():
    assert days("2025-W12-1", "2024-W53", "KW 0/2025", "2020-W53") == [
        "2025-03-17",
        "?",
        "?",
        "2020-12-31",
    ]
    notes = read_dates({"date_in": ["KW 12/2025", "2025-03-14"]}, Intake(), False, TODAY).notes
    assert notes == (
        "Weeks such as 'KW 12/2025' are read as their Thursday, the day in the middle.",
    )
    assert not read_dates({"date_in": ["2025-W12-1"]}, Intake(), False, TODAY).notes
