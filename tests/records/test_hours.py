"""Hours in any hand: one cell has its readings, the column settles which one counts.

Marks of thousands and decimals as in the Unicode locale data (CLDR, symbols of numbers) of the nine
languages, Switzerland's apostrophe included; the rest are habits of shops, common practice, no
source.
"""

from __future__ import annotations

import pytest
from babel import Locale
from babel.numbers import format_decimal
from hypothesis import given
from hypothesis import strategies as st

from headlife.records.cells import Problem, as_typed
from headlife.records.hour_columns import read_hours
from headlife.records.hours import HourReadings, hour_readings
from headlife.shop import Intake
from headlife.shop.columns import LANGUAGES

LOCALES = (*LANGUAGES, "de_CH", "en_ZA", "pt_PT", "es_MX")


def values(*texts, decimal=None, stored=False, **others):
    got = read_hours({"hours_out": list(texts), **others}, Intake(decimal=decimal), stored)
    return [one if not isinstance(one, Problem) else "?" for one in got.cells["hours_out"]]


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("1.190,5", 1190.5),
        ("1,190.5", 1190.5),
        ("1'190.5", 1190.5),
        ("1\u2019190,5", 1190.5),
        ("1 190,5", 1190.5),
        ("1\u202f190,5", 1190.5),
        ("1\xa0190", 1190.0),
        ("1190,500", 1190.5),
        ("0,500", 0.5),
        ("1190 h", 1190.0),
        ("1190h", 1190.0),
        ("1.190,5 Std.", 1190.5),
        ("1 190,5 godz.", 1190.5),
        ("1190.5 \u6642\u9593", 1190.5),
        ("1190 [h]", 1190.0),
        ("1190:30", 1190.5),
        ("1190h30", 1190.5),
        ("\uff11\uff11\uff19\uff10\uff0e\uff15", 1190.5),
        ("\u0661\u0662", 12.0),
        ("12.", 12.0),
    ],
)
def test_a_cell_with_one_reading_needs_no_column(text, hours):
    assert values(text) == [hours]


@pytest.mark.parametrize("locale", LOCALES)
@given(tenths=st.integers(0, 99_999))
def test_every_locale_reads_back(locale, tenths):
    text = format_decimal(tenths / 10, format="#,##0.0", locale=locale)
    decimal = Locale.parse(locale).number_symbols["latn"]["decimal"]
    assert values(text, decimal=decimal) == [tenths / 10]
    assert values(text) == [tenths / 10]  # with one decimal there is only one reading


def test_six_thousand_or_six_is_asked_not_guessed():
    got = read_hours({"hours_out": ["6,120", "12", "980"]}, Intake())
    assert isinstance(got.cells["hours_out"][0], Problem)
    (question,) = got.questions
    assert 'decimal = "." in the settings for 6120' in question
    assert 'decimal = "," for 6.12' in question
    assert values("6,120", decimal=".") == [6120.0]
    assert values("6,120", decimal=",") == [6.12]


def test_the_column_settles_its_cells():
    assert values("1.436", "1.436,5") == [1436.0, 1436.5]
    assert values("6,120", "1190.5") == [6120.0, 1190.5]
    assert values("1.436", "1.190.500") == [1436.0, "?"]  # a million hours: no reading of a head
    assert values("1.436", hours_in=["980,5"]) == [1436.0]


def test_a_column_that_contradicts_itself_settles_nothing():
    assert values("1.436", "980,5", "980.5") == ["?", 980.5, 980.5]
    # Its own cells count before those of another column.
    assert values("1.436", "980,5", hours_in=["980.5"]) == [1436.0, 980.5]


def test_two_hands_are_told():
    got = read_hours({"hours_out": ["980,5", "980.5"]}, Intake())
    assert "'980,5'" in got.notes[0]
    assert "'980.5'" in got.notes[0]
    assert read_hours({"hours_out": ["980.5"]}, Intake(decimal=",")).notes


def test_what_was_found_out_is_told():
    (note,) = read_hours({"hours_out": ["1.436", "1.436,5"]}, Intake()).notes
    assert note == ("Hours such as '1.436' are read with a decimal comma, which '1.436,5' proves.")
    assert read_hours({"hours_out": ["1.436,5"]}, Intake()).notes == (
        "Hours are read with a decimal comma, as in '1.436,5'.",
    )
    assert read_hours({"hours_out": ["1436.5", "7"]}, Intake()).notes == ()


def test_numbers_stored_in_a_workbook_prove_nothing_of_typed_ones():
    assert values("1.436", "980.5", stored=True) == ["?", 980.5]
    assert values("1.436", "980.5") == [1.436, 980.5]


@given(st.floats(0, 1e6))
def test_a_stored_number_reads_back_as_itself(hours):
    for decimal in (None, ".", ","):
        assert values(as_typed(hours), decimal=decimal, stored=True) == [hours]


@pytest.mark.parametrize("text", ["", "  ", "-", "\u2014", "--"])
def test_blank_cells(text):
    assert values(text) == [None]


def test_the_shops_own_words_for_blank():
    got = read_hours({"hours_out": ["n/a", "N/A", "?"]}, Intake(blank=["n/a"]))
    assert got.cells["hours_out"][:2] == [None, None]
    assert isinstance(got.cells["hours_out"][2], Problem)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("49 d", "is given in 'd', not in hours"),
        ("twelve", "is not a number"),
        ("1,23,456", "is not a number"),
        ("ca. 1190", "is not a number"),
        ("-3", "is negative"),
        ("1e308", "more than a million"),
    ],
)
def test_what_cannot_be_read_is_named(text, sentence):
    (problem,) = read_hours({"hours_out": [text]}, Intake()).cells["hours_out"]
    assert sentence in problem.sentence


@given(st.text(max_size=60))
def test_any_text_has_readings_or_a_problem(text):
    reading = hour_readings(text)
    assert reading is None or isinstance(reading, HourReadings | Problem)
    if isinstance(reading, HourReadings):
        assert (reading.point, reading.comma) != (None, None)


@given(st.text("1.,' h", min_size=61, max_size=2_000))
def test_a_long_cell_is_refused_by_its_length(text):
    # What bounds the time one cell can take; `benchmarks` print it.
    if len(" ".join(text.split())) > 60:
        assert isinstance(hour_readings(text), Problem)


def test_one_unclear_cell_among_clear_ones_is_set_aside_and_not_asked():
    clear = [f"{hours}.5" for hours in range(1000, 1005)]
    got = read_hours({"hours_out": ["6,120", *clear]}, Intake(), stored=True)
    assert isinstance(got.cells["hours_out"][0], Problem)
    assert got.questions == ()
    # Where every reading past 999 h is unclear, only short lives would be left.
    assert read_hours({"hours_out": ["6,120", "980.5"]}, Intake(), stored=True).questions
