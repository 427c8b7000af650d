"""What the validation notebook shows, value by value; `make docs` executes the notebook itself."""

from __future__ import annotations

import pytest
from scipy import stats

from headlife.show.markup import escape
from validation import answers, cases
from validation import tables as validation


@pytest.fixture(scope="module")
def table():
    return validation.published()


def test_every_value_is_in_the_table_and_agrees(table):
    assert table["agrees"].all()
    values = sum(len(cases.load(name).expected) for name in cases.names())
    assert len(table) == values - len(answers.NOT_ANSWERED)
    assert validation.published_summary(table)["values"].sum() == len(table)


def test_every_source_is_on_the_page(table):
    page = str(validation.published_html(table))
    for name in cases.names():
        case = cases.load(name)
        assert escape(case.title) in page
    assert "common practice, no source" in page
    assert ">NO<" not in page


def test_other_libraries_stand_beside_ours():
    fits = validation.library_fits()
    for kind in ("shape", "scale"):
        for library in ("lifelines", "reliability", "SurPyval"):
            both = fits[kind][["headlife", library]].dropna()
            assert len(both) >= 3
            # SurPyval and reliability stop their search early: 3 to 4 digits
            assert both[library].tolist() == pytest.approx(both["headlife"].tolist(), rel=5e-4)


def test_the_band_of_a_simulated_share_holds_it_95_percent_of_the_time():
    low, high = validation.binomial_band(0.95, 800)
    held = stats.binom(800, 0.95).cdf(800 * high) - stats.binom(800, 0.95).cdf(800 * low - 1)
    assert 0.95 <= held < 0.97
